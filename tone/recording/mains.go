package recording

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"ocarina/tone/decimate"
	"ocarina/tone/sinefit"
)

// Hum is looked for at multiples of 50 and 60 Hz, which may be off by as much as
// a mains and two clocks are.
const (
	mainsLines = 12
	mainsOff   = 0.006
)

// A humLine is one line of the mains.
type humLine struct {
	number    int     // of the line, 1 for the mains frequency itself
	frequency float64 // Hz
	error     float64 // standard error of the frequency, Hz
	rms       float64 // full scale
	harmonic  int     // of the tone it cannot be told from, if so
	apart     float64 // Hz, how far from it it may be
	sure      bool    // it was seen elsewhere, or nowhere could have been
}

// hum is the mains as the recording has it.
type hum struct {
	base  float64                 // Hz, of line 1
	error float64                 // standard error of base, Hz
	lines [mainsLines + 1]float64 // RMS of each line as far as it was seen, full scale
	bound [mainsLines + 1]float64 // RMS of the noise in which a line was not seen, 0 where none was looked for
}

// A trace is a stretch without tones, or what is left of one, in which hum may
// show.
type trace struct {
	x     []float64
	rate  float64
	pass  float64 // Hz
	noise density
	tone  float64 // Hz; multiples of it were taken out. 0 for none

	weighted []float64 // x under a Hann window
}

func newTrace(x []float64, rate, pass, tone float64, noise density) trace {
	t := trace{x: x, rate: rate, pass: pass, noise: noise, tone: tone, weighted: make([]float64, len(x))}
	for i, w := range sinefit.Hann.Weights(len(x)) {
		t.weighted[i] = x[i] * w
	}
	return t
}

func (p *part) trace() trace {
	return newTrace(p.residual, p.level.Rate, p.level.Pass, p.frequency, p.noise)
}

// free says whether a line at f was left alone by the fit of the tone.
func (t *trace) free(f float64) bool {
	if t.tone == 0 {
		return true
	}
	h := math.Round(f / t.tone)
	return h < 1 || math.Abs(f-h*t.tone) > 4*t.noise.wide
}

// A sight is a line of the mains in a trace.
type sight struct {
	trace     *trace
	number    int
	clear     float64 // of the noise around it, in power
	frequency float64 // Hz, of the mains
	error     float64 // standard error of that, Hz
}

// clearEnough is from how far above the noise on a peak is taken for a line.
const clearEnough = 18

// frequencyOf is the standard error of the frequency of a line so clear of its
// noise: √6/(2π) of the resolution over the root of the power ratio is the bound
// (D. C. Rife & R. R. Boorstyn, IEEE Trans. Inf. Theory 20, 1974), and a Hann
// window costs about half as much again.
func (t *trace) frequencyError(clear float64) float64 {
	return 0.6 * t.noise.wide / math.Sqrt(clear)
}

// sights are the lines of a mains of base Hz in traces.
func sights(traces []trace, base float64) []sight {
	var out []sight
	for i := range traces {
		t := &traces[i]
		for m := 1; m <= 8 && float64(m)*base < t.pass; m++ {
			f := float64(m) * base
			k, ok := t.noise.peak(f*(1-mainsOff), f*(1+mainsOff))
			at := float64(k) * t.noise.step
			if !ok || at < 4*t.noise.wide || !t.free(at) {
				continue
			}
			around := t.noise.median(at, max(20*t.noise.wide, 8))
			if around <= 0 || t.noise.at[k] < clearEnough*around {
				continue
			}
			clear := t.noise.at[k] / around
			out = append(out, sight{t, m, clear, at / float64(m), t.frequencyError(clear) / float64(m)})
		}
	}
	return out
}

// weigh sums up how surely sights are those of a mains: the logarithm of how clear
// each of its lines is where it is clearest.
func weigh(s []sight) float64 {
	var best [9]float64
	for _, v := range s {
		best[v.number] = max(best[v.number], math.Log(v.clear))
	}
	var sum float64
	for _, v := range best {
		sum += v
	}
	return sum
}

