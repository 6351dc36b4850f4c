// Package beside lays a predicted ladder and a recorded one side by side.
package beside

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"ocarina/design"
	"ocarina/tone"
	"ocarina/tone/recording"
)

// Pair is one number both ways. Error is the recorded one's standard error, in
// the same unit; 0 where it is not known.
type Pair struct {
	Predicted float64  `json:"predicted"`
	Recorded  *float64 `json:"recorded"` // null where the recording does not tell
	Error     float64  `json:"error"`
}

// Step is one drive of a tone.
type Step struct {
	Voltage     float64 `json:"voltage_v"`
	Level       Pair    `json:"level_db"`       // of the fundamental; recorded null if the recording is not calibrated
	Compression Pair    `json:"compression_db"` // of the fundamental, from the softest step both were found at
	THD         Pair    `json:"thd_f"`          // ratio to the fundamental
	Harmonics   []Pair  `json:"harmonics_db"`   // 2 to 10, re the fundamental
	Asymmetry   Pair    `json:"asymmetry"`
	// Told is how far the recording's noise lets harmonics be told, dB re the
	// fundamental: what is below it is floor.
	Told float64 `json:"floor_db"`
}

// Tone is one tone both ways.
type Tone struct {
	Frequency float64 `json:"frequency_hz"`
	Steps     []Step  `json:"steps"`
	// Offset is the mean by which recorded levels lie above predicted ones, dB;
	// null if the recording is not calibrated. Placement and room are in it.
	Offset *float64 `json:"offset_db"`
	// Deformed is the drive at which the recorded waveform first deforms, V; null
	// if it does not.
	Deformed   *float64 `json:"deformed_v"`
	Definition string   `json:"deformed_means"`
	Reading    string   `json:"reading"`
}

// Comparison is a whole recording beside its prediction.
type Comparison struct {
	Tones    []Tone    `json:"tones"`
	Missing  []float64 `json:"missing_hz"` // recorded tones whose drives are not known
	Cautions []string  `json:"cautions"`
	Warnings []string  `json:"warnings"`
	// Ladder is the prediction at the recorded drives.
	Ladder *tone.Ladder `json:"-"`
}

// Compare predicts a design at the drives of a recording and lays both side by
// side. The recording must know its drives in dB re 1 V (recording.Options).
func Compare(m *design.Model, r *recording.Report, o tone.Options) (*Comparison, error) {
	c := &Comparison{Missing: []float64{}, Cautions: []string{}, Warnings: append([]string{}, r.Warnings...)}
	for i := range r.Tones {
		rec := &r.Tones[i]
		f := rec.Frequency
		if rec.Nominal > 0 {
			f = rec.Nominal
		}
		at := drives(rec)
		if len(at) == 0 {
			c.Missing = append(c.Missing, f)
			continue
		}
		one := o
		one.Tones, one.Drives = []float64{f}, nil
		for _, d := range at {
			one.Drives = append(one.Drives, d.volts)
		}
		l, err := tone.Predict(m, one)
		if err != nil {
			return nil, err
		}
		c.add(l, rec, at, r.Calibration != nil)
	}
	if c.Ladder != nil {
		c.Cautions = c.Ladder.Cautions
	}
	if len(c.Tones) == 0 {
		return nil, fmt.Errorf("found no recorded tone whose drives are known; wanted the plan of the session, or a channel that holds the drive")
	}
	return c, nil
}

// driven is a recorded step by its drive.
type driven struct {
	volts float64
	step  *recording.Step
}

// drives lists steps of known drive, ascending, one for each.
func drives(rec *recording.Ladder) (list []driven) {
	for i := range rec.Steps {
		if s := &rec.Steps[i]; s.Drive != nil {
			list = append(list, driven{math.Pow(10, *s.Drive/20), s})
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].volts < list[j].volts })
	kept := list[:0]
	for _, d := range list {
		if len(kept) == 0 || d.volts > kept[len(kept)-1].volts*(1+1e-6) {
			kept = append(kept, d)
		}
	}
	return kept
}

