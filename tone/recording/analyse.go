package recording

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ocarina/tone/decimate"
	"ocarina/wav"
)

// An Error says why a recording cannot be read.
type Error struct {
	Found  string
	Wanted string
}

func (e *Error) Error() string { return "recording: found " + e.Found + "; want " + e.Wanted }

const (
	shortestRecording = 0.6  // s
	silence           = 1e-9 // RMS, full scale
)

// reader is one analysis under way.
type reader struct {
	options  Options
	rate     float64
	x        []float64
	levels   []decimate.Level
	frames   frames
	report   *Report
	mains    *hum
	rest     *pause
	warnings []string
}

func (r *reader) warn(format string, args ...any) {
	if w := fmt.Sprintf(format, args...); !slices.Contains(r.warnings, w) {
		r.warnings = append(r.warnings, w)
	}
}

// Analyse finds the tones of a recording and reads their steps. Silence, a
// recording too short, one without tones, one that holds something else than
// numbers, a channel it does not have and options that say nothing are an *Error.
func Analyse(rec *wav.Recording, options Options) (*Report, error) {
	if err := options.check(); err != nil {
		return nil, err
	}
	options.Deformed = options.Deformed.orDefault()
	channel, err := choose(rec, options)
	if err != nil {
		return nil, err
	}
	r := &reader{options: options, rate: float64(rec.Rate), x: rec.Channels[channel.index]}
	r.report = &Report{Channel: channel.index + 1, Rate: rec.Rate, Seconds: float64(len(r.x)) / r.rate, Tones: []Ladder{}}
	if channel.index < len(rec.Clipped) {
		r.report.Clipped = rec.Clipped[channel.index]
	}
	if channel.warning != "" {
		r.warn("%s", channel.warning)
	}
	r.levels = decimate.Halve(r.x, r.rate, 700)
	r.frames = search(slowest(r.levels, searchRate))
	takes, err := r.takes()
	if err != nil {
		return nil, err
	}
	groups, err := r.fit(takes)
	if err != nil {
		return nil, err
	}
	if err := r.assemble(groups, rec); err != nil {
		return nil, err
	}
	r.report.Warnings = append([]string{}, r.warnings...)
	return r.report, nil
}

func slowest(levels []decimate.Level, rate float64) *decimate.Level {
	best := &levels[0]
	for i := range levels {
		if levels[i].Rate >= rate {
			best = &levels[i]
		}
	}
	return best
}

type chosen struct {
	index   int
	warning string
}

// choose takes the channel asked for, or the loudest, and checks it.
func choose(rec *wav.Recording, o Options) (chosen, error) {
	n := len(rec.Channels)
	if n == 0 || rec.Rate <= 0 {
		return chosen{}, &Error{"no channel", "a recording"}
	}
	for _, c := range []int{o.Channel, o.DriveChannel} {
		if c < 0 || c > n {
			wanted := "channel 1, as there is only one"
			if n > 1 {
				wanted = fmt.Sprintf("one from 1 to %d", n)
			}
			return chosen{}, &Error{fmt.Sprintf("channel %d asked for", c), wanted}
		}
	}
	if o.Channel > 0 && o.Channel == o.DriveChannel {
		return chosen{}, &Error{fmt.Sprintf("channel %d as sound and as drive", o.Channel), "two channels"}
	}
	energy := make([]float64, n)
	for i, x := range rec.Channels {
		if float64(len(x)) < shortestRecording*float64(rec.Rate) {
			return chosen{}, &Error{fmt.Sprintf("%.2g s", float64(len(x))/float64(rec.Rate)), fmt.Sprintf("at least %g s", shortestRecording)}
		}
		e, bad := alternating(x)
		if bad >= 0 {
			return chosen{}, &Error{fmt.Sprintf("%g as sample %d of channel %d", x[bad], bad, i+1), "numbers of the order of 1"}
		}
		energy[i] = e
	}
	c := chosen{index: o.Channel - 1}
	if o.Channel == 0 {
		for i, e := range energy {
			if i != o.DriveChannel-1 && (c.index < 0 || e > energy[c.index]) {
				c.index = i
			}
		}
		if c.index < 0 {
			return chosen{}, &Error{"one channel, and that is the drive", "a second one with the sound"}
		}
		if n > 1 && o.DriveChannel == 0 {
			c.warning = fmt.Sprintf("of %d channels the loudest was read, channel %d", n, c.index+1)
		}
	}
	if energy[c.index] < silence*silence {
		return chosen{}, &Error{fmt.Sprintf("silence in channel %d", c.index+1), "tones"}
	}
	return c, nil
}

// absurd is more than any sample is, full scale being 1.
const absurd = 1e20

