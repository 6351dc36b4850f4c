package recording

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ocarina/tone/decimate"
	"ocarina/tone/distortion"
	"ocarina/wav"
)

// rung is a part with everything that was read off it, in full scale.
type rung struct {
	*part
	harmonics []Harmonic
	phasors   []complex128
	broad     broad
	between   float64 // mean square
	above     float64 // mean square
	drive     *float64
}

// assemble makes the report of the fitted groups.
func (r *reader) assemble(groups []*group, rec *wav.Recording) error {
	ladders := make([][]*rung, len(groups))
	index := map[*part]*rung{}
	for i, g := range groups {
		slices.SortStableFunc(g.parts, func(a, b *part) int { return cmp.Compare(a.from, b.from) })
		for _, p := range g.parts {
			index[p] = &rung{part: p}
			ladders[i] = append(ladders[i], index[p])
		}
	}
	step := math.Exp2(-float64(rec.Bits - 1))
	if rec.Float {
		step = math.Exp2(-24)
	}
	if err := each(groups, func(p *part) error { index[p].read(r, step); return nil }); err != nil {
		return err
	}
	if err := r.drives(groups, ladders, rec); err != nil {
		return err
	}
	u := r.calibrate(&groups, &ladders)
	if r.mains != nil {
		m := &Mains{Frequency: r.mains.base}
		for i, rms := range r.mains.lines {
			if rms > 0 {
				m.Lines = append(m.Lines, Line{float64(i) * r.mains.base, u.value(rms), u.level(rms)})
			}
		}
		r.report.Mains = m
	}
	r.report.Rest = r.restReport(u)
	for i, g := range groups {
		l := Ladder{Frequency: g.frequency, FrequencyError: g.uncertain, Definition: r.options.Deformed.words()}
		for _, t := range r.options.Tones {
			if near(g.frequency, t) {
				l.Nominal = t
			}
		}
		for _, s := range ladders[i] {
			l.Steps = append(l.Steps, s.step(u))
			l.Ramp = l.Ramp || s.ramp
		}
		r.rattle(ladders[i], l.Steps)
		compress(l.Steps)
		l.Deformed = r.options.Deformed.first(l.Steps)
		r.notes(&l)
		r.report.Tones = append(r.report.Tones, l)
	}
	return nil
}

// read reads a part over the whole band.
func (s *rung) read(r *reader, step float64) {
	s.harmonics, s.phasors = s.part.read()
	s.broad = r.broadband(s.part, step)
	top := (harmonics + 0.5) * s.frequency
	nyquist := s.level.Rate / 2
	s.between = s.noise.without(s.apart(r)).power(s.frequency/2, min(top, nyquist))
	if top < nyquist {
		// What the level still holds above the harmonics, and what it lost.
		s.above = s.noise.whole(top, nyquist) + max(0, s.broad.left-meanSquare(s.residual))
	}
}

// apart leaves the harmonics and the mains out, so widely that a slow change of
// either does not count as sound between harmonics.
func (s *rung) apart(r *reader) []notch {
	var out []notch
	for f := s.frequency; f < s.level.Rate/2; f += s.frequency {
		out = append(out, notch{f, max(3*s.noise.wide, 0.12*s.frequency)})
	}
	if r.mains != nil {
		for m := 1; m <= mainsLines; m++ {
			out = append(out, notch{float64(m) * r.mains.base, max(3*s.noise.wide, 1)})
		}
	}
	return out
}