func (c *Comparison) add(l *tone.Ladder, rec *recording.Ladder, at []driven, calibrated bool) {
	p := &l.Tones[0]
	if c.Ladder == nil {
		c.Ladder = l
		c.Warnings = append(c.Warnings, l.Warnings...)
	} else {
		c.Ladder.Add(l)
	}
	t := Tone{Frequency: p.Frequency, Steps: []Step{}, Definition: rec.Definition}
	sum, base := 0.0, math.NaN()
	for i, s := range p.Steps {
		r := at[i].step
		if s.Level == nil || len(r.Harmonics) == 0 {
			continue
		}
		first := r.Harmonics[0]
		step := Step{Voltage: s.Voltage, Level: Pair{Predicted: *s.Level}, THD: Pair{Predicted: s.THD, Recorded: &r.OfFundamental, Error: r.Error},
			Asymmetry: Pair{Predicted: s.Asymmetry, Recorded: &r.Asymmetry, Error: r.AsymmetryError}, Told: -200}
		if calibrated {
			level := first.Level
			step.Level.Recorded, step.Level.Error = &level, decibels(first.Error, first.RMS)
			sum += level - *s.Level
		}
		// Gain against the softest step tells compression without calibration.
		gain := first.Level - 20*math.Log10(s.Voltage)
		if math.IsNaN(base) {
			base = gain + s.Compression
		}
		lag := base - gain
		step.Compression = Pair{Predicted: s.Compression, Recorded: &lag, Error: decibels(first.Error, first.RMS)}
		for k := 1; k < len(s.Harmonics); k++ {
			pair := Pair{Predicted: -200}
			if s.Harmonics[k] != nil {
				pair.Predicted = *s.Harmonics[k] - *s.Level
			}
			if k < len(r.Harmonics) {
				h := r.Harmonics[k]
				relative := h.Relative
				pair.Recorded, pair.Error = &relative, decibels(h.Error, h.RMS)
				if first.RMS > 0 && h.Error > 0 {
					step.Told = math.Max(step.Told, 20*math.Log10(h.Error/first.RMS))
				}
			}
			step.Harmonics = append(step.Harmonics, pair)
		}
		t.Steps = append(t.Steps, step)
	}
	if calibrated && len(t.Steps) > 0 {
		mean := sum / float64(len(t.Steps))
		t.Offset = &mean
	}
	if rec.Deformed != nil && rec.Deformed.Drive != nil {
		v := math.Pow(10, *rec.Deformed.Drive/20)
		t.Deformed = &v
	}
	t.Reading = t.read(p)
	c.Tones = append(c.Tones, t)
}

// decibels turns a standard error of an amplitude into dB.
func decibels(e, amplitude float64) float64 {
	if !(amplitude > 0) {
		return 200
	}
	return math.Min(20/math.Ln10*e/amplitude, 200)
}

// Differences that are worth words: levels and compression in dB, harmonics in
// dB where both stand clear of the floor.
const (
	levelApart    = 1.0
	harmonicApart = 3.0
	clear         = 6.0 // dB above the floor
	none          = -60 // dB re the fundamental: what is as good as no harmonic
)

// read says how well the two agree.
func (t *Tone) read(p *tone.Tone) string {
	if len(t.Steps) == 0 {
		return fmt.Sprintf("%.4g Hz: nothing to compare.", t.Frequency)
	}
	last := t.Steps[len(t.Steps)-1]
	var parts []string
	if t.Offset != nil {
		switch {
		case math.Abs(*t.Offset) < levelApart:
			parts = append(parts, fmt.Sprintf("the level is as predicted within %.1f dB", math.Max(math.Abs(*t.Offset), 0.1)))
		default:
			parts = append(parts, fmt.Sprintf("the level lies %.1f dB %s what was predicted: place, room, calibration or the design differ", math.Abs(*t.Offset), direction(*t.Offset)))
		}
	}
	if d := *last.Compression.Recorded - last.Compression.Predicted; math.Abs(d) >= levelApart {
		parts = append(parts, fmt.Sprintf("at %.3g V it is compressed by %.1f dB, not %.1f", last.Voltage, *last.Compression.Recorded, last.Compression.Predicted))
	}
	for k, pair := range last.Harmonics {
		if k > 1 || pair.Recorded == nil || math.Max(*pair.Recorded, pair.Predicted) < last.Told+clear {
			continue
		}
		if pair.Predicted < none && *pair.Recorded > none {
			parts = append(parts, fmt.Sprintf("harmonic %d stands at %.0f dB where hardly any was predicted (the driver is more lopsided than drawn)", k+2, *pair.Recorded))
			continue
		}
		if d := *pair.Recorded - pair.Predicted; math.Abs(d) >= harmonicApart {
			cause := "a motor or suspension more lopsided than drawn, or less"
			if k == 1 {
				cause = "an xmax other than drawn, or another air loss"
			}
			parts = append(parts, fmt.Sprintf("harmonic %d is %.0f dB %s prediction (%s)", k+2, math.Abs(d), direction(d), cause))
		}
	}
	if len(parts) == 0 {
		parts = append(parts, "both agree")
	}
	if t.Deformed != nil {
		parts = append(parts, fmt.Sprintf("the recorded waveform first deforms at %.3g V", *t.Deformed))
		if p.CleanVoltage != nil && !p.CleanAll {
			parts[len(parts)-1] += fmt.Sprintf(", the predicted one stops being clean at %.3g V", *p.CleanVoltage)
		}
	}
	return fmt.Sprintf("%.4g Hz: %s.", t.Frequency, strings.Join(parts, "; "))
}

func direction(d float64) string {
	if d > 0 {
		return "above"
	}
	return "below"
}