// alternating is the mean square of x about its mean, and the first sample that
// is no number a sample can be, or −1.
func alternating(x []float64) (power float64, bad int) {
	var sum, square float64
	for _, v := range x {
		sum += v
	}
	mean := sum / float64(len(x))
	for _, v := range x {
		square += (v - mean) * (v - mean)
	}
	if !(square < absurd*absurd) {
		for i, v := range x {
			if !(math.Abs(v) < absurd) {
				return 0, i
			}
		}
	}
	// Rounding of the mean is no sound.
	return max(0, square/float64(len(x))-1e-20*mean*mean), -1
}

// takes finds the tones, without hum.
func (r *reader) takes() ([]take, error) {
	runs := r.frames.runs()
	var tones []take
	for _, run := range runs {
		if r.isHum(run, runs) || !r.asked(run.frequency) {
			continue
		}
		tones = append(tones, run)
	}
	if len(tones) == 0 {
		wanted := "a steady tone of 0.6 s or more between 8 Hz and " + fmt.Sprintf("%.0f Hz", r.frames.level.Pass)
		if len(runs) > 0 && len(r.options.Tones) > 0 {
			return nil, &Error{fmt.Sprintf("a tone of %.4g Hz but none of those asked for", runs[0].frequency), fmt.Sprintf("%.4g Hz within 1.5 %%", r.options.Tones)}
		}
		return nil, &Error{"no tone", wanted}
	}
	return r.frames.join(tones, len(r.x)), nil
}

// near says whether f is within 1.5 % of the nominal frequency.
func near(f, nominal float64) bool { return math.Abs(f-nominal) <= 0.015*nominal }

// asked says whether f is one of the tones asked for, or may be a calibrator.
func (r *reader) asked(f float64) bool {
	if len(r.options.Tones) == 0 || r.mayCalibrate(f) {
		return true
	}
	return slices.ContainsFunc(r.options.Tones, func(t float64) bool { return near(f, t) })
}

// isHum says whether a run is hum: at a multiple of the mains and as strong where
// another tone sounds, or none, as where it is the strongest itself.
func (r *reader) isHum(run take, runs []take) bool {
	if slices.ContainsFunc(r.options.Tones, func(t float64) bool { return near(run.frequency, t) }) {
		return false
	}
	if !nearMains(run.frequency, 2/(0.35*r.frames.bin)) {
		return false
	}
	e := follow(slowest(r.levels, 4*run.frequency), run.frequency, 0, 0.5, 0, len(r.x))
	var inside, outside []float64
	for i, l := range e.level {
		at := int(e.time(i) * r.rate)
		switch own := slices.ContainsFunc(runs, func(o take) bool {
			return r.frames.same(o.frequency, run.frequency) && at >= o.from && at < o.to
		}); {
		case own && at >= run.from && at < run.to:
			inside = append(inside, l)
		case !own:
			outside = append(outside, l)
		}
	}
	if len(inside) == 0 || len(outside) < 4 {
		return false
	}
	slices.Sort(inside)
	slices.Sort(outside)
	return outside[len(outside)/2] > inside[len(inside)/2]-3
}

// A tone is what a take holds.
type tone struct {
	take  take
	parts []*part
}

// fit cuts the takes into steps and fits them, first without and then with the
// mains.
func (r *reader) fit(takes []take) ([]*group, error) {
	tones := r.cut(takes)
	r.findRest(tones)
	r.findHum(tones)
	if r.mains != nil {
		// Now it is known how much of an envelope's wavering is hum.
		tones = dropParts(r.cutAgain(tones, takes), r.mains.owns)
		r.findRest(tones)
		r.findHum(tones)
	}
	if len(tones) == 0 {
		return nil, &Error{"tones too short or too weak to be read", "steps of 0.6 s and five periods or more that stand clear of noise and hum"}
	}
	if err := each(r.share(tones), r.tune); err != nil {
		return nil, err
	}
	groups := r.share(tones)
	return groups, each(groups, (*part).solve)
}

// tune puts the mains into the fit of a part and tunes it.
func (r *reader) tune(p *part) error {
	if r.mains == nil {
		return p.tune()
	}
	r.mains.apply(p)
	if err := p.tune(); err == nil {
		return nil
	}
	// Too close after all: every line beside a harmonic covers it.
	for _, h := range p.hum {
		if k := int(math.Round(h.frequency / p.frequency)); k >= 1 && k <= p.number {
			h.harmonic, h.rms, h.sure = k, r.mains.expect(h.number), true
			h.apart = math.Abs(h.frequency - float64(k)*p.frequency)
			p.covered = append(p.covered, h)
		}
	}
	p.hum = nil
	return p.tune()
}

// dropParts takes parts out of tones, and tones without parts out of the list.
func dropParts(tones []*tone, drop func(*part) bool) []*tone {
	for _, t := range tones {
		t.parts = slices.DeleteFunc(t.parts, drop)
	}
	return slices.DeleteFunc(tones, func(t *tone) bool { return len(t.parts) == 0 })
}

