// Package session plans the playing of trial tones from a predicted ladder and
// keeps the plan as a file beside the sound, so that what was recorded can be
// laid beside what was predicted.
package session

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"ocarina/design"
	"ocarina/response"
	"ocarina/tone"
	"ocarina/tone/recording"
	"ocarina/tone/signal"
)

// Session is a series of tones with their drives, as played from one file.
type Session struct {
	Title     string     `json:"title"`
	Wave      string     `json:"wave"` // name of the sound file
	Rate      int        `json:"rate_hz"`
	Bits      int        `json:"bits"`
	Full      float64    `json:"full_scale_v"` // RMS voltage of a full-scale sine; 0: what puts the loudest step at −1 dB
	Hold      float64    `json:"hold_s"`
	StepGap   float64    `json:"step_gap_s"`
	Ramp      float64    `json:"ramp_s,omitempty"` // each tone's level rises evenly from its first drive to its last for so long; 0: steps
	Reference *Reference `json:"reference,omitempty"`
	Tones     []Tone     `json:"tones"`
	Cautions  []string   `json:"cautions"`
}

// Reference is a steady tone ahead of all others, to set the amplifier by. It is
// none of the tones.
type Reference struct {
	Frequency float64 `json:"frequency_hz"`
	Voltage   float64 `json:"voltage_v"` // RMS
	Seconds   float64 `json:"seconds"`
	Level     float64 `json:"level_db"` // expected at the listener; 0: not known
}

// Tone is one tone of a session.
type Tone struct {
	Frequency float64   `json:"frequency_hz"`
	Resonance float64   `json:"resonance_hz"` // the slowest that must settle; 0: the tone's own
	Q         float64   `json:"q"`            // its quality; 0: 5
	Volts     []float64 `json:"voltage_v"`    // of each step, ascending, RMS
	Levels    []float64 `json:"level_db"`     // expected at the listener, harmonics included; 0: not known
}

// Choice is what the maker of a session may choose.
type Choice struct {
	Steps  int     // of each tone; 0: 8
	Span   float64 // dB from the softest step to the loudest; 0: 21
	Beyond float64 // dB by which the loudest step goes past what is safe; 0: none
	Top    float64 // V, never to be passed; 0: no such limit
	// Reference is how long the tone lasts by which the amplifier is set, s; 0:
	// none.
	Reference float64
}

// How fast a ramp may rise, dB/s: a slower one is not told from a steady tone
// that warms, and in a faster one a box does not keep up.
const (
	slowestRamp = 0.4
	fastestRamp = 2.0
)

func (c Choice) filled() (Choice, error) {
	if c.Steps == 0 {
		c.Steps = 8
	}
	if c.Span == 0 {
		c.Span = 21
	}
	if c.Steps < 2 || c.Steps > 100 || !(c.Span > 0) || c.Span > 80 || !(c.Beyond >= 0) || c.Beyond > 20 || !(c.Top >= 0) || math.IsInf(c.Top, 0) {
		return c, fmt.Errorf("found %d steps over %g dB, %g dB beyond what is safe and at most %g V; wanted 2 to 100 steps over 80 dB or less, at most 20 dB beyond, and a voltage", c.Steps, c.Span, c.Beyond, c.Top)
	}
	return c, nil
}

// top is the loudest step of a tone before it is tried, V.
func (c Choice) top(t *tone.Tone) (float64, error) {
	top := math.Inf(1)
	if t.SafeVoltage != nil {
		top = *t.SafeVoltage * math.Pow(10, c.Beyond/20)
	}
	if c.Top > 0 {
		top = math.Min(top, c.Top)
	}
	if math.IsInf(top, 0) {
		return 0, fmt.Errorf("%.4g Hz: found no xmax, rated power or amplifier limit that bounds the drive; wanted one of them in the design, or a highest voltage", t.Frequency)
	}
	return top, nil
}

// toldApart is the part of a frequency by which tones must differ for a recording's
// steps to find their drives: they are matched within 1.5 %.
const toldApart = 0.03

// spare is by how much a drive that proves a little too high is lowered.
const (
	spare = 0.99
	tries = 50
)

