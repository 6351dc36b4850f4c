package sinefit

import (
	"math"
	"math/cmplx"
)

// A Window weighs the samples of a fit.
type Window int

const (
	// Flat weighs all samples alike: the least noise, but tones that are not in
	// the model leak into it from afar.
	Flat Window = iota
	// Hann fades in and out with ½ + ½cos(2πt/n): 1.8 dB more noise, and foreign
	// tones more than two periods of the length away no longer matter.
	Hann
)

// series holds a window as Σ a_k·cos(2πkt/n), t counted from the middle.
func (w Window) series() []float64 {
	if w == Hann {
		return []float64{0.5, 0.5}
	}
	return []float64{1}
}

// squared is the series of the squared window.
func (w Window) squared() []float64 {
	if w == Hann {
		return []float64{0.375, 0.5, 0.125}
	}
	return []float64{1}
}

// Weights are the n samples of the window.
func (w Window) Weights(n int) []float64 {
	out := make([]float64, n)
	if w == Flat {
		for i := range out {
			out[i] = 1
		}
		return out
	}
	step := cmplx.Rect(1, 2*math.Pi/float64(n))
	for from := 0; from < n; from += block {
		z := cmplx.Rect(0.5, 2*math.Pi*(float64(from)-float64(n-1)/2)/float64(n))
		for i := from; i < min(from+block, n); i++ {
			out[i] = 0.5 + real(z)
			z *= step
		}
	}
	return out
}

// kernel is Σ w(t)·cos(xt) over the n samples t = −(n−1)/2 … (n−1)/2 of a
// window, and its first two derivatives in x: −Σ w·t·sin(xt), −Σ w·t²·cos(xt).
func kernel(x float64, n int, series []float64) (k, k1, k2 float64) {
	for i, a := range series {
		shift := 2 * math.Pi * float64(i) / float64(n)
		d, d1, d2 := dirichlet(x+shift, n)
		if i > 0 {
			e, e1, e2 := dirichlet(x-shift, n)
			d, d1, d2 = (d+e)/2, (d1+e1)/2, (d2+e2)/2
		}
		k, k1, k2 = k+a*d, k1+a*d1, k2+a*d2
	}
	return k, k1, k2
}

// dirichlet is Σ cos(xt) = sin(nx/2)/sin(x/2) with two derivatives. It has the
// period 2π, with a change of sign if n is even.
func dirichlet(x float64, n int) (d, d1, d2 float64) {
	turns := math.Round(x / (2 * math.Pi))
	x -= 2 * math.Pi * turns
	sign := 1.0
	if n%2 == 0 && math.Mod(turns, 2) != 0 {
		sign = -1
	}
	N := float64(n)
	if math.Abs(x)*N < 0.05 {
		// Moments Σt², Σt⁴, Σt⁶ of the centred samples.
		q := N * N
		m2 := N * (q - 1) / 12
		m4 := m2 * (3*q - 7) / 20
		m6 := m2 * (3*q*q - 18*q + 31) / 112
		y := x * x
		return sign * (N - y*m2/2 + y*y*m4/24 - y*y*y*m6/720),
			sign * (-x*m2 + x*y*m4/6 - x*y*y*m6/120),
			sign * (-m2 + y*m4/2 - y*y*m6/24)
	}
	s, c := math.Sincos(x / 2)
	sN, cN := math.Sincos(N * x / 2)
	d = sN / s
	d1 = (N*cN - d*c) / (2 * s)
	d2 = ((1-N*N)*d/4*s - d1*c) / s
	return sign * d, sign * d1, sign * d2
}