// each runs work on all parts, several at a time.
func each(groups []*group, work func(*part) error) error {
	var parts []*part
	for _, g := range groups {
		parts = append(parts, g.parts...)
	}
	errs := make([]error, len(parts))
	parallel(len(parts), 1, func(from, to int) {
		for i := from; i < to; i++ {
			errs[i] = work(parts[i])
		}
	})
	for _, err := range errs {
		if err != nil {
			return fmt.Errorf("recording: %w", err)
		}
	}
	return nil
}

// narrowest is the width of the window of a take's envelope, s, where no mains
// line is beside it: six periods.
func narrowest(k take) float64 { return max(6/k.frequency, 0.08) }

// windowOf is that width, or as much as it takes to tell a mains line close by
// from the tone, up to half a second.
func (r *reader) windowOf(k take) float64 {
	width := narrowest(k)
	if r.mains == nil {
		return width
	}
	for m, rms := range r.mains.lines {
		d := math.Abs(k.frequency - float64(m)*r.mains.base)
		if wide := 0.4 / d; rms > k.amplitude/root2/1000 && wide > width && wide < 0.5 {
			width = wide
		}
	}
	return width
}

// envelope follows a take, free of the mains line beside it if there is one that
// can be told from it in so short a time.
func (r *reader) envelope(k take, width float64) envelope {
	level := slowest(r.levels, 8*k.frequency)
	line, rest := r.mains.beside(k.frequency, width)
	e := follow(level, k.frequency, line, width, k.lo, k.hi)
	if rest > 0 {
		e.hum = decibel(root2 * rest)
	}
	return e
}

// stretches cuts a take. A window that tells a mains line from the tone may be
// too long for its steps; the line then makes the envelope of a shorter one waver.
func (r *reader) stretches(k take) []stretch {
	cut := func(width float64) (list []stretch, samples int) {
		e := r.envelope(k, width)
		list = e.stretches(r.rate, k.frequency, k.lo, k.hi)
		for _, s := range list {
			samples += s.to - s.from
		}
		return list, samples
	}
	wide, narrow := r.windowOf(k), narrowest(k)
	list, samples := cut(wide)
	if wide > narrow {
		if other, more := cut(narrow); float64(more) > 1.2*float64(samples) {
			return other
		}
	}
	return list
}

// cutAgain cuts those takes anew that have a mains line beside them.
func (r *reader) cutAgain(tones []*tone, takes []take) []*tone {
	var anew []take
	for _, k := range takes {
		if line, rest := r.mains.beside(k.frequency, r.windowOf(k)); line > 0 || rest > 0 {
			anew = append(anew, k)
			tones = slices.DeleteFunc(tones, func(t *tone) bool { return t.take == k })
		}
	}
	if len(anew) == 0 {
		return tones
	}
	tones = append(tones, r.cut(anew)...)
	slices.SortFunc(tones, func(a, b *tone) int { return cmp.Compare(a.take.from, b.take.from) })
	return tones
}

// cut makes the parts of every take, each with its own frequency.
func (r *reader) cut(takes []take) []*tone {
	var tones []*tone
	for _, k := range takes {
		t := &tone{take: k}
		for _, s := range r.stretches(k) {
			p, err := newPart(r.levels, s)
			if err != nil {
				r.warn("%.2f s to %.2f s: %v", float64(s.from)/r.rate, float64(s.to)/r.rate, err)
				continue
			}
			t.parts = append(t.parts, p)
		}
		if len(t.parts) > 0 {
			tones = append(tones, t)
		}
	}
	var all []*part
	for _, t := range tones {
		all = append(all, t.parts...)
	}
	good := make([]bool, len(all))
	parallel(len(all), 1, func(from, to int) {
		for i := from; i < to; i++ {
			good[i] = all[i].approach() == nil && all[i].stands()
		}
	})
	bad := map[*part]bool{}
	for i, p := range all {
		bad[p] = !good[i]
	}
	tones = dropParts(tones, func(p *part) bool { return bad[p] })
	tones = dropParts(tones, func(p *part) bool { return outshone(p, tones) })
	tones = dropParts(tones, func(p *part) bool { return r.scrap(p, tones) })
	for _, t := range tones {
		t.sift()
	}
	return tones
}

// widest range of levels that a tone's steps may have, dB. What is softer is
// noise, hum or the skirt of something else.
const widest = 50

