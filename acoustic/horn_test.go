package acoustic

import (
	"math"
	"math/cmplx"
	"testing"
)

func (a Chain) then(b Chain) Chain {
	return Chain{
		a.A*b.A + a.B*b.C, a.A*b.B + a.B*b.D,
		a.C*b.A + a.D*b.C, a.C*b.B + a.D*b.D,
	}
}

func (a Chain) apart(b Chain) float64 {
	worst := 0.0
	for _, p := range [][2]complex128{{a.A, b.A}, {a.B, b.B}, {a.C, b.C}, {a.D, b.D}} {
		worst = max(worst, cmplx.Abs(p[0]-p[1])/cmplx.Abs(p[1]))
	}
	return worst
}

type piece func(z, y complex128, s1, s2, l float64) Chain

// air of 1.2 kg/m³ and 343 m/s, unit cube, with a little loss
func cube(f float64) (z, y complex128) {
	w := 2 * math.Pi * f
	return complex(0.02*w, 1.2*w), complex(1e-9*w, w/(1.2*343*343))
}

// A horn is the limit of a staircase of straight pieces, whose error falls as
// the square of the step. This knows nothing of the closed forms.
func TestHornsAgainstStaircase(t *testing.T) {
	const s1, s2, l = 0.002, 0.03, 0.8
	areas := map[string]func(x float64) float64{
		"cone": func(x float64) float64 {
			r := math.Sqrt(s1) + (math.Sqrt(s2)-math.Sqrt(s1))*x
			return r * r
		},
		"exponential": func(x float64) float64 { return s1 * math.Pow(s2/s1, x) },
	}
	for name, horn := range map[string]piece{"cone": Cone, "exponential": ExponentialHorn} {
		for _, f := range []float64{20, 150, 400} {
			z, y := cube(f)
			want := horn(z, y, s1, s2, l)
			stair := func(n int) float64 {
				all := Chain{A: 1, D: 1}
				for i := range n {
					s := areas[name]((float64(i) + 0.5) / float64(n))
					all = all.then(Cone(z, y, s, s, l/float64(n)))
				}
				return all.apart(want)
			}
			coarse, fine := stair(200), stair(800)
			if order := math.Log(coarse/fine) / math.Log(4); !(fine < 1e-4 && math.Abs(order-2) < 0.05) {
				t.Errorf("%s at %g Hz: differs by %.2e, order %.3f", name, f, fine, order)
			}
		}
	}
}

func TestHornLaws(t *testing.T) {
	for name, horn := range map[string]piece{"cone": Cone, "exponential": ExponentialHorn} {
		for _, f := range []float64{1, 80, 700} {
			z, y := cube(f)
			m := horn(z, y, 0.02, 0.004, 0.5)
			if e := cmplx.Abs(m.A*m.D - m.B*m.C - 1); !(e < 1e-12) {
				t.Errorf("%s at %g Hz: determinant misses 1 by %.1e", name, f, e)
			}
			back := horn(z, y, 0.004, 0.02, 0.5)
			if e := back.apart(Chain{m.D, m.B, m.C, m.A}); !(e < 1e-12) {
				t.Errorf("%s at %g Hz: turned round it differs by %.1e", name, f, e)
			}
		}
		// no change of area: a straight duct
		z, y := cube(300)
		c, s, _ := Propagation(z * y * 0.25)
		if e := horn(z, y, 0.01, 0.01, 0.5).apart(Chain{c, z * s * 50, y * s * 0.005, c}); !(e < 1e-14) {
			t.Errorf("%s of equal ends differs from a duct by %.1e", name, e)
		}
		// at rest it lets pressure and flow through and holds no surprise
		if m := horn(0, 0, 0.02, 0.004, 0.5); cmplx.Abs(m.A-1) > 1e-14 || m.B != 0 || m.C != 0 || cmplx.Abs(m.D-1) > 1e-14 {
			t.Errorf("%s at rest: %v", name, m)
		}
	}
}

// Resonances every text gives.
func TestTextbookResonances(t *testing.T) {
	const l, c, rho = 0.7, 343.0, 1.2
	at := func(f float64) (z, y complex128) {
		w := 2 * math.Pi * f
		return complex(0, w*rho), complex(0, w/(rho*c*c))
	}
	for n := 1.0; n <= 4; n++ {
		// stopped pipe: odd quarter waves (U1 = D·U2 with p2 = 0)
		z, y := at((2*n - 1) * c / (4 * l))
		near(t, "stopped pipe", cmplx.Abs(Cone(z, y, 0.01, 0.01, l).D), 0, 1e-14)
		// a cone closed at its tip sounds like the open pipe: half waves
		z, y = at(n * c / (2 * l))
		near(t, "cone", cmplx.Abs(Cone(z, y, 1e-16, 0.01, l).D), 0, 1e-6)
		// closed by lids at both ends an exponential horn rings at
		// k² = h² + (nπ/l)², h = ln(s2/s1)/(2l)
		h := math.Log(9) / (2 * l)
		z, y = at(c / (2 * math.Pi) * math.Hypot(h, n*math.Pi/l))
		m := ExponentialHorn(z, y, 0.001, 0.009, l)
		near(t, "exponential horn", cmplx.Abs(m.C)*rho*c/0.003, 0, 1e-13)
	}
	// the volume of a frustum as a spring, its ∫dx/S as a mass
	z, y := at(1e-5)
	m := Cone(z, y, 0.01, 0.04, l)
	near(t, "volume", real(m.C/y), l*(0.01+0.02+0.04)/3, 1e-12)
	near(t, "mass", real(m.B/z), l/0.02, 1e-9)
	m = ExponentialHorn(z, y, 0.01, 0.04, l)
	near(t, "mass", real(m.B/z), l*(1/0.01-1/0.04)/math.Log(4), 1e-9)
	near(t, "volume", real(m.C/y), l*(0.04-0.01)/math.Log(4), 1e-12)
}
