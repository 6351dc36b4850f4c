// Package signal makes ladders of tones: sine waves that step or glide through
// levels, as samples for a WAV file and as a sheet that says what to set.
//
// The drives come from the caller, in volts at the loudspeaker's terminals;
// whoever predicts the ladder knows which are safe. This package sees to the
// rest: every step is long enough for the box to settle and then holds a whole
// number of periods, the phase runs on through the steps of a tone, and every
// change of level is a fade.
package signal

import (
	"errors"
	"fmt"
	"math"
)

// A Plan says what is to be played.
type Plan struct {
	Rate  int  // samples a second
	Bits  int  // 16, 24 or 32; with Float 32 or 64
	Float bool // IEEE float

	Channels int // alike; 0 means 1
	Tones    []Tone

	// Top is the level of the loudest step in dB re a full-scale sine, below 0;
	// 0 means −1. It goes with FullScale 0.
	Top float64
	// FullScale is the RMS voltage that a full-scale sine gives at the terminals;
	// 0 means that which puts the loudest step at Top.
	FullScale float64

	Reference *Reference // a tone to set the amplifier by, ahead of all others; nil for none

	Hold    float64 // s that a step holds once settled; 0 means 1.5
	Fade    float64 // s of every change of level; 0 means 0.03
	Lead    float64 // s of pause first; 0 means 1
	Gap     float64 // s of pause between tones and last; 0 means 1.5
	StepGap float64 // s of pause between the steps of a tone, in which a coil cools; 0 for none

	Title string   // for the sheet
	Notes []string // for the sheet: limits of coil, amplifier and travel, as the caller knows them
}

// A Tone is one frequency with its steps.
type Tone struct {
	Frequency float64 // Hz
	Steps     []Step

	// Resonance and Q are of the slowest resonance that must settle, in Hz; 0
	// takes the tone's own frequency and a Q of 5.
	Resonance, Q float64

	// Glide, in s, plays one tone whose level in dB rises or falls evenly from
	// the first step to the last; 0 plays steps.
	Glide float64
}

// A Step is one drive.
type Step struct {
	Volts float64 // RMS at the terminals
	// Level is the sound level in dB, unweighted, that is expected where people
	// are; 0 if it is not known.
	Level float64
}

// A Reference is a steady tone by which the amplifier is set.
type Reference struct {
	Frequency float64 // Hz
	Volts     float64 // RMS at the terminals
	Seconds   float64 // 0 means 20
	Level     float64 // expected where people are, dB, as a Step's
}

// Fade is how long a change of level takes unless a plan says otherwise, s.
const Fade = 0.03

// settled is how far a step's ring must have died away, as a ratio: −60 dB.
const settled = 1e-3

// longest recording that is made, s.
const longest = 2 * 3600

// calibrator is the frequency of a microphone's calibrator, Hz. A reference tone
// of that frequency would be taken for one.
const calibrator = 1000.0

func (p Plan) orDefault() Plan {
	set := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	if p.Channels == 0 {
		p.Channels = 1
	}
	set(&p.Top, -1)
	set(&p.Hold, 1.5)
	set(&p.Fade, Fade)
	set(&p.Lead, 1)
	set(&p.Gap, 1.5)
	if p.Reference != nil {
		r := *p.Reference
		set(&r.Seconds, 20)
		p.Reference = &r
	}
	if p.FullScale == 0 {
		p.FullScale = p.loudest() / math.Pow(10, p.Top/20)
	}
	return p
}

// loudest drive of the plan, V.
func (p Plan) loudest() float64 {
	var v float64
	for _, t := range p.Tones {
		for _, s := range t.Steps {
			v = max(v, s.Volts)
		}
	}
	if p.Reference != nil {
		v = max(v, p.Reference.Volts)
	}
	return v
}

// check returns all that is wrong with a plan that has its defaults.
func (p Plan) check() error {
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	number := func(what string, v, lo, hi float64) {
		if !(v >= lo && v <= hi) {
			bad("%s: found %g, want %g to %g", what, v, lo, hi)
		}
	}
	number("sample rate in Hz", float64(p.Rate), 8000, 384000)
	known := map[bool][]int{false: {16, 24, 32}, true: {32, 64}}[p.Float]
	if !contains(known, p.Bits) {
		bad("bits of a sample: found %d, want one of %v", p.Bits, known)
	}
	number("channels", float64(p.Channels), 1, 8)
	number("level of the loudest step in dB re full scale", p.Top, -60, -0.1)
	if !(p.FullScale > 0 && p.FullScale < 1e6) {
		bad("full scale: found %g V, want a voltage above 0", p.FullScale)
	}
	number("hold in s", p.Hold, 0.1, 600)
	number("fade in s", p.Fade, 0.001, 2)
	number("pause first in s", p.Lead, 0, 600)
	number("pause between tones in s", p.Gap, 0, 600)
	number("pause between steps in s", p.StepGap, 0, 600)
	if len(p.Tones) == 0 {
		bad("tones: found none, want one at least")
	}
	frequency := func(what string, f float64) {
		number(what+": frequency in Hz", f, 5, 0.45*float64(p.Rate))
	}
	volts := func(what string, v float64) {
		switch {
		case !(v > 0 && v < 1e4):
			bad("%s: found %g V, want more than 0", what, v)
		case p.level(v) > -0.1+1e-9:
			bad("%s: %.4g V is %.2f dB re full scale, want −0.1 at most: full scale stands for %.4g V", what, v, p.level(v), p.FullScale)
		case p.level(v) < -120:
			bad("%s: %.4g V is %.0f dB re full scale, want −120 at least", what, v, p.level(v))
		}
	}
	for i, t := range p.Tones {
		name := fmt.Sprintf("tone %d", i+1)
		frequency(name, t.Frequency)
		number(name+": resonance in Hz", t.Resonance, 0, 1e4)
		number(name+": Q", t.Q, 0, 1000)
		number(name+": glide in s", t.Glide, 0, longest)
		least := 1
		if t.Glide > 0 {
			least = 2
		}
		if len(t.Steps) < least {
			bad("%s: found %d steps, want %d at least", name, len(t.Steps), least)
		}
		for k, s := range t.Steps {
			volts(fmt.Sprintf("%s, step %d", name, k+1), s.Volts)
			number(fmt.Sprintf("%s, step %d: level in dB", name, k+1), s.Level, -200, 200)
		}
	}
	if r := p.Reference; r != nil {
		frequency("reference", r.Frequency)
		volts("reference", r.Volts)
		number("reference: time in s", r.Seconds, 1, 600)
		number("reference: level in dB", r.Level, 0, 200)
		if math.Abs(r.Frequency/calibrator-1) < 0.03 {
			bad("reference: found %g Hz, want another frequency than 1 kHz: a recording of it would be taken for a microphone's calibrator", r.Frequency)
		}
	}
	return errors.Join(errs...)
}

func contains(list []int, v int) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}

// level of a voltage, dB re a full-scale sine.
func (p Plan) level(volts float64) float64 { return 20 * math.Log10(volts/p.FullScale) }

// settling is how long a tone's ring takes to die away: the amplitude of a
// resonance falls as e^{−π·f·t/Q}. At least two periods.
func (t Tone) settling() float64 {
	f, q := t.Resonance, t.Q
	if f == 0 {
		f = t.Frequency
	}
	if q == 0 {
		q = 5
	}
	return max(q/(math.Pi*f)*math.Log(1/settled), 2/t.Frequency)
}