// sift takes out of a tone's parts those that are another tone or hum.
func (t *tone) sift() {
	loudest := slices.MaxFunc(t.parts, func(a, b *part) int { return cmp.Compare(a.fundamental(), b.fundamental()) })
	top, f, tolerance := loudest.fundamental(), loudest.frequency, loudest.uncertain
	t.parts = slices.DeleteFunc(t.parts, func(p *part) bool {
		return decibel(p.fundamental()/top) < -widest ||
			math.Abs(p.frequency-f) > 6*math.Hypot(p.uncertain, tolerance)+3e-4*f
	})
	if n := len(t.parts); n >= 3 && nearMains(f, t.parts[0].seconds()) {
		// A tone of the mains frequency itself: what is as soft before it as after
		// it is the hum in the pauses.
		first, last := t.parts[0].fundamental(), t.parts[n-1].fundamental()
		if math.Abs(decibel(first/last)) < 1 && decibel(top/first) > 6 {
			limit := 1.12 * max(first, last)
			t.parts = slices.DeleteFunc(t.parts, func(p *part) bool { return p.fundamental() < limit })
		}
	}
}

// nearMains says whether f is a multiple of a mains frequency, as far as a
// stretch of the given length and the mains itself let that be told.
func nearMains(f, seconds float64) bool {
	for _, base := range []float64{50, 60} {
		if m := math.Round(f / base); m >= 1 && m <= 8 && math.Abs(f-m*base) < max(2/seconds, mainsOff*m*base) {
			return true
		}
	}
	return false
}

// outshone says whether most of a part lies in a stronger part of another tone,
// whose harmonic or skirt it then is.
func outshone(p *part, tones []*tone) bool {
	for _, t := range tones {
		for _, q := range t.parts {
			common := min(p.to, q.to) - max(p.from, q.from)
			if p != q && 2*common > p.to-p.from && q.stretch.level > p.stretch.level {
				return true
			}
		}
	}
	return false
}

// scrapNear is how near to a step a scrap of it lies, s.
const scrapNear = 0.35

// scrap says whether a part is no step but was cut off one: close to a part five
// times as long, as loud and of the same frequency as far as it can tell. It
// happens where a tone's take ends within a step, as hum in the pauses is taken
// for another.
func (r *reader) scrap(p *part, tones []*tone) bool {
	for _, t := range tones {
		for _, q := range t.parts {
			gap := float64(max(p.from, q.from)-min(p.to, q.to)) / r.rate
			if p != q && 5*(p.to-p.from) < q.to-q.from && gap < scrapNear &&
				math.Abs(p.frequency-q.frequency)*p.seconds() < 1 && math.Abs(decibel(p.fundamental()/q.fundamental())) < leastStep {
				return true
			}
		}
	}
	return false
}

// A group is one tone: the parts of all takes of its frequency.
type group struct {
	frequency, uncertain float64 // Hz, with its standard error
	parts                []*part
}

// share gathers the parts of each tone and gives them one frequency, their mean
// weighted by how well each knows it.
func (r *reader) share(tones []*tone) []*group {
	var groups []*group
	for _, t := range tones {
		i := slices.IndexFunc(groups, func(g *group) bool {
			return r.frames.same(g.parts[0].frequency, t.parts[0].frequency)
		})
		if i < 0 {
			i = len(groups)
			groups = append(groups, &group{})
		}
		groups[i].parts = append(groups[i].parts, t.parts...)
	}
	for _, g := range groups {
		g.frequency, g.uncertain = pooled(g.parts)
		for _, p := range g.parts {
			p.frequency = g.frequency
		}
	}
	return groups
}

// pooled is the weighted mean frequency of parts and its standard error. Parts
// that disagree with the surest one beyond their errors, and beyond what a
// clock may wander, do not take part.
func pooled(parts []*part) (f, se float64) {
	errors := make([]float64, len(parts))
	for i, p := range parts {
		errors[i] = p.uncertain
	}
	surest := 0
	for i := range errors {
		if errors[i] < errors[surest] {
			surest = i
		}
	}
	var weight float64
	for i, p := range parts {
		if d := math.Abs(p.frequency - parts[surest].frequency); d > 5*errors[i]+1e-6*p.frequency {
			continue
		}
		w := 1 / (errors[i] * errors[i])
		f, weight = f+w*p.frequency, weight+w
	}
	return f / weight, 1 / math.Sqrt(weight)
}

// findHum looks for the mains in pauses and residuals.
func (r *reader) findHum(tones []*tone) {
	var traces []trace
	if r.rest != nil {
		traces = append(traces, r.rest.traces...)
	}
	var parts []*part
	for _, t := range tones {
		parts = append(parts, t.parts...)
	}
	slices.SortStableFunc(parts, func(a, b *part) int { return cmp.Compare(b.seconds(), a.seconds()) })
	const looks = 12
	for _, p := range parts[:min(looks, len(parts))] {
		traces = append(traces, p.trace())
	}
	r.mains = findMains(traces, r.options.Mains)
	if r.mains != nil {
		for _, t := range traces {
			r.mains.remember(t)
		}
	}
}
