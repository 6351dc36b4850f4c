// Package recording reads recordings of stepped or ramped tones: it finds tones
// and steps by itself and says of each step how loud the fundamental and its
// harmonics are, how surely, and what else sounds.
//
// # Quantities
//
// Amplitudes are RMS, in pascals if the recording is calibrated and in units of
// full scale if not; levels are in dB re 20 µPa or, uncalibrated, in dB re a
// full-scale sine. Times are seconds from the start of the recording and
// frequencies hertz, both by the recorder's clock.
//
// # Method
//
// Every step is fitted once by least squares (package sinefit): a mean, the
// harmonics 1 to 10, a drift of the fundamental and those mains lines that can
// be seen. From twelve periods on the fit is weighted by a Hann window
// ("windowed"), below it is not ("synchronous"). The frequency is part of the
// fit and shared by all steps of a tone, so neither a sample-rate error nor a
// frequency between bins matters.
//
// The residual's spectrum around each harmonic gives its noise floor: the RMS
// noise in the analysis band of that fit, which for a line that stands alone is
// √(S/T), with a Hann window √(1.5·S/T) (S the noise density, T the length).
// The standard error is the RMS length of the error of the harmonic's phasor:
// the floor, raised by two standard errors of the floor's own estimate, and with
// the mains line in it where one falls on the harmonic and cannot be told apart.
// It is an upper bound of the standard error of the amplitude, whose two
// extremes are 0.71 times that (strong harmonic) and all of it (no harmonic).
package recording

import (
	"fmt"

	"ocarina/sound"
)

// Options say what is known beforehand. The zero value finds all of it out.
type Options struct {
	// Channel to read, counted from 1; 0 takes the one with the most energy.
	Channel int

	// Tones, in Hz, that were played, within 1.5 %; none means any.
	Tones []float64

	// Sensitivity is what one pascal gives, in units of full scale; 0 means not
	// known. It goes before a calibrator tone.
	Sensitivity float64

	// Calibrator is the level in dB of a calibrator tone of 1 kHz in the
	// recording; 0 means 94, or 94 and 114 where two tones 20 dB apart are found.
	Calibrator float64
	// NoCalibrator takes a tone of 1 kHz for one of the tones.
	NoCalibrator bool

	// Drives are the drives of the steps of each tone in the order of playing.
	Drives []Drive
	// DriveChannel, counted from 1, holds the drive itself; 0 for none.
	DriveChannel int
	// DriveFullScale is the voltage of full scale in that channel; 0 means not
	// known, and drives are then in dB re full scale.
	DriveFullScale float64

	// Mains is the mains frequency, 50 or 60; 0 looks for either.
	Mains float64

	// Deformed says when a waveform counts as deformed.
	Deformed Limits
}

// A Drive is the drive of a tone's steps.
type Drive struct {
	Frequency float64   // Hz, within 1.5 %
	Levels    []float64 // dB re anything, e.g. re 1 V
	// Ramp, in s, is how long the level went evenly from the first of Levels to the
	// last; 0 for steps. Fade, in s, is how long the tone then took to end.
	Ramp, Fade float64
}

// Limits define a deformed waveform. A zero field takes the default.
type Limits struct {
	Distortion  float64 // THD of the fundamental; 0.03
	Compression float64 // dB; 1
	Asymmetry   float64 // (top − bottom)/(top + bottom); 0.05
}

func (l Limits) orDefault() Limits {
	set := func(v *float64, d float64) {
		if *v <= 0 {
			*v = d
		}
	}
	set(&l.Distortion, 0.03)
	set(&l.Compression, 1)
	set(&l.Asymmetry, 0.05)
	return l
}

