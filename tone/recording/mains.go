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

// findMains looks for hum in traces. base is 50 or 60, or 0 for either.
func findMains(traces []trace, base float64) *hum {
	type sight struct {
		base, clear, frequency float64
		number                 int
		trace                  *trace
	}
	var best sight
	for _, b := range []float64{50, 60} {
		if base > 0 && math.Abs(base-b) > 1 {
			continue
		}
		for i := range traces {
			t := &traces[i]
			for m := 1; m <= 8 && float64(m)*b < t.pass; m++ {
				f := float64(m) * b
				k, ok := t.noise.peak(f*(1-mainsOff), f*(1+mainsOff))
				at := float64(k) * t.noise.step
				if !ok || at < 4*t.noise.wide || !t.free(at) {
					continue
				}
				around := t.noise.median(at, max(20*t.noise.wide, 8))
				if around <= 0 {
					continue
				}
				// Longer traces say the frequency better: of two sights equally
				// clear the longer wins.
				if clear := t.noise.at[k] / around; clear > 18 && clear > best.clear {
					best = sight{b, clear, at, m, t}
				}
			}
		}
	}
	if best.trace == nil {
		return nil
	}
	f := best.trace.pinpoint(best.frequency)
	// √6/(2π) of the resolution over the root of the power ratio is the bound on
	// the variance of a frequency (D. C. Rife & R. R. Boorstyn, IEEE Trans. Inf.
	// Theory 20, 1974); a Hann window costs about half as much again.
	return &hum{
		base:  f / float64(best.number),
		error: 0.6 * best.trace.noise.wide / math.Sqrt(best.clear) / float64(best.number),
	}
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
	seen := h.see(t)
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

// see reads the lines of the mains in a trace with their frequencies there.
func (h *hum) see(t trace) []humLine {
	var seen []humLine
	base := h.base
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
		if len(seen) == 0 {
			return nil
		}
		if pass == 0 {
			// The mains wanders: set its frequency anew by the strongest line.
			s := slices.MaxFunc(seen, func(a, b humLine) int { return cmp.Compare(a.rms, b.rms) })
			f := t.pinpoint(s.frequency)
			if math.Abs(f-s.frequency) < max(t.noise.wide, mainsOff/3*s.frequency) {
				base = f / float64(s.number)
			}
		}
	}
	return seen
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
	seen := h.see(t)
	base := h.base
	if len(seen) > 0 {
		base = seen[0].frequency / float64(seen[0].number)
	}
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
			p.covered = append(p.covered, humLine{number: m, frequency: f, rms: h.expect(m), harmonic: k, apart: apart + 2*float64(m)*h.error, sure: h.bound[m] == 0 || h.lines[m] > 0})
		case k >= 1 && k <= p.number && apart <= 4*p.noise.wide && (h.lines[m] > 0 || h.bound[m] == 0),
			slices.ContainsFunc(seen, func(s humLine) bool { return s.number == m }):
			p.hum = append(p.hum, humLine{number: m, frequency: f})
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
