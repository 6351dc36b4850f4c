package distortion

import (
	"math"
	"math/cmplx"
	"testing"
)

// series makes n harmonics from a rule for the amplitude of harmonic k.
func series(n int, amplitude func(k int) float64) []complex128 {
	h := make([]complex128, n)
	for i := range h {
		h[i] = complex(amplitude(i+1), 0)
	}
	return h
}

func odd(k int) float64 { return float64(k % 2) }

func TestKnownWaveforms(t *testing.T) {
	const n = 200000 // the series of a square wave converges as 1/n
	square := series(n, func(k int) float64 { return odd(k) / float64(k) })
	saw := series(n, func(k int) float64 { return 1 / float64(k) })
	triangle := series(n, func(k int) float64 { return odd(k) / float64(k*k) })
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		// Square, sawtooth, triangle: I. V. Blagouchine & E. Moreau, IEEE Trans.
		// Commun. 59 (2011) 2478-2491; printed to three digits.
		{"square, of fundamental", OfFundamental(square), 0.483, 0.0006},
		{"square, of total", OfTotal(square), 0.435, 0.0006},
		{"sawtooth, of fundamental", OfFundamental(saw), 0.803, 0.0006},
		{"triangle, of fundamental", OfFundamental(triangle), 0.121, 0.0006},
		{"square, closed form", OfFundamental(square), math.Sqrt(math.Pi*math.Pi/8 - 1), 1e-5},
		{"sawtooth, closed form", OfFundamental(saw), math.Sqrt(math.Pi*math.Pi/6 - 1), 1e-5},
		{"triangle, closed form", OfFundamental(triangle), math.Sqrt(math.Pow(math.Pi, 4)/96 - 1), 1e-5},
		// By the definitions: √(0.1² + 0.05²) against 1 and against √1.0125.
		{"1, 0.1, 0.05 of fundamental", OfFundamental([]complex128{1, 0.1i, -0.05}), 0.111803, 1e-6},
		{"1, 0.1, 0.05 of total", OfTotal([]complex128{1, 0.1i, -0.05}), 0.111111, 1e-6},
		{"pure", OfTotal([]complex128{3}), 0, 0},
		{"nothing", OfFundamental(nil), 0, 0},
		{"nothing, of total", OfTotal(nil), 0, 0},
		{"no fundamental", OfFundamental([]complex128{0, 1}), 0, 0},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%s: %.7f, want %.7f", c.name, c.got, c.want)
		}
	}
}

// TestPolynomial checks waveform and harmonics against y = x + a2·x² + a3·x³
// with x = cos θ: H1 = 1 + 3a3/4, H2 = a2/2, H3 = a3/4 (trigonometric identity),
// mean a2/2.
func TestPolynomial(t *testing.T) {
	const a2, a3 = 0.1, 0.1
	h := []complex128{complex(1+3*a3/4, 0) / math.Sqrt2, complex(a2/2, 0) / math.Sqrt2, complex(a3/4, 0) / math.Sqrt2}
	for i, want := range []float64{1.075, 0.05, 0.025} {
		if got := math.Sqrt2 * cmplx.Abs(h[i]); math.Abs(got-want) > 1e-9 {
			t.Errorf("H%d = %g, want %g", i+1, got, want)
		}
	}
	for theta := 0.0; theta < 7; theta += 0.1 {
		x := math.Cos(theta)
		if got, want := At(h, theta), x+a2*x*x+a3*x*x*x-a2/2; math.Abs(got-want) > 1e-12 {
			t.Errorf("at %.1f rad: %g, want %g", theta, got, want)
		}
	}
	// Extremes of the cubic on [-1, 1] are its ends.
	top, bottom := Peaks(h)
	if math.Abs(top-(1+a2+a3-a2/2)) > 1e-6 || math.Abs(bottom-(-1+a2-a3-a2/2)) > 1e-6 {
		t.Errorf("peaks %g and %g", top, bottom)
	}
	if got, want := Asymmetry(h), (1.15-1.05)/(1.15+1.05); math.Abs(got-want) > 1e-6 {
		t.Errorf("asymmetry %g, want %g", got, want)
	}
}

func TestAsymmetryTurnsWithPolarity(t *testing.T) {
	h := []complex128{1, 0.2i + 0.1, 0.05, 0.02}
	a := Asymmetry(h)
	for i := range h {
		h[i] = -h[i]
	}
	if b := Asymmetry(h); math.Abs(a+b) > 1e-12 || a == 0 {
		t.Errorf("asymmetry %g, turned over %g", a, b)
	}
	if Asymmetry(nil) != 0 || Asymmetry([]complex128{0}) != 0 {
		t.Error("nothing has an asymmetry")
	}
	if a := Asymmetry([]complex128{1, 0, 0.3 + 0.2i}); math.Abs(a) > 1e-9 {
		t.Errorf("odd harmonics alone give asymmetry %g", a)
	}
}
