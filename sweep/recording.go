package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"

	"ocarina/wav"
)

const (
	usualPerOctave = 48
	mostPerOctave  = 1000
	longest        = 1 << 25 // samples: 11 minutes at 48 kHz
	shortest       = 1 << 10

	// keptError is the largest relative standard error of |Z| of a point that
	// is kept.
	keptError = 0.05

	// keptBeside is the least energy of the source per octave relative to the
	// greatest within a third of an octave: beside a tone there is but the
	// skirt of its swelling and fading, in which distortion would be taken for
	// signal. keptOverall is the same relative to the greatest of all: far
	// outside the signal what both channels share is hum.
	keptBeside  = 1e-4
	keptOverall = 1e-8
)

// FromRecording turns a two-channel recording into an impedance: channel 1 the
// voltage at the source, channel 2 the voltage at the load behind the resistor
// opt.Series,
//
//	Z = R·V2/(V1 − V2).
//
// Any signal will do that reaches the frequencies of interest: a stepped tone,
// a sweep, noise. It should begin and end at rest; a recording cut from a
// longer signal is less certain at its ends. Frequencies the recording does
// not support within 5 % are left out and counted.
//
// Coherence is the part of the load's voltage or current, whichever is
// explained less, that follows the source; Error is the standard error of |Z|
// from what does not.
func FromRecording(rec *wav.Recording, name string, opt Options) (*Sweep, error) {
	if !(opt.Series > 0) || !finite(opt.Series) {
		return nil, whole(name, "a recording, and no series resistor is given", "the resistance between the two places measured, in ohm")
	}
	s := &Sweep{Name: name}
	perOctave := opt.PerOctave
	if perOctave == 0 {
		perOctave = usualPerOctave
	}
	es, err := transfer(rec, name, opt, perOctave, &s.Warnings)
	if err != nil {
		return nil, err
	}
	if opt.Calibration != nil {
		for i := range es {
			g := opt.Calibration.at(es[i].f)
			es[i].h /= g
			es[i].se /= cmplx.Abs(g)
		}
	}

	type kept struct {
		f, coh, rel, width float64
		z                  complex128
	}
	var ks []kept
	weak := faint(es)
	for i, e := range es {
		one := 1 - e.h
		z := complex(opt.Series, 0) * e.h / one
		rel := e.se / math.Sqrt2 / (cmplx.Abs(e.h) * cmplx.Abs(one))
		if m := cmplx.Abs(z); !(m >= minMagnitude && m <= maxMagnitude) || !(rel <= keptError) || weak[i] {
			s.Skipped++
			continue
		}
		k := kept{e.f, e.coh, rel, e.width, z}
		// A tone on the border of two bands shows in both: one point.
		if n := len(ks) - 1; n >= 0 && k.f-ks[n].f < 0.2*k.width {
			p := &ks[n]
			wp, wk := 1/(p.rel*p.rel+1e-20), 1/(k.rel*k.rel+1e-20)
			w := wp + wk
			p.f = (p.f*wp + k.f*wk) / w
			p.z = (p.z*complex(wp, 0) + k.z*complex(wk, 0)) / complex(w, 0)
			p.coh = (p.coh*wp + k.coh*wk) / w
			p.rel = 1 / math.Sqrt(w)
			continue
		}
		ks = append(ks, k)
	}
	if len(ks) < 2 {
		return nil, whole(name, "the load's voltage does not follow the source's at any frequency",
			"channel 1 at the source, channel 2 at the load, recorded together")
	}
	negative, widest, at := 0, 0.0, 0.0
	for _, k := range ks {
		s.Frequency = append(s.Frequency, k.f)
		s.Magnitude = append(s.Magnitude, cmplx.Abs(k.z))
		s.Phase = append(s.Phase, cmplx.Phase(k.z))
		s.Coherence = append(s.Coherence, k.coh)
		s.Error = append(s.Error, k.rel)
		if real(k.z) < -3*k.rel*cmplx.Abs(k.z) {
			negative++
		}
		if r := math.Abs(math.Log(cmplx.Abs(k.z) / opt.Series)); r > math.Abs(math.Log(math.Max(widest, 1e-300))) || widest == 0 {
			widest, at = cmplx.Abs(k.z)/opt.Series, k.f
		}
	}
	if negative > 0 {
		s.warn("the resistance is negative at %d of %d points: the channels differ in gain or are exchanged; calibrate with a known resistor", negative, len(ks))
	} else if opt.Calibration == nil && (widest > 10 || widest < 0.1) {
		f := math.Max(widest, 1/widest)
		s.warn("|Z| is %.3g times the series resistor at %.3g Hz, so 1 %% of difference between the channels is %.2g %% there: calibrate with a known resistor", widest, at, f)
	}
	s.doubt(false)
	return s, nil
}

