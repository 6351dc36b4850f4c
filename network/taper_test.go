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

// So are horns of hundreds of waves, whose pieces are kept in groups, to a
// hundred thousandth; and their slopes are those of differences.
func TestLongTapers(t *testing.T) {
	m := air.Reference()
	for _, shape := range []Taper{Conical, Exponential} {
		for _, row := range [][4]float64{{20, 1e-4, 10, 2000}, {100, 1e-4, 100, 5000}, {100, 1e-4, 1e-4, 3000}} {
			length, from, to, f := row[0], row[1], row[2], row[3]
			d, p := horn(shape, length, from, to)
			w := 2 * math.Pi * f
			point := &Point{Omega: w, Values: p.values}
			if all := d.pieces(point); group(all) < 2 || 5*w/m.Speed*length > float64(all) {
				t.Errorf("%v: %d pieces", row, all)
			}
			keep := make([]complex128, d.Keep())
			got := d.taper(point, reach{0, 1}, keep)
			closed := acoustic.Cone
			if shape == Exponential {
				closed = acoustic.ExponentialHorn
			}
			z, y := complex(0, w*m.Density), complex(0, w/m.Stiffness())
			c := closed(z, y, from, to, length)
			jw := complex(0, w)
			want := chain{c.A, c.B * jw, c.C / jw, c.D}
			if off := apart(got, want); !(off <= 1e-5) {
				t.Errorf("taper %d, %v: %.9g, closed %.9g: %.2g apart", shape, row, got, want, off)
			}
			// The slope of the pressure entry by the length.
			grad := make([]complex128, len(p.values))
			d.taperSlopes(point, reach{0, 1}, keep, chain{a: 1}, grad)
			const step = 1e-6
			moved := func(by float64) complex128 {
				p.values[d.Length] = length * (1 + by)
				defer func() { p.values[d.Length] = length }()
				m := d.taper(point, reach{0, 1}, keep)
				return m.a
			}
			slope := (moved(step) - moved(-step)) / complex(2*step*length, 0)
			if got := grad[d.Length]; cmplx.Abs(got-slope) > 1e-4*cmplx.Abs(slope) {
				t.Errorf("taper %d, %v: %.6g by the length, by differences %.6g", shape, row, got, slope)
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
			m, c := chain{1, 0, 0, 1}, d.contour(point)
			for n := all - 1; n >= 0; n-- {
				q := d.piece(point, &c, step(n, all), false)
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

// What a lossless taper holds follows from its closed formula alone: with the
// state at its far end fixed, d(p·ξ)/ds = b·ξ² + c·p² and d(p_ω·ξ − ξ_ω·p)/ds =
// (2/ω)·b·ξ² going back, so that the ends tell both energies.
func TestTaperEnergies(t *testing.T) {
	m := air.Reference()
	for _, shape := range []Taper{Conical, Exponential} {
		closed := acoustic.Cone
		if shape == Exponential {
			closed = acoustic.ExponentialHorn
		}
		for _, row := range [][3]float64{{0.5, 0.004, 0.02}, {1.2, 0.0004, 0.04}, {2, 0.06, 0.004}, {0.4, 0.01, 1e-5}} {
			d, p := horn(shape, row[0], row[1], row[2])
			for _, f := range []float64{30, 333, 812, 2000} {
				w := 2 * math.Pi * f
				const far, moved = 3.0, 2e-6 // Pa and m³ at the far end
				near := func(w float64) (pressure, flow float64) {
					c := closed(complex(0, w*m.Density), complex(0, w/m.Stiffness()), row[1], row[2], row[0])
					jw := complex(0, w)
					a, b := chain{c.A, c.B * jw, c.C / jw, c.D}.apply(far, moved)
					return real(a), real(b)
				}
				pressure, flow := near(w)
				h := 1e-3 * w
				p1, x1 := near(w + h)
				p2, x2 := near(w - h)
				p3, x3 := near(w + 2*h)
				p4, x4 := near(w - 2*h)
				perP, perX := (8*(p1-p2)-(p3-p4))/(12*h), (8*(x1-x2)-(x3-x4))/(12*h)
				kinetic := -w / 4 * (perP*flow - perX*pressure)
				potential := kinetic + (pressure*flow-far*moved)/2
				var got Budget
				d.walk(&Point{Omega: w, Values: p.values}, far, moved, &got)
				if math.Abs(got.Kinetic-kinetic) > 1e-6*kinetic || math.Abs(got.Potential-potential) > 1e-6*potential {
					t.Errorf("taper %d, %v, %g Hz: holds %.8g and %.8g, by its ends %.8g and %.8g J", shape, row, f, got.Kinetic, got.Potential, kinetic, potential)
				}
			}
		}
	}
}

// Inside a duct the air goes on from its ends: at them it is theirs, and in
// between it is what a duct of that length alone would make of the far end.
func TestInsideADuct(t *testing.T) {
	for _, shape := range []Taper{Uniform, Conical, Exponential} {
		d, p := horn(shape, 0.8, 0.004, 0.05)
		if shape == Uniform {
			d.ToArea = None
			d.Radius = p.value(0.035)
		}
		d.Lossy = true
		point := &Point{Omega: 2 * math.Pi * 700, Values: p.values}
		x := make([]complex128, 10)
		x[d.Flow] = complex(2e-6, 1e-6)
		whole := d.body(point, make([]complex128, d.Keep()))
		pressure, flow := whole.apply(0, x[d.Flow])
		same := func(what string, got, want complex128) {
			t.Helper()
			if cmplx.Abs(got-want) > 2e-7*cmplx.Abs(want) {
				t.Errorf("taper %d, %s: %.9g, want %.9g", shape, what, got, want)
			}
		}
		a, b := d.Inside(point, x, 0)
		same("pressure at the From end", a, pressure)
		same("flow at the From end", b, flow)
		a, b = d.Inside(point, x, 1)
		if a != 0 || b != x[d.Flow] {
			t.Errorf("taper %d: %g and %g at the To end", shape, a, b)
		}
		for _, at := range []float64{0.03, 0.37, 0.5, 0.81, 0.99} {
			part, q := horn(shape, 0.8*(1-at), 0, 0.05)
			if shape == Uniform {
				part.ToArea, part.Radius = None, q.value(0.035)
				q.values[part.Area] = 0.004
			} else {
				q.values[part.Area] = d.AreaAt(point, at)
			}
			part.Lossy = true
			want := part.body(&Point{Omega: point.Omega, Values: q.values}, make([]complex128, part.Keep()))
			pressure, flow := want.apply(0, x[d.Flow])
			a, b := d.Inside(point, x, at)
			same(fmt.Sprintf("pressure at %g", at), a, pressure)
			same(fmt.Sprintf("flow at %g", at), b, flow)
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
