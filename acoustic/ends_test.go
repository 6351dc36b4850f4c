package acoustic

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// The inner end of a tube in a coaxial wider tube by static mode matching, an
// accurate computation beside which the fit of Kergomard & Garcia stands.
// Computed, not published; the fit's own accuracy is the margin.
func TestFlushInsideAgainstModeMatching(t *testing.T) {
	for _, c := range []struct{ xi, want float64 }{
		{0.05, 0.7664}, {0.1, 0.7112}, {0.2, 0.6021}, {0.3, 0.4959}, {0.4, 0.3939},
		{0.5, 0.2980}, {0.6, 0.2101}, {0.7, 0.1324}, {0.8, 0.0679},
	} {
		k, _ := FlushInside(c.xi)
		margin := 0.0012
		if c.xi > 0.7 {
			margin = 0.0035
		}
		near(t, "FlushInside", k, c.want, margin)
	}
}

func TestFlushInside(t *testing.T) {
	if k, dk := FlushInside(0); k != FlushOutside || math.Abs(dk+1.35*FlushOutside) > 1e-15 {
		t.Errorf("FlushInside(0) = %v, %v", k, dk)
	}
	for _, xi := range []float64{0.1, 0.5, 0.9} {
		up, _ := FlushInside(xi + 1e-5)
		down, _ := FlushInside(xi - 1e-5)
		_, dk := FlushInside(xi)
		near(t, "slope", dk, (up-down)/2e-5, 1e-9)
	}
	for _, xi := range []float64{0.92, 1, 1.2, 1.5, 3, 100} {
		if k, dk := FlushInside(xi); k != 0 || dk != 0 {
			t.Errorf("FlushInside(%g) = %v, %v, want 0, 0", xi, k, dk)
		}
	}
	if k, _ := FlushInside(0.918); !(k > 0 && k < 0.002) {
		t.Errorf("FlushInside(0.918) = %v, want a little above 0", k)
	}
}

// ∬∬ dS dS'/|r−r'| = 4∫∫ (w−x)(h−y)/√(x²+y²) dx dy over the rectangle, in
// polar coordinates, where the integrand is smooth: no closed form needed.
func selfMass(w, h float64) float64 {
	sector := func(w, h float64) float64 { // angles from 0 to that of the diagonal
		return quad.Fixed(func(angle float64) float64 {
			sin, cos := math.Sincos(angle)
			return quad.Fixed(func(r float64) float64 {
				return 4 * (w - r*cos) * (h - r*sin)
			}, 0, w/cos, 4, nil, 0)
		}, 0, math.Atan2(h, w), 60, nil, 0)
	}
	return sector(w, h) + sector(h, w)
}

func TestRectangleMass(t *testing.T) {
	for _, c := range [][2]float64{{1, 1}, {0.2, 0.1}, {0.03, 0.3}, {1, 0.02}} {
		I, _, _ := RectangleMass(c[0], c[1])
		if want := selfMass(c[0], c[1]); !(math.Abs(I/want-1) < 1e-9) {
			t.Errorf("RectangleMass%v = %.12g, integral %.12g", c, I, want)
		}
	}
	// as the formula is usually written, where it does not cancel
	w, h := 0.3, 0.2
	I, _, _ := RectangleMass(w, h)
	near(t, "I(0.3, 0.2)", I, 2*w*w*h*math.Asinh(h/w)+2*w*h*h*math.Asinh(w/h)+
		2./3*(w*w*w+h*h*h)-2./3*math.Pow(w*w+h*h, 1.5), 1e-16)
	// The mean of 1/distance over a unit square, 4·ln(1+√2) + 4(1−√2)/3.
	I, _, _ = RectangleMass(1, 1)
	near(t, "I(1, 1)", I, 4*math.Log(1+math.Sqrt2)+4*(1-math.Sqrt2)/3, 1e-14)
}

func TestRectangleMassSlit(t *testing.T) {
	for _, h := range []float64{1e-3, 1e-5, 1e-8, 1e-12} {
		const w = 2.0
		I, _, dh := RectangleMass(w, h)
		e := h / w // I → w·h²·(1 + 2·ln(2w/h) + ⅔·h/w), next term (h/w)²
		want := w * h * h * (1 + 2*math.Log(2/e) + 2./3*e)
		if r := math.Abs(I/want - 1); !(r < e*e+1e-14) {
			t.Errorf("h = %g: off by %.1e", h, r)
		}
		swapped, dh2, _ := RectangleMass(h, w)
		if swapped != I || dh != dh2 {
			t.Errorf("h = %g: the sides are not alike: %v %v", h, I, swapped)
		}
	}
	for _, c := range [][2]float64{{0, 1}, {1, 0}, {0, 0}} {
		if I, dw, dh := RectangleMass(c[0], c[1]); I != 0 || dw != 0 || dh != 0 {
			t.Errorf("RectangleMass%v = %v %v %v, want zeros", c, I, dw, dh)
		}
	}
}

func TestRectangleMassSlopes(t *testing.T) {
	for _, c := range [][2]float64{{1, 1}, {0.2, 0.1}, {0.01, 0.3}, {3, 1e-4}} {
		w, h := c[0], c[1]
		_, dw, dh := RectangleMass(w, h)
		I := func(w, h float64) float64 { v, _, _ := RectangleMass(w, h); return v }
		a, b := 1e-5*w, 1e-5*h
		numW, numH := (I(w+a, h)-I(w-a, h))/(2*a), (I(w, h+b)-I(w, h-b))/(2*b)
		if !(math.Abs(dw/numW-1) < 1e-8 && math.Abs(dh/numH-1) < 1e-8) {
			t.Errorf("%v: slopes %.10g %.10g, differences %.10g %.10g", c, dw, dh, numW, numH)
		}
	}
}

// The factors make one convention of both shapes: circle over piston.
func TestRectangleFactors(t *testing.T) {
	near(t, "RectangleFlush", RectangleFlush, FlushOutside/PistonEnd, 1e-4)
	near(t, "RectangleFree", RectangleFree, Free/PistonEnd, 1e-4)
	// A circle has the largest mass of all shapes of its area; a square comes
	// close to it.
	I, _, _ := RectangleMass(1, 1)
	ratio := I / (2 * math.Pi) * math.Sqrt(math.Pi) / PistonEnd
	if !(ratio > 0.98 && ratio < 0.99) {
		t.Errorf("square over circle: %g", ratio)
	}
}