// Add plans the tones of a predicted ladder: drives evenly in dB up to what is
// safe, which is tried, not interpolated, with the levels expected and the
// resonance that takes longest to settle. A tone whose drive nothing bounds is an
// error unless a highest voltage is given.
func (s *Session) Add(m *design.Model, l *tone.Ladder, c Choice) error {
	c, err := c.filled()
	if err != nil {
		return err
	}
	if r := c.Span / s.Ramp; s.Ramp != 0 && !(r >= slowestRamp && r <= fastestRamp) {
		return fmt.Errorf("found a ramp of %g dB in %g s; wanted %g to %g dB a second", c.Span, s.Ramp, slowestRamp, fastestRamp)
	}
	bench := response.NewBench(m)
	for i := range l.Tones {
		t := &l.Tones[i]
		for _, other := range s.Tones {
			if math.Abs(other.Frequency/t.Frequency-1) < toldApart {
				return fmt.Errorf("found tones of %.5g and %.5g Hz; wanted them %g %% apart, so that a recording tells which is which", other.Frequency, t.Frequency, 100*toldApart)
			}
		}
		top, err := c.top(t)
		if err != nil {
			return err
		}
		var steps []tone.Step
		for range tries {
			one, err := tone.Predict(m, tone.Options{Tones: []float64{t.Frequency}, Drives: c.drives(top), Seconds: l.Seconds})
			if err != nil {
				return err
			}
			steps = one.Tones[0].Steps
			if len(steps) == c.Steps && (c.Beyond > 0 || steps[c.Steps-1].Safe) {
				break
			}
			steps = nil
			top *= spare
		}
		if steps == nil {
			return fmt.Errorf("%.4g Hz: found no drive that is safe near %.4g V; wanted one: is xmax or the power too small?", t.Frequency, top)
		}
		planned := Tone{Frequency: t.Frequency}
		for k := range steps {
			level := 0.0
			if steps[k].Level != nil {
				level = steps[k].Total()
			}
			planned.Volts, planned.Levels = append(planned.Volts, steps[k].Voltage), append(planned.Levels, level)
		}
		if planned.Resonance, planned.Q, err = slowest(bench, t.Frequency); err != nil {
			return err
		}
		s.Tones = append(s.Tones, planned)
		s.Cautions = append(s.Cautions, bound(t, top))
	}
	if c.Reference > 0 && s.Reference == nil && len(s.Tones) > 0 {
		if err := s.refer(m, c); err != nil {
			return err
		}
	}
	if c.Beyond > 0 {
		s.Cautions = append(s.Cautions, fmt.Sprintf("The loudest steps go %.1f dB past xmax, half the rated power or the amplifier: a driver may be lost.", c.Beyond))
	}
	return nil
}

// aside are the factors by which the reference may lie off the lowest tone, and
// clear is how far it stays from every tone and from a calibrator's 1 kHz.
var aside = []float64{1.41, 1.2, 1.7, 0.8, 1.1, 2.3}

const clear = 0.06

// refer plans the reference: a tone that is none of the session's, half as strong
// as is safe there and no stronger than the loudest step.
func (s *Session) refer(m *design.Model, c Choice) error {
	lowest, loudest := math.Inf(1), 0.0
	for _, t := range s.Tones {
		lowest, loudest = math.Min(lowest, t.Frequency), math.Max(loudest, t.Volts[len(t.Volts)-1])
	}
	apart := func(f float64) bool {
		for _, t := range s.Tones {
			if math.Abs(f/t.Frequency-1) < clear {
				return false
			}
		}
		return math.Abs(f/1000-1) >= clear && f >= design.MinFrequency && f <= design.MaxFrequency
	}
	for _, by := range aside {
		f := math.Round(10*by*lowest) / 10
		if !apart(f) {
			continue
		}
		l, err := tone.Predict(m, tone.Options{Tones: []float64{f}, Steps: 12})
		if err != nil {
			return err
		}
		volts := loudest
		if safe := l.Tones[0].SafeVoltage; safe != nil {
			volts = math.Min(volts, *safe/2)
		}
		if c.Top > 0 {
			volts = math.Min(volts, c.Top)
		}
		if l, err = tone.Predict(m, tone.Options{Tones: []float64{f}, Drives: []float64{volts}, Seconds: c.Reference}); err != nil {
			return err
		}
		s.Reference = &Reference{Frequency: f, Voltage: volts, Seconds: c.Reference}
		if steps := l.Tones[0].Steps; len(steps) > 0 && steps[0].Level != nil && *steps[0].Level > 0 {
			s.Reference.Level = *steps[0].Level
		}
		return nil
	}
	return fmt.Errorf("found no frequency for the reference that is clear of all tones; wanted fewer tones, or no reference")
}

func (c Choice) drives(top float64) []float64 {
	drives := make([]float64, c.Steps)
	for i := range drives {
		drives[i] = top * math.Pow(10, -c.Span/20*float64(c.Steps-1-i)/float64(c.Steps-1))
	}
	return drives
}

// highestQuality is the sharpest resonance that is waited for.
const highestQuality = 40

// slowest returns the resonance near a tone that takes longest to die away.
func slowest(b *response.Bench, f float64) (resonance, q float64, err error) {
	features, err := b.Features(math.Max(f/8, response.DefaultFrom), 4*f)
	if err != nil {
		return 0, 0, err
	}
	resonance, q = f, 5
	for _, one := range features {
		sharp := math.Min(math.Max(one.Q, 1), highestQuality)
		if !one.Coil && sharp/one.Frequency > q/resonance {
			resonance, q = one.Frequency, sharp
		}
	}
	return resonance, q, nil
}