// step turns a rung into what is reported.
func (s *rung) step(u unit) Step {
	fundamental := s.harmonics[0].RMS
	f, r := distortion.OfFundamental(s.phasors), distortion.OfTotal(s.phasors)
	out := Step{
		Start:     float64(s.first) / s.level.Rate,
		Seconds:   s.seconds(),
		Periods:   s.periods(),
		Method:    "synchronous",
		Level:     u.level(math.Sqrt(s.broad.all)),
		A:         u.level(math.Sqrt(s.broad.a)),
		C:         u.level(math.Sqrt(s.broad.c)),
		PeakC:     u.level(s.broad.peakC),
		Crest:     s.broad.crest,
		Clipped:   s.broad.clipped,
		Between:   u.value(math.Sqrt(s.between)),
		Above:     u.value(math.Sqrt(s.above)),
		Drift:     8.685889638 * real(s.fit.Drift) * s.level.Rate,
		Drive:     s.drive,
		Asymmetry: distortion.Asymmetry(s.phasors),

		OfFundamental: f,
		OfTotal:       r,
	}
	if s.model != nil && s.window != 0 {
		out.Method = "windowed"
	}
	var weighted, errors, floors, distorted float64
	for i, h := range s.harmonics {
		if i > 0 {
			weighted += h.RMS * h.RMS * h.Error * h.Error
			errors += h.Error * h.Error
			floors += h.Floor * h.Floor
			distorted += h.RMS * h.RMS
		}
	}
	if distorted > 0 {
		// The fundamental is not sure either, above all with a mains line on it.
		out.Error = math.Hypot(math.Sqrt(weighted/distorted), f*s.harmonics[0].Error) / fundamental
	}
	out.Floor = math.Sqrt(floors) / fundamental
	noise := s.broad.left + distorted
	for i := range s.hum {
		a := s.fit.Phasor[s.number+i]
		noise += real(a)*real(a) + imag(a)*imag(a)
	}
	out.NoiseOver = math.Sqrt(noise) / fundamental
	out.Noise = math.Sqrt(noise / (noise + fundamental*fundamental))

	top, bottom := distortion.Peaks(s.phasors)
	out.Top, out.Bottom = u.value(top), u.value(bottom)
	// Each peak may be off by √2 times the RMS phasor error of all harmonics.
	if top > bottom {
		out.AsymmetryError = 2 * math.Sqrt(errors) / (top - bottom)
	}
	out.Offset = u.value(s.fit.Mean)
	out.OffsetError = u.value(math.Sqrt(s.noise.nearZero(s.frequency/2) * s.level.Rate / 2 * s.model.MeanVariance()))

	for i, h := range s.harmonics {
		h.Level, h.FloorDB = u.level(h.RMS), u.level(h.Floor)
		h.Relative = decibel(h.RMS / fundamental)
		h.RMS, h.Error, h.Floor = u.value(h.RMS), u.value(h.Error), u.value(h.Floor)
		out.Harmonics = append(out.Harmonics, h)
		out.Phasors = append(out.Phasors, complex(u.value(real(s.phasors[i])), u.value(imag(s.phasors[i]))))
	}
	return out
}

// Rattles: how far the sound between or above the harmonics must stand over
// what the pauses or the quietest step have there, in power, the crest that no
// noise has, and what is too little to be a rattle: −100 dB re the fundamental,
// its peak −80 dB. Below that a recording without noise shows its rounding.
const (
	rattleClear = 4
	rattleCrest = 9
	rattleLeast = 1e-5
	rattlePeak  = 1e-4
)

// rattle marks the steps that rattle.
func (r *reader) rattle(rungs []*rung, steps []Step) {
	for i, s := range rungs {
		top := (harmonics + 0.5) * s.frequency
		between, above := s.between, s.above
		for _, other := range rungs {
			between, above = min(between, other.between), min(above, other.above)
		}
		if power, ok := r.rest.between(s.frequency/2, top, s.apart(r)); ok {
			between = min(between, power)
		}
		heard := math.Pow(rattleLeast*s.harmonics[0].RMS, 2)
		peak := s.broad.crest * math.Sqrt(s.broad.left) / s.harmonics[0].RMS
		steps[i].Rattle = s.between > max(heard, rattleClear*between) || s.above > max(heard, rattleClear*above) ||
			s.broad.crest > rattleCrest && peak > rattlePeak
	}
}

// drives finds the drive of each rung, from the drive channel or as given.
func (r *reader) drives(groups []*group, ladders [][]*rung, rec *wav.Recording) error {
	if c := r.options.DriveChannel; c > 0 {
		levels := decimate.Halve(rec.Channels[c-1], r.rate, 700)
		return r.driveChannel(levels, ladders)
	}
	for i, g := range groups {
		for _, d := range r.options.Drives {
			if !near(g.frequency, d.Frequency) {
				continue
			}
			if slices.ContainsFunc(ladders[i], func(s *rung) bool { return s.ramp }) {
				r.rampDrives(g, ladders[i], d)
				break
			}
			if d.Ramp > 0 {
				r.warn("%.4g Hz: no ramp was found where one was planned, so its drives are not known", g.frequency)
				break
			}
			have, given := len(ladders[i]), len(d.Levels)
			if have > given {
				r.warn("%.4g Hz: %d steps were found and %d drives given, so there is no compression to tell", g.frequency, have, given)
				break
			}
			if have < given {
				r.warn("%.4g Hz: %d steps were found and %d drives given; the last %d are taken for them", g.frequency, have, given, have)
			}
			for k, s := range ladders[i] {
				s.drive = &d.Levels[given-have+k]
			}
		}
	}
	return nil
}