// transfer estimates load over source voltage, after looking the recording
// over.
func transfer(rec *wav.Recording, name string, opt Options, perOctave int, warnings *[]string) ([]estimate, error) {
	warn := func(format string, args ...any) { *warnings = append(*warnings, fmt.Sprintf(format, args...)) }
	switch n := len(rec.Channels); {
	case n < 2:
		return nil, whole(name, "one channel", "two: the voltage at the source and the voltage at the load")
	case n > 2:
		warn("%d channels: the first two are read", n)
	}
	x1, x2 := rec.Channels[0], rec.Channels[1]
	if n := len(x1); n < shortest {
		return nil, whole(name, fmt.Sprintf("a recording of %d samples (%.3g s)", n, rec.Duration()), fmt.Sprintf("%d samples or more, better some seconds", shortest))
	} else if n > longest {
		return nil, whole(name, fmt.Sprintf("a recording of %d samples (%.0f s) is too long", n, rec.Duration()), fmt.Sprintf("at most %d samples: cut it", longest))
	}
	if perOctave < 1 || perOctave > mostPerOctave {
		return nil, whole(name, fmt.Sprintf("%d points per octave asked for", perOctave), fmt.Sprintf("1 to %d", mostPerOctave))
	}
	if opt.From < 0 || opt.To < 0 || opt.To > 0 && opt.To <= opt.From || !finite(opt.From) || !finite(opt.To) {
		return nil, whole(name, fmt.Sprintf("a range from %g to %g Hz asked for", opt.From, opt.To), "a lower and a higher frequency")
	}
	for c, x := range rec.Channels[:2] {
		if flat(x) {
			return nil, whole(name, fmt.Sprintf("channel %d is silent", c+1), "channel 1 at the source, channel 2 at the load")
		}
		if n := rec.Clipped[c]; n > 0 {
			warn("channel %d is clipped: %s at full scale; record at a lower level", c+1, count(n, "sample"))
		}
	}
	if same(x1, x2) {
		return nil, whole(name, "both channels hold the same signal", "channel 1 at the source, channel 2 at the load behind the series resistor")
	}

	from := opt.From
	to := opt.To
	if top := 0.45 * float64(rec.Rate); to == 0 || to > top {
		to = top
	}
	s := transform(x1, x2, rec.Rate)
	es := s.estimates(from, to, perOctave)
	if h := median(es); h > 1.2 {
		// A passive load divides the voltage. Seen the wrong way round it
		// multiplies, by far more than two inputs differ.
		warn("channel 2 is %.3g times as strong as channel 1: the channels are taken as exchanged", h)
		s.v1, s.v2 = s.v2, s.v1
		es = s.estimates(from, to, perOctave)
	}
	if !s.rest {
		warn("the recording does not begin and end in silence: its ends add uncertainty; record the whole signal with a second of silence about it")
	}
	return es, nil
}

// faint marks the estimates where the source is too weak beside its
// neighbours.
func faint(es []estimate) []bool {
	weak := make([]bool, len(es))
	const third = 1.26
	overall := 0.0
	for _, e := range es {
		overall = math.Max(overall, e.energy)
	}
	lo, hi := 0, 0
	for i, e := range es {
		for es[lo].f*third < e.f {
			lo++
		}
		for hi < len(es) && es[hi].f <= e.f*third {
			hi++
		}
		top := 0.0
		for _, n := range es[lo:hi] {
			top = math.Max(top, n.energy)
		}
		weak[i] = e.energy < math.Max(keptBeside*top, keptOverall*overall)
	}
	return weak
}

// median is the median of |h| over the estimates that are worth something.
func median(es []estimate) float64 {
	var m []float64
	for _, e := range es {
		if a := cmplx.Abs(e.h); e.coh > 0.9 && e.se < 0.1*a {
			m = append(m, a)
		}
	}
	if len(m) == 0 {
		return 0
	}
	sort.Float64s(m)
	return m[len(m)/2]
}

func flat(x []float64) bool {
	for _, v := range x {
		if v != x[0] {
			return false
		}
	}
	return true
}

func same(a, b []float64) bool {
	for i, v := range a {
		if b[i] != v {
			return false
		}
	}
	return true
}
