package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"

	"ocarina/wav"
)

// A Calibration holds how channel 2 of a recorder differs from channel 1, as
// found with a known resistor for a load. It holds for one setting of the
// recorder.
type Calibration struct {
	Frequency []float64    // Hz, ascending
	Gain      []complex128 // channel 2 over channel 1
	GainDB    float64      // the middle of |Gain|, dB
	Skew      float64      // by how much channel 2 is late, s
	Warnings  []string
}

// Calibrate compares the channels of a recording made with a resistor of known
// ohm in place of the load, behind the resistor opt.Series.
func Calibrate(rec *wav.Recording, name string, known float64, opt Options) (*Calibration, error) {
	if !(opt.Series > 0) || !(known > 0) || !finite(opt.Series) || !finite(known) {
		return nil, whole(name, fmt.Sprintf("a series resistor of %g ohm and a known one of %g ohm", opt.Series, known), "both above zero")
	}
	c := &Calibration{}
	perOctave := opt.PerOctave
	if perOctave == 0 {
		perOctave = 12 // what two inputs differ by changes slowly
	}
	es, err := transfer(rec, name, opt, perOctave, &c.Warnings)
	if err != nil {
		return nil, err
	}
	expected := complex(known/(known+opt.Series), 0)
	weak := faint(es)
	var db []float64
	for i, e := range es {
		if !(e.se <= 0.02*cmplx.Abs(e.h)) || weak[i] || e.h == 0 {
			continue
		}
		g := e.h / expected
		c.Frequency = append(c.Frequency, e.f)
		c.Gain = append(c.Gain, g)
		db = append(db, 20*math.Log10(cmplx.Abs(g)))
	}
	if len(db) < 2 {
		return nil, whole(name, "the voltage at the known resistor does not follow the source's", "channel 1 at the source, channel 2 at the resistor")
	}
	sort.Float64s(db)
	c.GainDB = db[len(db)/2]

	// The skew is the slope of the phase, unwrapped, over frequency.
	var sf, sp, sff, sfp, ph float64
	for i, g := range c.Gain {
		if i == 0 {
			ph = cmplx.Phase(g)
		} else {
			ph += cmplx.Phase(g / c.Gain[i-1])
		}
		f := c.Frequency[i]
		sf, sp, sff, sfp = sf+f, sp+ph, sff+f*f, sfp+f*ph
	}
	n := float64(len(c.Gain))
	c.Skew = -(n*sfp - sf*sp) / (n*sff - sf*sf) / (2 * math.Pi)
	if math.Abs(c.GainDB) > 3 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("the channels differ by %.1f dB: are the resistors really %g ohm in series and %g ohm for the load?", c.GainDB, opt.Series, known))
	}
	return c, nil
}

// CalibrateFile is Calibrate on a file.
func CalibrateFile(path string, known float64, opt Options) (*Calibration, error) {
	rec, err := wav.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return Calibrate(rec, path, known, opt)
}

// at is the gain at f: between calibrated frequencies along magnitude and
// phase, beyond them the nearest one with the skew carried on.
func (c *Calibration) at(f float64) complex128 {
	i := sort.SearchFloat64s(c.Frequency, f)
	beyond := func(i int) complex128 {
		return c.Gain[i] * cmplx.Rect(1, -2*math.Pi*(f-c.Frequency[i])*c.Skew)
	}
	switch {
	case i == 0:
		return beyond(0)
	case i == len(c.Frequency):
		return beyond(i - 1)
	}
	a, b := c.Gain[i-1], c.Gain[i]
	w := (f - c.Frequency[i-1]) / (c.Frequency[i] - c.Frequency[i-1])
	step := cmplx.Log(b / a)
	return a * cmplx.Exp(step*complex(w, 0))
}