// check refuses options that are no numbers, or below zero where nothing is.
func (o Options) check() error {
	number := func(what string, least float64, values ...float64) error {
		for _, v := range values {
			if !(v >= least && v < absurd) {
				return &Error{fmt.Sprintf("%g as %s", v, what), "a number that makes sense"}
			}
		}
		return nil
	}
	errs := []error{
		number("tone in Hz", 0, o.Tones...),
		number("sensitivity", 0, o.Sensitivity),
		number("level of the calibrator in dB", 0, o.Calibrator),
		number("voltage of full scale", 0, o.DriveFullScale),
		number("mains frequency in Hz", 0, o.Mains),
		number("limit of deformation", 0, o.Deformed.Distortion, o.Deformed.Compression, o.Deformed.Asymmetry),
	}
	for _, d := range o.Drives {
		errs = append(errs, number("tone of a drive in Hz", 0, d.Frequency), number("time of a ramp in s", 0, d.Ramp, d.Fade), number("drive in dB", -1000, d.Levels...))
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// A Report is what a recording holds. Its JSON holds all that is needed to lay it
// beside a prediction later.
type Report struct {
	Channel     int          `json:"channel"` // read, counted from 1
	Rate        int          `json:"rate_hz"` // Hz
	Seconds     float64      `json:"seconds"` // length of the recording
	Calibration *Calibration `json:"calibration"`
	Mains       *Mains       `json:"mains"` // hum, if it was seen
	Rest        *Rest        `json:"rest"`  // what is heard between the tones, if there is a pause
	Tones       []Ladder     `json:"tones"`
	Clipped     int          `json:"clipped_samples"` // samples of the channel on the flat top of a clipped wave
	Warnings    []string     `json:"warnings"`
}

// A Calibration turns full scale into pascals.
type Calibration struct {
	Sensitivity float64 `json:"full_scales_per_pa"` // full scales for a pascal
	Level       float64 `json:"level_db"`           // of the calibrator, dB; 0 if the sensitivity was given
	Start       float64 `json:"start_s"`            // of the calibrator tone, s
	Seconds     float64 `json:"seconds"`
	Frequency   float64 `json:"frequency_hz"` // Hz
	Error       float64 `json:"error_db"`     // standard error of the calibration, dB
}

// Mains is hum from the mains.
type Mains struct {
	Frequency float64 `json:"frequency_hz"` // of the first line, Hz
	Lines     []Line  `json:"lines"`
}

// A Line is one tone.
type Line struct {
	Frequency float64 `json:"frequency_hz"` // Hz
	RMS       float64 `json:"rms"`
	Level     float64 `json:"level_db"` // dB
}

// Rest is what is heard in the pauses.
type Rest struct {
	Seconds float64 `json:"seconds"`
	Offset  float64 `json:"offset"`        // mean
	Noise   float64 `json:"noise_rms"`     // RMS of everything but the mean
	Level   float64 `json:"noise_db"`      // of the noise, dB
	LevelA  float64 `json:"a_weighted_db"` // dB
}

// A Ladder is one tone with its steps in the order of playing.
type Ladder struct {
	Frequency      float64      `json:"frequency_hz"`       // Hz, by the recorder's clock
	FrequencyError float64      `json:"frequency_error_hz"` // standard error, Hz
	Nominal        float64      `json:"nominal_hz"`         // the tone of Options it was taken for; 0 for none
	Ramp           bool         `json:"ramp"`               // the level was ramped: steps are windows of the ramp
	Steps          []Step       `json:"steps"`
	Deformed       *Deformation `json:"deformed"`       // nil if no step is deformed
	Definition     string       `json:"deformed_means"` // what "deformed" means, in words
}

// A Step is one level of one tone.
type Step struct {
	Start   float64 `json:"start_s"` // of the part that was fitted
	Seconds float64 `json:"seconds"`
	Method  string  `json:"method"`  // "windowed" or "synchronous"
	Periods float64 `json:"periods"` // of the fundamental in the part

	Harmonics []Harmonic `json:"harmonics"` // the fundamental first; fewer than ten only if the sample rate ends before
	// Phasors of the harmonics (RMS) with the fundamental's phase at zero, as
	// package distortion takes them.
	Phasors []complex128 `json:"-"`

	Level float64 `json:"total_level_db"` // of everything, unweighted, dB
	A     float64 `json:"a_weighted_db"`  // weighted levels of everything, dB
	C     float64 `json:"c_weighted_db"`
	PeakC float64 `json:"peak_c_weighted_db"` // highest momentary value, C-weighted, dB

	OfFundamental float64 `json:"thd_f"`     // THD_F, ratio
	OfTotal       float64 `json:"thd_r"`     // THD_R, ratio
	Error         float64 `json:"thd_error"` // standard error of both
	Floor         float64 `json:"thd_floor"` // THD_F that the noise floor alone would read
	Noise         float64 `json:"thd_n"`     // THD+N, ratio to the total: all but the fundamental, over the whole band
	NoiseOver     float64 `json:"thd_n_f"`   // the same in ratio to the fundamental

	Top            float64 `json:"top"` // peaks of the periodic waveform, from its mean: + and −
	Bottom         float64 `json:"bottom"`
	Asymmetry      float64 `json:"asymmetry"`       // (top − |bottom|)/(top + |bottom|)
	AsymmetryError float64 `json:"asymmetry_error"` // standard error
	Offset         float64 `json:"offset"`          // mean
	OffsetError    float64 `json:"offset_error"`

	Drift       float64  `json:"drift_db_per_s"` // of the fundamental, dB/s
	Drive       *float64 `json:"drive_db"`       // dB, as given or as read from the drive channel
	Compression *float64 `json:"compression_db"` // dB that the fundamental lags behind the drive, re the lowest steps

	Between float64 `json:"between_rms"`     // RMS between the harmonics, ½ to 10½ times the fundamental, mains left out
	Above   float64 `json:"above_rms"`       // RMS above 10½ times the fundamental
	Crest   float64 `json:"crest"`           // peak to RMS of all that is not harmonic 1 to 10 nor mains
	Rattle  bool    `json:"rattle"`          // between or above grew with the drive where noise would not
	Clipped int     `json:"clipped_samples"` // samples on the flat top of a clipped wave
}

// A Harmonic is one line of a step.
type Harmonic struct {
	Number    int     `json:"number"`
	Frequency float64 `json:"frequency_hz"` // Hz
	RMS       float64 `json:"rms"`
	Level     float64 `json:"level_db"`    // dB
	Relative  float64 `json:"relative_db"` // dB re the fundamental
	Phase     float64 `json:"phase_rad"`   // rad, with the fundamental's phase at zero
	Error     float64 `json:"error_rms"`   // standard error, RMS
	Floor     float64 `json:"floor_rms"`   // noise in the analysis band, RMS
	FloorDB   float64 `json:"floor_db"`    // the same, dB
	Hum       bool    `json:"hum"`         // a mains line falls on it and is in the standard error
}

// A Deformation is where a waveform first deforms.
type Deformation struct {
	Step int `json:"step"` // index of the first deformed step
	// Level of the fundamental where the limit is crossed, dB, interpolated
	// between this step and the next softer one; the step's own if there is none.
	Level  float64  `json:"level_db"`
	Drive  *float64 `json:"drive_db"` // dB, likewise
	Causes []string `json:"causes"`   // which limits that step is beyond, in words
}

// unit turns full scale into what is reported.
type unit struct{ sensitivity float64 }

// value of an RMS amplitude.
func (u unit) value(fullScale float64) float64 {
	if u.sensitivity > 0 {
		return fullScale / u.sensitivity
	}
	return fullScale
}

// level of an RMS amplitude in full scale.
func (u unit) level(fullScale float64) float64 {
	if u.sensitivity > 0 {
		return sound.Level(fullScale / u.sensitivity)
	}
	return decibel(fullScale * root2)
}