// findMains looks for hum in traces. base is 50 or 60, or 0 for either.
func findMains(traces []trace, base float64) *hum {
	var seen []sight
	for _, b := range []float64{50, 60} {
		if base > 0 && math.Abs(base-b) > 1 {
			continue
		}
		if s := sights(traces, b); weigh(s) > weigh(seen) {
			seen = s
		}
	}
	if len(seen) == 0 {
		return nil
	}
	slices.SortStableFunc(seen, func(a, b sight) int { return cmp.Compare(a.error, b.error) })
	const most = 24
	seen = seen[:min(most, len(seen))]
	var sum, weight, scatter float64
	for i := range seen {
		s := &seen[i]
		s.frequency = s.trace.pinpoint(s.frequency*float64(s.number)) / float64(s.number)
		if math.Abs(s.frequency-seen[0].frequency) > 5*math.Hypot(s.error, seen[0].error)+2e-4*s.frequency {
			s.error = math.Inf(1)
			continue
		}
		w := 1 / (s.error * s.error)
		sum, weight = sum+w*s.frequency, weight+w
	}
	h := &hum{base: sum / weight}
	for _, s := range seen {
		if d := s.frequency - h.base; !math.IsInf(s.error, 1) {
			scatter += d * d / (s.error * s.error)
		}
	}
	// A mains that wanders is no better known than by as much as it does.
	h.error = max(1/math.Sqrt(weight), math.Sqrt(scatter/weight))
	return h
}

// peak is the highest value between two frequencies, if it is a local maximum.
func (d density) peak(lo, hi float64) (int, bool) {
	from, to := max(1, int(lo/d.step)), min(len(d.at)-2, int(math.Ceil(hi/d.step)))
	best := -1
	for k := from; k <= to; k++ {
		if d.at[k] >= d.at[k-1] && d.at[k] >= d.at[k+1] && (best < 0 || d.at[k] > d.at[best]) {
			best = k
		}
	}
	return best, best >= 0
}

// median density within reach of f.
func (d density) median(f, reach float64) float64 {
	from, to := max(1, int((f-reach)/d.step)), min(len(d.at), int((f+reach)/d.step)+1)
	if to <= from {
		return 0
	}
	near := slices.Clone(d.at[from:to])
	slices.Sort(near)
	// The median of exponential values is ln 2 of their mean.
	return near[len(near)/2] / math.Ln2
}

// pinpoint climbs to the top of the line near f.
func (t *trace) pinpoint(f float64) float64 {
	step := 0.5 * t.noise.wide
	for range 5 {
		var y [3]float64
		for i, s := range sinefit.Spectrum(t.weighted, []float64{
			2 * math.Pi * (f - step) / t.rate, 2 * math.Pi * f / t.rate, 2 * math.Pi * (f + step) / t.rate,
		}) {
			y[i] = decibel(cmplx.Abs(s))
		}
		bend := y[0] - 2*y[1] + y[2]
		move := step
		switch {
		case bend < 0:
			move = min(step, max(-step, 0.5*step*(y[0]-y[2])/bend))
		case y[0] > y[2]:
			move = -step
		}
		f += move
		step /= 3
	}
	return f
}

// remember keeps the largest of each line seen in a trace, and how small those
// not seen must be, for those places where a line cannot be seen.
func (h *hum) remember(t trace) {
	seen, _, _ := h.see(t)
	for _, s := range seen {
		h.lines[s.number] = max(h.lines[s.number], s.rms)
	}
	for m := 1; m <= mainsLines; m++ {
		f := float64(m) * h.base
		if !t.shows(f) {
			continue
		}
		if b := math.Sqrt(t.band(f)); h.bound[m] == 0 || b < h.bound[m] {
			h.bound[m] = b
		}
	}
}

// shows says whether a line at f would show in the trace.
func (t *trace) shows(f float64) bool {
	return f <= t.pass && f >= 3*t.noise.wide && t.free(f)
}

// band is the mean square of the noise in the band of a Hann window at f.
func (t *trace) band(f float64) float64 {
	return t.noise.median(f, max(20*t.noise.wide, 8)) * 1.5 * t.noise.wide
}

