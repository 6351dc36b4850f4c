package sinefit

import (
	"math"
	"math/cmplx"
)

// block is how many samples a recurrence runs before it starts afresh from
// exact values: short enough that rounding cannot grow, long enough that the
// fresh start costs nothing.
const block = 512

// Spectrum is Σ x(t)·e^{−jωt} at each omega in radians per sample, t counted
// from the middle of x.
func Spectrum(x []float64, omega []float64) []complex128 {
	sums := make([]complex128, len(omega))
	mid := float64(len(x)-1) / 2
	for from := 0; from < len(x); from += block {
		part := x[from:min(from+block, len(x))]
		last := float64(from+len(part)-1) - mid
		i := 0
		for ; i+4 <= len(omega); i += 4 {
			goertzel4(part, omega[i:i+4], last, sums[i:i+4])
		}
		for ; i < len(omega); i++ {
			var s1, s2 float64
			k := 2 * math.Cos(omega[i])
			for _, v := range part {
				s1, s2 = v-s2+k*s1, s1
			}
			sums[i] += finish(s1, s2, omega[i], last)
		}
	}
	return sums
}

// goertzel4 runs Goertzel's recurrence for four lines side by side.
func goertzel4(x, omega []float64, last float64, sums []complex128) {
	ka, kb, kc, kd := 2*math.Cos(omega[0]), 2*math.Cos(omega[1]), 2*math.Cos(omega[2]), 2*math.Cos(omega[3])
	var a1, a2, b1, b2, c1, c2, d1, d2 float64
	for _, v := range x {
		a1, a2 = v-a2+ka*a1, a1
		b1, b2 = v-b2+kb*b1, b1
		c1, c2 = v-c2+kc*c1, c1
		d1, d2 = v-d2+kd*d1, d1
	}
	sums[0] += finish(a1, a2, omega[0], last)
	sums[1] += finish(b1, b2, omega[1], last)
	sums[2] += finish(c1, c2, omega[2], last)
	sums[3] += finish(d1, d2, omega[3], last)
}

// finish turns the state of Goertzel's recurrence after the sample at time last
// into the sum over its samples.
func finish(s1, s2, omega, last float64) complex128 {
	return (complex(s1, 0) - complex(s2, 0)*cmplx.Rect(1, -omega)) * cmplx.Rect(1, -omega*last)
}

// Subtract takes lines off x: √2·Re(P·e^{jωt}) for each RMS phasor, the first one
// with its drift. The first sample of x is at the time start.
func Subtract(x []float64, start float64, omega []float64, phasor []complex128, drift complex128) {
	for from := 0; from < len(x); from += block {
		part := x[from:min(from+block, len(x))]
		first := start + float64(from)
		i := 0
		if drift != 0 && len(omega) > 0 {
			subtractDrifting(part, omega[0], phasor[0], drift, first)
			i = 1
		}
		for ; i+2 <= len(omega); i += 2 {
			k, l := 2*math.Cos(omega[i]), 2*math.Cos(omega[i+1])
			a1, a2 := ahead(omega[i], phasor[i], first)
			b1, b2 := ahead(omega[i+1], phasor[i+1], first)
			for n := range part {
				a1, a2 = k*a1-a2, a1
				b1, b2 = l*b1-b2, b1
				part[n] -= a1 + b1
			}
		}
		for ; i < len(omega); i++ {
			k := 2 * math.Cos(omega[i])
			a1, a2 := ahead(omega[i], phasor[i], first)
			for n := range part {
				a1, a2 = k*a1-a2, a1
				part[n] -= a1
			}
		}
	}
}

// ahead is a line's value one and two samples before time first.
func ahead(omega float64, phasor complex128, first float64) (one, two float64) {
	p := phasor * math.Sqrt2
	return real(p * cmplx.Rect(1, omega*(first-1))), real(p * cmplx.Rect(1, omega*(first-2)))
}

func subtractDrifting(x []float64, omega float64, phasor, drift complex128, first float64) {
	step := cmplx.Rect(1, omega)
	z := phasor * math.Sqrt2 * cmplx.Rect(1, omega*first)
	for i := range x {
		x[i] -= real(z * (1 + drift*complex(first+float64(i), 0)))
		z *= step
	}
}
