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

// broadband reads a part at the rate of the recording. step is what its samples
// are rounded to.
func (r *reader) broadband(p *part, step float64) broad {
	every := p.level.Every
	from := p.first * every
	x := r.x[from:min((p.first+len(p.x)-1)*every+1, len(r.x))]
	lines := p.lines()
	phasors := make([]complex128, len(lines))
	for i := range lines {
		phasors[i] = p.fit.Phasor[i] / complex(p.gain(lines[i]*p.level.Rate/(2*math.Pi)), 0)
		lines[i] /= float64(every)
	}
	drift := p.fit.Drift / complex(float64(every), 0)
	weighA, weighC := r.weigher(sound.A, from), r.weigher(sound.C, from)

	var b broad
	b.clipped = flatTop(x, phasors[:p.number], r.rate/p.frequency, step)
	var left, a, c [piece]float64
	var peak float64
	for at := 0; at < len(x); at += piece {
		part := x[at:min(at+piece, len(x))]
		n := len(part)
		for i, v := range part {
			left[i] = v - p.fit.Mean
		}
		b.all += square(left[:n])
		sinefit.Subtract(left[:n], float64(at)-float64(len(x)-1)/2, lines, phasors, drift)
		b.left += square(left[:n])
		peak = max(peak, largest(left[:n]))
		weighA.Process(a[:n], part)
		b.a += square(a[:n])
		weighC.Process(c[:n], part)
		b.c += square(c[:n])
		b.peakC = max(b.peakC, largest(c[:n]))
	}
	for _, v := range []*float64{&b.all, &b.left, &b.a, &b.c} {
		*v /= float64(len(x))
	}
	if b.left > 0 {
		b.crest = peak / math.Sqrt(b.left)
	}
	return b
}

// piece is how many samples are read at once: few enough to stay in the cache.
const piece = 2048

// weigher is a weighting filter that has settled on what is before sample from.
// Below the lowest rate of a weighting it is flat.
func (r *reader) weigher(w sound.Weighting, from int) *sound.Filter {
	rate := max(int(r.rate), sound.LowestRate)
	if r.rate < sound.LowestRate {
		w = sound.Z
	}
	f, err := sound.NewFilter(w, rate)
	if err != nil {
		panic(err) // the rate was just seen to
	}
	before := r.x[max(0, from-int(settle*r.rate)):from]
	f.Process(make([]float64, len(before)), before)
	return f
}

func square(x []float64) float64 {
	var a, b float64
	i := 0
	for ; i+2 <= len(x); i += 2 {
		a += x[i] * x[i]
		b += x[i+1] * x[i+1]
	}
	if i < len(x) {
		a += x[i] * x[i]
	}
	return a + b
}

func largest(x []float64) float64 {
	var top float64
	for _, v := range x {
		if v > top {
			top = v
		} else if -v > top {
			top = -v
		}
	}
	return top
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
