// Package distortion reads a periodic waveform off its harmonics: distortion by
// both definitions in use, the waveform itself and how unlike its two halves
// are.
//
// Harmonics are RMS phasors of e^{+jωt}; element 0 is the fundamental, element
// k is harmonic k+1, and the phase origin is common to all: the waveform is
// √2·Re Σ H_k·e^{j(k+1)θ}.
package distortion

import (
	"math"
	"math/cmplx"
)

// OfFundamental is the total harmonic distortion relative to the fundamental
// (THD_F, IEC 61000-2-2): √(H2² + H3² + …)/H1. Without a fundamental it is 0.
func OfFundamental(h []complex128) float64 {
	if len(h) == 0 {
		return 0
	}
	return ratio(above(h), power(h[0]))
}

// OfTotal is the total harmonic distortion relative to the total, fundamental
// included (THD_R, IEC 60268-5 clause 24.1; its wording from memory):
// √(H2² + H3² + …)/√(H1² + H2² + …).
func OfTotal(h []complex128) float64 {
	if len(h) == 0 {
		return 0
	}
	d := above(h)
	return ratio(d, d+power(h[0]))
}

func above(h []complex128) float64 {
	var p float64
	for _, v := range h[1:] {
		p += power(v)
	}
	return p
}

func power(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

func ratio(part, whole float64) float64 {
	if whole <= 0 {
		return 0
	}
	return math.Sqrt(part / whole)
}

// At is the momentary value of the waveform at angle θ of the fundamental, in
// radians.
func At(h []complex128, theta float64) float64 {
	z := cmplx.Rect(1, theta)
	var sum complex128
	for k := len(h) - 1; k >= 0; k-- {
		sum = (sum + h[k]) * z
	}
	return math.Sqrt2 * real(sum)
}

// Waveform is one period of the waveform at n even steps.
func Waveform(h []complex128, n int) []float64 {
	w := make([]float64, n)
	for i := range w {
		w[i] = At(h, 2*math.Pi*float64(i)/float64(n))
	}
	return w
}

// Peaks are the highest and the lowest momentary value of the waveform, both
// measured from its mean: top above zero, bottom below.
func Peaks(h []complex128) (top, bottom float64) {
	if len(h) == 0 {
		return 0, 0
	}
	n := 64 * len(h)
	w := Waveform(h, n)
	for i, v := range w {
		before, after := w[(i+n-1)%n], w[(i+1)%n]
		if v >= before && v >= after {
			top = max(top, vertex(before, v, after))
		}
		if v <= before && v <= after {
			bottom = min(bottom, vertex(before, v, after))
		}
	}
	return top, bottom
}

// vertex of the parabola through three even samples, the middle one extreme.
func vertex(a, b, c float64) float64 {
	bend := a - 2*b + c
	if bend == 0 {
		return b
	}
	return b - (a-c)*(a-c)/(8*bend)
}

// Asymmetry is how unlike the two halves of the waveform are,
// (top − |bottom|)/(top + |bottom|): 0 for equal halves, +1 if all of it stands
// above the mean. Without a waveform it is 0.
func Asymmetry(h []complex128) float64 {
	top, bottom := Peaks(h)
	if top-bottom <= 0 {
		return 0
	}
	return (top + bottom) / (top - bottom)
}
