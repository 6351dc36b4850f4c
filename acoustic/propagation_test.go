package acoustic

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// bigPropagation sums the power series of cosh √u and sinh √u/√u and the
// slope of the latter in wide precision.
func bigPropagation(u complex128) (c, s, ds complex128) {
	const prec = 500
	w, one := bigFrom(prec, u), bigFrom(prec, 1)
	bc, _ := bigSeries(w, one, func(k float64) float64 { return 2 * k * (2*k - 1) })
	bs, weighted := bigSeries(w, one, func(k float64) float64 { return 2 * k * (2*k + 1) })
	if u == 0 {
		return bc.complex128(), bs.complex128(), 1. / 6
	}
	return bc.complex128(), bs.complex128(), weighted.div(w).complex128()
}

func TestPropagationAgainstWideArithmetic(t *testing.T) {
	at := []complex128{0, 1e-12, -1e-6 + 1e-9i, 1, -1, 1i, -1i, 0.6 + 0.8i, -0.6 - 0.8i, -2, -2 - 1e-9i, 30, 1e-9 + 2i}
	random := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		size := math.Exp(-9 + 15*random.Float64()) // |u| to 400
		at = append(at, cmplx.Rect(size, 2*math.Pi*random.Float64()))
	}
	var worst float64
	for _, u := range at {
		c, s, ds := Propagation(u)
		co, so := PropagationOnly(u)
		if co != c || so != s {
			t.Errorf("u = %v: PropagationOnly differs", u)
		}
		wc, ws, wds := bigPropagation(u)
		// An ulp of the argument moves the phase by |√u| ulps; against the
		// larger of growth and 1, for the functions have zeros.
		r := cmplx.Sqrt(u)
		size := math.Cosh(real(r)) * (1 + cmplx.Abs(r))
		ec := cmplx.Abs(c-wc) / size
		es := cmplx.Abs(s-ws) / size * (1 + cmplx.Abs(r))
		ed := cmplx.Abs(ds-wds) / size * (1 + cmplx.Abs(u))
		worst = max(worst, ec, es, ed)
		if !(max(ec, es, ed) < 1e-15) {
			t.Errorf("u = %v: relative errors %.1e %.1e %.1e", u, ec, es, ed)
		}
	}
	t.Logf("largest relative error %.1e", worst)
}

// A pipe a quarter wave long lets only its losses show in c. That remnant must
// be exact in itself, however small.
func TestPropagationQuarterWave(t *testing.T) {
	for _, loss := range []float64{1e-3, 1e-8, 1e-13} {
		u := complex(-math.Pi*math.Pi/4, loss)
		c, _, _ := Propagation(u)
		want, _, _ := bigPropagation(u)
		if e := math.Abs(imag(c)/imag(want) - 1); !(e < 2e-15) {
			t.Errorf("loss %g: Im c is off by %.1e", loss, e)
		}
		if !(math.Abs(real(c)-real(want)) < 5e-16) {
			t.Errorf("loss %g: Re c = %g, want %g", loss, real(c), real(want))
		}
	}
}

func TestPropagationLaws(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 500 {
		u := cmplx.Rect(math.Exp(-6+9*random.Float64()), 2*math.Pi*random.Float64())
		c, s, ds := Propagation(u)
		size := cmplx.Abs(c)*cmplx.Abs(c) + 1
		if e := cmplx.Abs(c*c-u*s*s-1) / size; !(e < 4e-15) {
			t.Errorf("u = %v: c² − u·s² misses 1 by %.1e", u, e)
		}
		// twice the length
		c2, s2, _ := Propagation(4 * u)
		if e := max(cmplx.Abs(c2-(2*c*c-1)), cmplx.Abs(s2-s*c)) / size; !(e < 2e-14) {
			t.Errorf("u = %v: doubling misses by %.1e", u, e)
		}
		if e := cmplx.Abs(2*u*ds-(c-s)) / size; !(e < 4e-15) {
			t.Errorf("u = %v: slope misses (c − s)/(2u) by %.1e", u, e)
		}
		h := complex(1e-5*cmplx.Abs(u), 0)
		_, up, _ := Propagation(u + h)
		_, down, _ := Propagation(u - h)
		if e := cmplx.Abs((up-down)/(2*h)-ds) / cmplx.Abs(ds); !(e < 1e-5) && cmplx.Abs(u) > 0.1 {
			t.Errorf("u = %v: slope %v, differences %v", u, ds, (up-down)/(2*h))
		}
	}
}

// A hair-thin long tube: nothing comes through, and nothing overflows.
func TestPropagationStaysFinite(t *testing.T) {
	for _, u := range []complex128{360 * 360, 1e9i, 1e16 + 1e15i, 1e30i} {
		c, s, ds := Propagation(u)
		for _, v := range []complex128{c * c, s * s, ds, 1 / s} {
			if cmplx.IsNaN(v) || cmplx.IsInf(v) {
				t.Fatalf("u = %v: %v %v %v", u, c, s, ds)
			}
		}
		if e := cmplx.Abs(c/s/cmplx.Sqrt(u) - 1); !(e < 1e-13) {
			t.Errorf("u = %v: coth misses 1 by %.1e", u, e)
		}
	}
}
