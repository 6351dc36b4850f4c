package recording

import (
	"math"

	"ocarina/sound"
	"ocarina/tone/distortion"
	"ocarina/tone/sinefit"
)

// broad is what a part holds over the whole band of the recording, in full scale.
type broad struct {
	all     float64 // mean square about the mean
	left    float64 // mean square without harmonics 1 to 10 and mains lines
	crest   float64 // peak of what is left over its RMS
	a, c    float64 // mean squares, weighted
	peakC   float64
	clipped int
}

// settle is how long the weighting filters run before they are believed: ten
// time constants of their slowest pole (20.6 Hz).
const settle = 0.08 // s

// broadband reads a part at the rate of the recording.
// step is what its samples are rounded to.
func (r *reader) broadband(p *part, step float64) broad {
	every := p.level.Every
	from, to := p.first*every, (p.first+len(p.x)-1)*every+1
	x := r.x[from:min(to, len(r.x))]
	var b broad
	left := make([]float64, len(x))
	var mean float64
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for i, v := range x {
		left[i] = v - mean
	}
	b.all = meanSquare(left)
	lines := p.lines()
	phasors := make([]complex128, len(lines))
	for i := range lines {
		phasors[i] = p.fit.Phasor[i] / complex(p.gain(lines[i]*p.level.Rate/(2*math.Pi)), 0)
		lines[i] /= float64(every)
	}
	b.clipped = flatTop(x, phasors[:p.number], r.rate/p.frequency, step)
	sinefit.Subtract(left, lines, phasors, p.fit.Drift/complex(float64(every), 0))
	b.left = meanSquare(left)
	var peak float64
	for _, v := range left {
		peak = max(peak, math.Abs(v))
	}
	if b.left > 0 {
		b.crest = peak / math.Sqrt(b.left)
	}

	run := min(from, int(settle*r.rate))
	weighted := make([]float64, run+len(x))
	if f, err := sound.NewFilter(sound.A, int(r.rate)); err == nil {
		f.Process(weighted, r.x[from-run:from+len(x)])
		b.a = meanSquare(weighted[run:])
	}
	if f, err := sound.NewFilter(sound.C, int(r.rate)); err == nil {
		f.Process(weighted, r.x[from-run:from+len(x)])
		b.c = meanSquare(weighted[run:])
		for _, v := range weighted[run:] {
			b.peakC = max(b.peakC, math.Abs(v))
		}
	}
	return b
}

// flatTop counts the samples on the flat tops of a clipped wave: samples equal to
// the highest or lowest value in runs at full scale, or in runs more than three
// times as long as rounding to the given step makes the crests of the fitted
// waveform.
func flatTop(x []float64, phasors []complex128, perPeriod, step float64) int {
	hi, lo := x[0], x[0]
	for _, v := range x {
		hi, lo = max(hi, v), min(lo, v)
	}
	wave := distortion.Waveform(phasors, 1024)
	count := 0
	for _, end := range []struct{ value, sign float64 }{{hi, 1}, {lo, -1}} {
		on, longest, runs := topRuns(x, end.value)
		full := math.Abs(end.value) > 0.9999 && longest >= 2
		crest := perPeriod / float64(len(wave)) * float64(flattest(wave, end.sign, 2*step))
		if full || (runs >= 2 && float64(longest) > 3+3*crest) {
			count += on
		}
	}
	return count
}

// topRuns counts the samples equal to extreme, the longest run of them and the
// runs of two or more.
func topRuns(x []float64, extreme float64) (on, longest, runs int) {
	run := 0
	for _, v := range x {
		if v != extreme {
			run = 0
			continue
		}
		on++
		run++
		longest = max(longest, run)
		if run == 2 {
			runs++
		}
	}
	return on, longest, runs
}

// flattest counts the steps of a periodic wave within reach of its top (sign +1)
// or bottom (−1), one more for each side.
func flattest(wave []float64, sign, reach float64) int {
	top := math.Inf(-1)
	for _, v := range wave {
		top = max(top, sign*v)
	}
	n := 2
	for _, v := range wave {
		if sign*v > top-reach {
			n++
		}
	}
	return n
}