// bound says for the sheet what bounds a tone.
func bound(t *tone.Tone, top float64) string {
	text := fmt.Sprintf("%.4g Hz goes up to %.3g V", t.Frequency, top)
	if t.LimitVoltage != nil {
		text += fmt.Sprintf("; %s first, predicted at %.3g V", tone.LimitWords(t.FirstLimit), *t.LimitVoltage)
	}
	if t.SafeVoltage != nil {
		text += fmt.Sprintf("; safe up to %.3g V", *t.SafeVoltage)
	}
	return text + "."
}

// Plan turns a session into what is laid out as sound.
func (s *Session) Plan() signal.Plan {
	p := signal.Plan{Rate: s.Rate, Bits: s.Bits, FullScale: s.Full, Hold: s.Hold, StepGap: s.StepGap, Title: s.Title, Notes: s.Cautions}
	if r := s.Reference; r != nil {
		p.Reference = &signal.Reference{Frequency: r.Frequency, Volts: r.Voltage, Seconds: r.Seconds, Level: r.Level}
	}
	for _, t := range s.Tones {
		one := signal.Tone{Frequency: t.Frequency, Resonance: t.Resonance, Q: t.Q, Glide: s.Ramp}
		for i, v := range t.Volts {
			step := signal.Step{Volts: v}
			if i < len(t.Levels) {
				step.Level = t.Levels[i]
			}
			one.Steps = append(one.Steps, step)
		}
		if n := len(one.Steps); s.Ramp > 0 && n > 2 {
			one.Steps = []signal.Step{one.Steps[0], one.Steps[n-1]}
		}
		p.Tones = append(p.Tones, one)
	}
	return p
}

// Known are the options by which a recording of the session is read.
func (s *Session) Known() (o recording.Options) {
	for _, t := range s.Tones {
		d := recording.Drive{Frequency: t.Frequency, Ramp: s.Ramp, Fade: signal.Fade}
		for _, v := range t.Volts {
			d.Levels = append(d.Levels, 20*math.Log10(v))
		}
		o.Tones = append(o.Tones, t.Frequency)
		o.Drives = append(o.Drives, d)
	}
	return o
}

// Bytes returns the session as a file.
func (s *Session) Bytes() ([]byte, error) {
	raw, err := json.MarshalIndent(s, "", " ")
	return append(raw, '\n'), err
}

// fault says where a file is no plan.
func fault(err error) string {
	var kind *json.UnmarshalTypeError
	var syntax *json.SyntaxError
	switch {
	case errors.As(err, &kind) && kind.Field != "":
		return fmt.Sprintf(" (%s is %s at byte %d)", kind.Field, kind.Value, kind.Offset)
	case errors.As(err, &kind):
		return fmt.Sprintf(" (%s at byte %d)", kind.Value, kind.Offset)
	case errors.As(err, &syntax):
		return fmt.Sprintf(" (no JSON from byte %d on)", syntax.Offset)
	}
	return ""
}

// limits of what is read from a file.
const (
	mostTones = 100
	mostSteps = 1000

	longestRamp = 600.0 // s
)

// Read reads a session from a file's bytes and checks it.
func Read(raw []byte) (*Session, error) {
	var s Session
	if err := json.Unmarshal(raw, &s); err != nil {
		return nil, fmt.Errorf("found what is no plan of a session%s; wanted the .json that `ocarina tones make` wrote", fault(err))
	}
	if len(s.Tones) == 0 || len(s.Tones) > mostTones {
		return nil, fmt.Errorf("found %d tones; wanted 1 to %d", len(s.Tones), mostTones)
	}
	if !(s.Ramp >= 0) || s.Ramp > longestRamp {
		return nil, fmt.Errorf("found a ramp of %g s; wanted none, or at most %g s", s.Ramp, longestRamp)
	}
	for i, t := range s.Tones {
		if s.Ramp > 0 && len(t.Volts) < 2 {
			return nil, fmt.Errorf("tone %d: found one drive for a ramp; wanted two or more", i+1)
		}
		if !(t.Frequency > 0) || len(t.Volts) == 0 || len(t.Volts) > mostSteps {
			return nil, fmt.Errorf("tone %d: found %g Hz and %d drives; wanted a frequency above zero and 1 to %d drives", i+1, t.Frequency, len(t.Volts), mostSteps)
		}
		for k, v := range t.Volts {
			if !(v > 0) || v > 1e4 {
				return nil, fmt.Errorf("tone %d, step %d: found %g V; wanted more than zero", i+1, k+1, v)
			}
		}
		if len(t.Levels) != 0 && len(t.Levels) != len(t.Volts) {
			return nil, fmt.Errorf("tone %d: found %d levels and %d drives; wanted as many, or no levels", i+1, len(t.Levels), len(t.Volts))
		}
	}
	return &s, nil
}