// see reads the lines of the mains in a trace. The mains wanders: base is its
// frequency there, if the trace tells it better than all traces together do, and
// uncertain its standard error.
func (h *hum) see(t trace) (seen []humLine, base, uncertain float64) {
	base, uncertain = h.base, h.error
	for pass := range 2 {
		seen = seen[:0]
		for m := 1; m <= mainsLines; m++ {
			f := float64(m) * base
			if !t.shows(f) {
				continue
			}
			if a := t.amplitude(f); a*a > 10*t.band(f) {
				seen = append(seen, humLine{number: m, frequency: f, rms: a})
			}
		}
		if len(seen) == 0 || pass == 1 {
			break
		}
		s := slices.MaxFunc(seen, func(a, b humLine) int { return cmp.Compare(a.rms, b.rms) })
		here := t.frequencyError(s.rms*s.rms/t.band(s.frequency)) / float64(s.number)
		if here > h.error {
			break
		}
		f := t.pinpoint(s.frequency)
		if math.Abs(f-s.frequency) < max(t.noise.wide, mainsOff/3*s.frequency) {
			base, uncertain = f/float64(s.number), here
		}
	}
	return seen, base, uncertain
}

// amplitude is the RMS value of the line at f under a Hann window.
func (t *trace) amplitude(f float64) float64 {
	s := sinefit.Spectrum(t.weighted, []float64{2 * math.Pi * f / t.rate})[0]
	return cmplx.Abs(s) * 4 / float64(len(t.x)) / root2
}

// expect is what line m may have where it cannot be seen: what it had elsewhere,
// or what could have gone unseen there, or else the largest of all lines.
func (h *hum) expect(m int) float64 {
	switch {
	case h.lines[m] > 0:
		return h.lines[m]
	case h.bound[m] > 0:
		return h.bound[m]
	}
	return slices.Max(h.lines[:])
}

// owns says whether a part is nothing but a line of the mains.
func (h *hum) owns(p *part) bool {
	m := int(math.Round(p.frequency / h.base))
	return m >= 1 && m <= mainsLines &&
		math.Abs(p.frequency-float64(m)*h.base) < 2/p.seconds() &&
		p.fundamental() < 1.4*h.lines[m]
}

// beside is the mains line next to a tone of f Hz if a Hann window of the given
// width does not keep it out of the tone's envelope, but can still tell the two
// apart, and the RMS sum of all other lines that it does not keep out.
func (h *hum) beside(f, width float64) (line, rest float64) {
	if h == nil {
		return 0, 0
	}
	next := math.Inf(1)
	for m, rms := range h.lines {
		d := math.Abs(f-float64(m)*h.base) * width
		if rms == 0 || d > 1.5 {
			continue
		}
		if d > 0.3 && d < next {
			line, next = float64(m)*h.base, d
		}
	}
	for m, rms := range h.lines {
		if at := float64(m) * h.base; at != line && math.Abs(f-at)*width <= 1.5 {
			rest += rms
		}
	}
	return line, rest
}

// apply puts the lines of the mains into the fit of a part: those seen in its
// residual, and those so close to a harmonic that the residual does not show
// them. Lines closer than the fit can part are noted as covering the harmonic.
func (h *hum) apply(p *part) {
	t := p.trace()
	seen, base, uncertain := h.see(t)
	p.hum, p.covered = nil, nil
	least := p.noise.wide
	if p.window == sinefit.Flat {
		least *= 0.75
	}
	for m := 1; m <= mainsLines; m++ {
		f := float64(m) * base
		if f > p.level.Pass {
			break
		}
		if f < 1.5*p.noise.wide {
			continue
		}
		k := int(math.Round(f / p.frequency))
		apart := math.Abs(f - float64(k)*p.frequency)
		switch {
		case k >= 1 && k <= p.number && apart < least:
			p.covered = append(p.covered, humLine{
				number: m, frequency: f, rms: h.expect(m), harmonic: k,
				apart: apart + 2*float64(m)*uncertain,
				sure:  h.bound[m] == 0 || h.lines[m] > 0,
			})
		case k >= 1 && k <= p.number && apart <= 4*p.noise.wide && (h.lines[m] > 0 || h.bound[m] == 0),
			slices.ContainsFunc(seen, func(s humLine) bool { return s.number == m }):
			p.hum = append(p.hum, humLine{number: m, frequency: f, error: float64(m) * uncertain})
		}
	}
}

// restTrace makes a trace of samples without tones.
func restTrace(level *decimate.Level, from, to int) trace {
	a, b := (from+level.Every-1)/level.Every, min(to/level.Every, len(level.X))
	x := slices.Clone(level.X[a:b])
	var mean float64
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for i := range x {
		x[i] -= mean
	}
	return newTrace(x, level.Rate, level.Pass, 0, densityOf(x, level.Rate))
}
