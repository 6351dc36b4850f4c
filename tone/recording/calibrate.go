package recording

import (
	"math"
	"slices"

	"ocarina/sound"
	"ocarina/tone/distortion"
)

// A calibrator is a tone of 1 kHz at 94 or 114 dB (1 Pa or 10 Pa; IEC 60942).
const (
	calibratorTone = 1000.0 // Hz
	calibratorOff  = 0.02   // how far its frequency and two clocks may be off
	lowCalibrator  = 94.0   // dB
	highCalibrator = 114.0  // dB
	steadyWithin   = 0.5    // dB between its stretches
	pureEnough     = 0.05   // its distortion
)

// mayCalibrate says whether a tone of f Hz may come from a calibrator.
func (r *reader) mayCalibrate(f float64) bool {
	return !r.options.NoCalibrator &&
		math.Abs(f/calibratorTone-1) < calibratorOff &&
		!slices.ContainsFunc(r.options.Tones, func(t float64) bool { return near(f, t) })
}

// calibrate finds what a pascal is and takes the calibrator's tone out of the
// groups. A sensitivity that was given goes before a calibrator.
func (r *reader) calibrate(groups *[]*group, ladders *[][]*rung) unit {
	c := r.calibrator(groups, ladders)
	if s := r.options.Sensitivity; s > 0 {
		if c != nil {
			if d := decibel(c.Sensitivity / s); math.Abs(d) > 0.5 {
				r.warn("the sensitivity given and the calibrator tone differ by %.1f dB; the one given was taken", d)
			}
		}
		c = &Calibration{Sensitivity: s}
	}
	r.report.Calibration = c
	if c == nil {
		r.warn("no calibrator tone and no sensitivity: levels are in dB re a full-scale sine")
		return unit{}
	}
	return unit{c.Sensitivity}
}

func (r *reader) calibrator(groups *[]*group, ladders *[][]*rung) *Calibration {
	at := slices.IndexFunc(*groups, func(g *group) bool { return r.mayCalibrate(g.frequency) })
	if at < 0 {
		return nil
	}
	if len(*groups) == 1 && r.options.Calibrator == 0 {
		r.warn("the only tone is one of 1 kHz: taken for a tone, not for a calibrator, as no calibrator level was given")
		return nil
	}
	rungs := (*ladders)[at]
	var loud, soft []*rung
	loudest := slices.MaxFunc(rungs, func(a, b *rung) int { return compareRMS(a, b) }).harmonics[0].RMS
	for _, s := range rungs {
		below := decibel(loudest / s.harmonics[0].RMS)
		switch {
		case s.ramp || distortion.OfFundamental(s.phasors) > pureEnough:
			return nil
		case below < steadyWithin:
			loud = append(loud, s)
		case math.Abs(below-(highCalibrator-lowCalibrator)) < steadyWithin:
			soft = append(soft, s)
		default:
			return nil
		}
	}
	level := r.options.Calibrator
	switch {
	case len(soft) > 0 && level == 0:
		level = highCalibrator
	case level == 0:
		level = lowCalibrator
		if r.options.Sensitivity > 0 {
			break
		}
		r.warn("the calibrator's level was not given: its tone was taken for %.0f dB", level)
	case len(soft) > 0 && level == lowCalibrator:
		loud = soft
	}
	// The longest stretch is the steadiest.
	best := slices.MaxFunc(loud, func(a, b *rung) int { return len(a.x) - len(b.x) })
	h := best.harmonics[0]
	*groups = slices.Delete(*groups, at, at+1)
	*ladders = slices.Delete(*ladders, at, at+1)
	return &Calibration{
		Sensitivity: h.RMS / sound.Pressure(level),
		Level:       level,
		Start:       float64(best.first) / best.level.Rate,
		Seconds:     best.seconds(),
		Frequency:   best.frequency,
		Error:       8.685889638 * h.Error / h.RMS,
	}
}

func compareRMS(a, b *rung) int {
	switch d := a.harmonics[0].RMS - b.harmonics[0].RMS; {
	case d > 0:
		return 1
	case d < 0:
		return -1
	}
	return 0
}
