package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"ocarina/acoustic"
	"ocarina/air"
)

// horn is a tapered duct.
func horn(shape Taper, length, from, to float64) (*Duct, *parts) {
	p := new(parts)
	d := p.duct(Ground, Ground, length, from)
	d.ToArea, d.Taper = p.value(to), shape
	return d, p
}

// apart is the largest difference of the entries of two chain matrices, each
// against the larger of its own and what the others make of it: a·d and b·c
// count alike, as a·d − b·c = 1.
func apart(m, n chain) (most float64) {
	for _, e := range [4][3]complex128{{m.a, n.a, m.d}, {m.b, n.b, m.c}, {m.c, n.c, m.b}, {m.d, n.d, m.a}} {
		most = math.Max(most, cmplx.Abs(e[0]-e[1])/math.Max(cmplx.Abs(e[1]), 1/math.Max(cmplx.Abs(e[2]), 1e-30)*0.1))
	}
	return most
}

// A lossless cone and exponential horn are solved as by their closed formulas,
// to two millionths of a decibel (2.3e-7).
func TestTapersAgreeWithClosedFormulas(t *testing.T) {
	m := air.Reference()
	for _, shape := range []Taper{Conical, Exponential} {
		for _, row := range [][3]float64{
			{0.3, 0.005, 0.006}, {0.5, 0.004, 0.02}, {1.2, 0.0004, 0.04}, {2, 0.06, 0.004}, {0.9, 0.02, 0.4}, {0.4, 0.01, 1e-5}, {3, 0.01, 0.01},
		} {
			d, p := horn(shape, row[0], row[1], row[2])
			for _, f := range []float64{0, 1, 30, 100, 333, 1000, 3000} {
				w := 2 * math.Pi * f
				point := &Point{Omega: w, Values: p.values}
				got := d.taper(point, reach{0, 1}, make([]complex128, d.Keep()))
				closed := acoustic.Cone
				if shape == Exponential {
					closed = acoustic.ExponentialHorn
				}
				if w == 0 {
					w = point.sluggish()
				}
				z, y := complex(0, w*m.Density), complex(0, w/m.Stiffness())
				// Displacement in place of velocity: b·jω and c/jω.
				c := closed(z, y, row[1], row[2], row[0])
				jw := complex(0, w)
				want := chain{c.A, c.B * jw, c.C / jw, c.D}
				if off := apart(got, want); !(off <= 2.3e-7) {
					t.Errorf("taper %d, %v, %g Hz: %.9g, closed %.9g: %.2g apart in %d pieces", shape, row, f, got, want, off, d.pieces(point))
				}
			}
		}
	}
}

// Halving the pieces of a lossy taper makes the error 2⁶ times smaller.
func TestTaperOrder(t *testing.T) {
	for _, shape := range []Taper{Conical, Exponential} {
		d, p := horn(shape, 0.8, 0.004, 0.05)
		d.Lossy = true
		d.Fill, d.Resistivity = p.value(0.2), p.value(3000)
		point := &Point{Omega: 2 * math.Pi * 400, Values: p.values}
		whole := func(all int) chain {
			m := chain{1, 0, 0, 1}
			for n := all - 1; n >= 0; n-- {
				q := d.piece(point, step(n, all), false)
				m = q.chain().times(m)
			}
			return m
		}
		exact := whole(400)
		coarse, fine := apart(whole(12), exact), apart(whole(24), exact)
		if order := math.Log2(coarse / fine); !(order > 5.7 && order < 6.3) {
			t.Errorf("taper %d: errors %.2g and %.2g, order %.2f", shape, coarse, fine, order)
		}
	}
}

