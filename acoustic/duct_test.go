package acoustic

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

func TestDuctDerivatives(t *testing.T) {
	ideal, other := states["A"], states["A"]
	ideal.Area = 0.003
	other.Area, other.Perimeter = 0.001, 0.2
	ducts := map[string]Duct{
		"wide": round("A", 0.04), "narrow": round("B", 2e-4), "ideal": ideal, "slit": other,
	}
	slope := func(f func(x float64) Immittance, x float64) Immittance {
		h := 1e-5 * x
		up, down := f(x+h), f(x-h)
		return Immittance{(up.Z - down.Z) / complex(2*h, 0), (up.Y - down.Y) / complex(2*h, 0)}
	}
	for name, d := range ducts {
		for _, f := range []float64{7, 60, 900} {
			w := 2 * math.Pi * f
			m, byArea, byShape, byOmega := d.Derivatives(w)
			if m != d.Immittance(w) {
				t.Errorf("%s: Immittance differs from Derivatives", name)
			}
			check := func(what string, by float64, got, want Immittance) {
				t.Helper()
				// Each part for itself, for the loss is much the smaller; the
				// rounding of the differences comes from the whole.
				z, y := 1e-10*cmplx.Abs(m.Z)/by, 1e-10*cmplx.Abs(m.Y)/by
				for _, p := range [][3]float64{
					{real(got.Z), real(want.Z), z}, {imag(got.Z), imag(want.Z), z},
					{real(got.Y), real(want.Y), y}, {imag(got.Y), imag(want.Y), y},
				} {
					if !(math.Abs(p[0]-p[1]) <= 1e-8*math.Abs(p[1])+p[2]) {
						t.Errorf("%s, %g Hz, by %s: %v, differences %v", name, f, what, got, want)
						return
					}
				}
			}
			check("area", d.Area, byArea, slope(func(x float64) Immittance { e := d; e.Area = x; return e.Immittance(w) }, d.Area))
			check("ω", w, byOmega, slope(d.Immittance, w))
			switch {
			case d.Radius > 0:
				check("radius", d.Radius, byShape, slope(func(x float64) Immittance { e := d; e.Radius = x; return e.Immittance(w) }, d.Radius))
			case d.Perimeter > 0:
				check("perimeter", d.Perimeter, byShape, slope(func(x float64) Immittance { e := d; e.Perimeter = x; return e.Immittance(w) }, d.Perimeter))
			default:
				check("nothing", 1, byShape, Immittance{})
			}
		}
	}
}

// Walls take energy and never give it.
func TestDuctIsPassive(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	for range 2000 {
		d := states["A"]
		d.Area = math.Exp(-18 + 16*random.Float64())
		if random.Float64() < 0.5 {
			d.Radius = math.Sqrt(d.Area / math.Pi)
		} else {
			d.Perimeter = math.Sqrt(4*math.Pi*d.Area) * (1 + 20*random.Float64())
		}
		f := math.Exp(-3 + 12*random.Float64())
		m := d.Immittance(2 * math.Pi * f)
		if !(real(m.Z) > 0 && real(m.Y) > 0 && imag(m.Y) > 0) || cmplx.IsInf(m.Z) {
			t.Fatalf("%+v at %g Hz: %+v", d, f, m)
		}
	}
}

// The thin boundary layer is what a wide round duct tends to: the difference
// of the two F falls as 1/s².
func TestDuctThinLayerOrder(t *testing.T) {
	gap := func(f float64) float64 {
		d := round("A", 0.05)
		thin := d
		thin.Radius, thin.Perimeter = 0, 2*math.Pi*d.Radius
		a, b := d.Immittance(2*math.Pi*f), thin.Immittance(2*math.Pi*f)
		return cmplx.Abs(a.Y-b.Y) / cmplx.Abs(a.Y)
	}
	if order := math.Log2(gap(100)/gap(1600)) / 4; math.Abs(order-1) > 0.02 { // s² ∝ f
		t.Errorf("the gap falls as f^−%.3f, want f^−1", order)
	}
}

func TestDuctAtRest(t *testing.T) {
	d := round("A", 0.001)
	m, byArea, byShape, byOmega := d.Derivatives(0)
	want := 8 * d.Viscosity / (math.Pi * math.Pow(d.Radius, 4))
	if !(math.Abs(real(m.Z)/want-1) < 1e-14) || imag(m.Z) != 0 || m.Y != 0 {
		t.Errorf("at 0 Hz: %+v, Poiseuille %g", m, want)
	}
	near(t, "d ln R/d ln a + 2·d ln R/d ln S",
		(real(byShape.Z)*d.Radius+2*real(byArea.Z)*d.Area)/want, -4, 1e-13)
	// continues into the smallest frequencies
	const w = 1e-4
	low, _, _, slope := d.Derivatives(w)
	if e := cmplx.Abs(low.Z - m.Z - complex(w, 0)*byOmega.Z); !(e < 1e-9*want) {
		t.Errorf("Z′ at ω = %g is off by %g", w, e)
	}
	if e := cmplx.Abs(slope.Y-byOmega.Y) / cmplx.Abs(byOmega.Y); !(e < 1e-4) {
		t.Errorf("dY′/dω at ω = %g is off by %g", w, e)
	}
	d.Radius, d.Perimeter = 0, 0.01
	if m := d.Immittance(0); m != (Immittance{}) {
		t.Errorf("thin layer at 0 Hz: %+v", m)
	}
}