// rampDrives gives the windows of a ramp their drives by the time they sounded:
// the tone's end, where its envelope has fallen to half, is the ramp's end and
// half a fade. A box that rings puts that end off by 0.7 of its time constant and
// lags behind the ramp by all of it; at a decibel a second both are small.
func (r *reader) rampDrives(g *group, rungs []*rung, d Drive) {
	if d.Ramp == 0 || len(d.Levels) < 2 {
		r.warn("%.4g Hz: a ramp has no steps to give drives to; record the drive in a channel", g.frequency)
		return
	}
	width := max(6/g.frequency, 0.08)
	from := rungs[len(rungs)-1].from
	e := follow(slowest(r.levels, 8*g.frequency), g.frequency, 0, width, from, min(len(r.x), rungs[len(rungs)-1].to+int((1+6*width)*r.rate)))
	top := 0
	for i, l := range e.level {
		if l > e.level[top] {
			top = i
		}
	}
	end := math.NaN()
	for i := top + 1; i < len(e.level); i++ {
		half := amplitude(e.level[top]) / 2
		if a, b := amplitude(e.level[i-1]), amplitude(e.level[i]); b < half {
			end = e.time(i-1) + e.hop*(a-half)/(a-b) - d.Fade/2
			break
		}
	}
	if math.IsNaN(end) {
		r.warn("%.4g Hz: the recording stops before the ramp does, so its drives are not known", g.frequency)
		return
	}
	first, last := d.Levels[0], d.Levels[len(d.Levels)-1]
	for _, s := range rungs {
		// Before it rises the tone stands at its first level.
		const looks = 32
		level := 0.0
		for i := range looks {
			at := (float64(s.from) + float64(s.to-s.from)*(float64(i)+0.5)/looks) / r.rate
			level += (last - (last-first)/d.Ramp*min(max(end-at, 0), d.Ramp)) / looks
		}
		s.drive = &level
	}
}

func (r *reader) driveChannel(levels []decimate.Level, ladders [][]*rung) error {
	for _, rungs := range ladders {
		for _, s := range rungs {
			p, err := newPart(levels, s.stretch)
			if err != nil {
				return fmt.Errorf("recording: drive channel: %w", err)
			}
			p.frequency = s.frequency
			if err := p.solve(); err != nil {
				return fmt.Errorf("recording: drive channel: %w", err)
			}
			if !p.stands() {
				r.warn("drive channel: no %.4g Hz from %.1f s on", s.frequency, float64(s.from)/r.rate)
				continue
			}
			db := decibel(root2 * p.fundamental())
			if v := r.options.DriveFullScale; v > 0 {
				db = decibel(p.fundamental() * v)
			}
			s.drive = &db
		}
	}
	return nil
}

// notes adds the warnings that a ladder calls for.
func (r *reader) notes(l *Ladder) {
	var clipped, short int
	masked := false
	for _, s := range l.Steps {
		if s.Clipped > 0 {
			clipped++
		}
		if len(s.Harmonics) < harmonics {
			short = len(s.Harmonics)
		}
		for _, h := range s.Harmonics {
			masked = masked || h.Hum
		}
	}
	if clipped > 0 {
		r.warn("%.4g Hz: the recorder clipped in %d of %d steps; their harmonics are the recorder's", l.Frequency, clipped, len(l.Steps))
	}
	if short > 0 {
		r.warn("%.4g Hz: the sample rate leaves room for %d harmonics", l.Frequency, short)
	}
	if masked {
		r.warn("%.4g Hz: mains lines fall on harmonics and are in their standard errors", l.Frequency)
	}
	if r.mains == nil && r.rest == nil && hidesMains(l.Frequency, l.Steps[0].Seconds) {
		r.warn("%.4g Hz: the mains falls on its harmonics, and the recording has no pause: hum could not be told from them", l.Frequency)
	}
}

// hidesMains says whether the first lines of a mains all fall on harmonics of f,
// as far as a stretch of the given length can tell.
func hidesMains(f, seconds float64) bool {
	for _, base := range []float64{50, 60} {
		hidden := 0
		for m := 1.0; m <= 3; m++ {
			if h := math.Round(m * base / f); h >= 1 && math.Abs(m*base-h*f) < 2/seconds {
				hidden++
			}
		}
		if hidden == 3 {
			return true
		}
	}
	return false
}