// Whatever its losses, a taper passes volume on and reciprocates: its chain
// matrix has determinant 1. With equal ends it is the uniform duct.
func TestTaperLimits(t *testing.T) {
	for _, f := range []float64{3, 80, 900} {
		point := func(p *parts) *Point { return &Point{Omega: 2 * math.Pi * f, Values: p.values} }
		d, p := horn(Conical, 0.7, 0.003, 0.02)
		d.Lossy = true
		m := d.taper(point(p), reach{0, 1}, make([]complex128, d.Keep()))
		if off := cmplx.Abs(m.a*m.d - m.b*m.c - 1); off > 1e-12 {
			t.Errorf("%g Hz: determinant off by %.2g", f, off)
		}
		radius := 0.02
		area := math.Pi * radius * radius
		for _, shape := range []Taper{Conical, Exponential} {
			d, p := horn(shape, 0.7, area, area)
			d.Lossy = true
			got := d.taper(point(p), reach{0, 1}, make([]complex128, d.Keep()))
			q := new(parts)
			u := q.duct(Ground, Ground, 0.7, area)
			u.Radius = q.value(radius)
			want := u.body(&Point{Omega: 2 * math.Pi * f, Values: q.values}, nil)
			if off := apart(got, want); off > 1e-12 {
				t.Errorf("%g Hz, %s: %.2g from the uniform duct", f, fmt.Sprint(shape), off)
			}
		}
	}
}

// A uniform duct's chain is the transmission line's of any textbook, with the
// propagation and characteristic impedance of its immittance per length.
func TestUniformDuctIsATransmissionLine(t *testing.T) {
	const radius, length, perimeter = 0.018, 0.6, 0.23
	const area = math.Pi * radius * radius
	m := air.Reference()
	for name, tube := range map[string]acoustic.Duct{"round": {Radius: radius}, "rectangular": {Perimeter: perimeter}, "smooth": {}} {
		tube.Density, tube.Speed, tube.Viscosity, tube.Gamma, tube.Prandtl, tube.Area = m.Density, m.Speed, m.Viscosity, m.Gamma, m.Prandtl, area
		p := new(parts)
		d := p.duct(Ground, Ground, length, area)
		if tube.Radius > 0 {
			d.Radius = p.value(tube.Radius)
		}
		if tube.Perimeter > 0 {
			d.Perimeter = p.value(tube.Perimeter)
		}
		for _, f := range []float64{5, 60, 700} {
			w := 2 * math.Pi * f
			i := tube.Immittance(w)
			gamma, z := cmplx.Sqrt(i.Z*i.Y)*complex(length, 0), cmplx.Sqrt(i.Z/i.Y)
			jw := complex(0, w)
			want := chain{cmplx.Cosh(gamma), z * cmplx.Sinh(gamma) * jw, cmplx.Sinh(gamma) / z / jw, cmplx.Cosh(gamma)}
			if off := apart(d.body(&Point{Omega: w, Values: p.values}, nil), want); off > 1e-11 {
				t.Errorf("%s, %g Hz: %.2g apart", name, f, off)
			}
		}
	}
}

// At rest the air of a duct with real walls, and that along a chamber's, has
// the temperature of the walls: compliance γ times the adiabatic.
func TestAirAtRestIsIsothermal(t *testing.T) {
	m := air.Reference()
	p := new(parts)
	round, wetted, smooth := p.duct(Ground, Ground, 0.4, 0.01), p.duct(Ground, Ground, 0.4, 0.01), p.duct(Ground, Ground, 0.4, 0.01)
	round.Radius, wetted.Perimeter = p.value(math.Sqrt(0.01/math.Pi)), p.value(0.5)
	c := &Chamber{Volume: p.value(0.004), Wall: p.value(0.2), Fill: None, Leak: None, Air: m}
	point := &Point{Values: p.values}
	adiabatic := 0.004 / m.Stiffness()
	for name, pair := range map[string][2]float64{
		"round":   {real(round.body(point, nil).c), m.Gamma * adiabatic},
		"wetted":  {real(wetted.body(point, nil).c), m.Gamma * adiabatic},
		"smooth":  {real(smooth.body(point, nil).c), adiabatic},
		"chamber": {real(c.Compliance(point)), m.Gamma * adiabatic},
	} {
		if math.Abs(pair[0]/pair[1]-1) > 1e-12 {
			t.Errorf("%s: compliance %g, want %g", name, pair[0], pair[1])
		}
	}
}
