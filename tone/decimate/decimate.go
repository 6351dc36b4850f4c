// Package decimate halves the sample rate of a signal again and again, so that
// slow tones are looked for among few samples.
//
// Each halving is a symmetric half-band filter about the sample it keeps: the
// phase of every tone stays as it was, its gain is known exactly, and what
// would fold onto the band that a level passes is 120 dB down.
package decimate

import (
	"math"
	"runtime"
	"sync"
)

// A Level is the signal at one sample rate. Sample i stands at i·Every samples
// of the recording.
type Level struct {
	X     []float64
	Rate  float64 // Hz
	Every int     // recorded samples for each of this level
	Pass  float64 // highest frequency that is clean at this level, Hz
	Blur  float64 // seconds over which the filters smear an event, each way

	filters []filter // from the recording down to here
}

// A filter is a half-band filter for an input of some rate: ½·x[0] and
// tap[j]·(x[−2j−1] + x[2j+1]).
type filter struct {
	tap  []float64
	rate float64 // of its input, Hz
}

// Gain is the factor by which a tone of f Hz is smaller or larger at this level
// than in the recording.
func (l *Level) Gain(f float64) float64 {
	g := 1.0
	for _, h := range l.filters {
		w := 2 * math.Pi * f / h.rate
		a := 0.5
		for j, t := range h.tap {
			a += 2 * t * math.Cos(w*float64(2*j+1))
		}
		g *= a
	}
	return g
}

// stop is the attenuation of what would fold, dB. The design formula is good to
// a few dB, so design asks for more.
const (
	stop   = 120
	design = stop + 8
)

// taps designs a half-band filter for a transition of the given width, a
// fraction of the input rate, as a sinc under a Kaiser window (J. F. Kaiser,
// ISCAS 1974: order (A − 7.95)/(14.36·Δf), β = 0.1102(A − 8.7)).
func taps(width float64) []float64 {
	half := int(math.Ceil((design - 7.95) / (14.36 * width) / 2))
	n := (half + 1) / 2
	beta := 0.1102 * (design - 8.7)
	h := make([]float64, n)
	for j := range h {
		k := float64(2*j + 1)
		r := k / float64(2*n)
		h[j] = math.Sin(math.Pi*k/2) / (math.Pi * k) * bessel0(beta*math.Sqrt(1-r*r)) / bessel0(beta)
	}
	// Exactly 1 at 0 Hz.
	var sum float64
	for _, t := range h {
		sum += 2 * t
	}
	for j := range h {
		h[j] *= 0.5 / sum
	}
	return h
}

// bessel0 is the modified Bessel function I0 by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= (x / (2 * k)) * (x / (2 * k))
		sum += term
	}
	return sum
}

// The first halving of a recording has a wide and therefore short transition:
// it serves the levels below it, and passes a fifth of its own rate. All others
// pass two fifths.
const (
	firstPass = 0.2
	nextPass  = 0.4
)

// Halve returns the recording itself and all its halvings down to the last rate
// that is not under lowest Hz. Outside the recording silence is assumed.
func Halve(x []float64, rate, lowest float64) []Level {
	levels := []Level{{X: x, Rate: rate, Every: 1, Pass: 0.5 * rate}}
	first, next := taps(0.5-firstPass), taps(0.5-nextPass)
	for {
		up := levels[len(levels)-1]
		if up.Rate/2 < lowest || len(up.X) < 2 {
			return levels
		}
		h := filter{next, up.Rate}
		pass := nextPass * up.Rate / 2
		if len(levels) == 1 {
			h.tap, pass = first, firstPass*up.Rate/2
		}
		levels = append(levels, Level{
			X:       halve(up.X, h.tap),
			Rate:    up.Rate / 2,
			Every:   2 * up.Every,
			Pass:    pass,
			Blur:    up.Blur + float64(2*len(h.tap)-1)/up.Rate,
			filters: append(append([]filter(nil), up.filters...), h),
		})
	}
}

// For is the slowest level that passes everything up to f Hz.
func For(levels []Level, f float64) *Level {
	best := &levels[0]
	for i := range levels {
		if levels[i].Pass >= f {
			best = &levels[i]
		}
	}
	return best
}

func halve(x []float64, tap []float64) []float64 {
	y := make([]float64, (len(x)+1)/2)
	workers := max(1, min(runtime.GOMAXPROCS(0), len(y)/(1<<16)))
	var wait sync.WaitGroup
	for w := range workers {
		from, to := len(y)*w/workers, len(y)*(w+1)/workers
		wait.Go(func() { halvePart(y, x, tap, from, to) })
	}
	wait.Wait()
	return y
}

func halvePart(y, x, tap []float64, from, to int) {
	reach := 2*len(tap) - 1
	for m := from; m < to; m++ {
		i := 2 * m
		sum := 0.5 * x[i]
		if i < reach || i+reach >= len(x) {
			for j, t := range tap {
				k := 2*j + 1
				if i >= k {
					sum += t * x[i-k]
				}
				if i+k < len(x) {
					sum += t * x[i+k]
				}
			}
			y[m] = sum
			continue
		}
		near := x[i-reach : i+reach+1]
		lo, hi := reach-1, reach+1
		var a, b float64
		j := 0
		for ; j+2 <= len(tap); j += 2 {
			a += tap[j] * (near[lo] + near[hi])
			b += tap[j+1] * (near[lo-2] + near[hi+2])
			lo, hi = lo-4, hi+4
		}
		if j < len(tap) {
			a += tap[j] * (near[lo] + near[hi])
		}
		y[m] = sum + a + b
	}
}
