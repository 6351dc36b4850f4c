package network

import "math"

// inner is the air at a fraction of a tapered duct's length: pressure and
// displacement, and how fast the logarithm of their speed grows there.
type inner struct {
	pressure, flow complex128
	growth         float64 // of |flow|/area per fraction of the length
}

// grow fills in the growth.
func (d *Duct) grow(p *Point, c *contour, t float64, s *inner) {
	area := c.area(t)
	var l local
	d.at(p, d.wall(), area, math.Sqrt(area/math.Pi), false, &l)
	fall := l.c * s.pressure // of the displacement, per metre
	s.growth = -p.Values[d.Length]*(real(fall)*real(s.flow)+imag(fall)*imag(s.flow))/square(s.flow) - c.widening(t)
}

// Fastest looks for where between the ends of a tapered duct of the plan its air
// is fastest: the largest |flow|/area over the fraction t of the length from From,
// with the displacement and the area there, given the solution x of the last Factor.
// It is inside if the air is faster there than at both ends.
//
// Of the ends of the pieces that the taper is solved in, at least 31 a
// wavelength, the fastest has the maximum beside it, which is where the growth
// changes sign.
func (w *Workspace) Fastest(d *Duct, x []complex128) (t float64, flow complex128, area float64, inside bool) {
	q := &w.plan.parts[w.plan.ducts[d]]
	t, flow, inside = d.fastest(&w.point, x, w.keep[q.keep:q.keep+q.kept])
	if inside {
		area = d.AreaAt(&w.point, t)
	}
	return t, flow, area, inside
}

func (d *Duct) fastest(p *Point, x, keep []complex128) (t float64, flow complex128, inside bool) {
	if d.ToArea == None || p.Omega == 0 {
		return 0, 0, false
	}
	all, c := d.pieces(p), d.contour(p)
	pressure, ends := d.far(p, x)
	each := group(all)
	// back goes on over the piece after n, from its far end.
	back := func(n int, s inner) inner {
		if n%each == 0 {
			s.pressure, s.flow = kept(keep, n/each).apply(pressure, ends)
		} else {
			q := d.piece(p, &c, step(n, all), false)
			s.pressure, s.flow = q.chain().apply(s.pressure, s.flow)
		}
		return s
	}
	at := func(n int) (s inner) {
		for i := (n + each - 1) / each * each; i >= n; i-- {
			s = back(i, s)
		}
		return s
	}
	best, most := 0, -1.0
	var s inner
	for n := all; n >= 0; n-- {
		s = back(n, s)
		if n == 0 && d.From == Sealed {
			break
		}
		area := c.area(float64(n) / float64(all))
		if v := square(s.flow) / (area * area); v > most {
			best, most = n, v
		}
	}
	if !(most > 0) {
		return 0, 0, false
	}
	peak := at(best)
	d.grow(p, &c, float64(best)/float64(all), &peak)
	low, high := best, best+1
	if peak.growth < 0 {
		low, high = best-1, best
	}
	if low < 0 || high > all || peak.growth == 0 {
		return float64(best) / float64(all), peak.flow, best > 0 && best < all
	}
	// From the far end of the piece its inside is as exact as the rest.
	piece := step(low, all)
	beyond := at(high)
	a, b := at(low), beyond
	d.grow(p, &c, piece.from, &a)
	d.grow(p, &c, piece.to, &b)
	if low == 0 && d.From == Sealed { // no air moves there, and all growth begins
		a.growth = -b.growth
	}
	t, flow = float64(best)/float64(all), peak.flow
	if !(a.growth > 0 && b.growth < 0) {
		return t, flow, best > 0 && best < all
	}
	from, to := piece.from, piece.to
	up, down := a.growth, b.growth
	for range 40 {
		part := math.Min(math.Max(up/(up-down), 1e-3), 1-1e-3)
		t = from + part*(to-from)
		q := d.piece(p, &c, reach{t, piece.to}, false)
		var s inner
		s.pressure, s.flow = q.chain().apply(beyond.pressure, beyond.flow)
		d.grow(p, &c, t, &s)
		flow = s.flow
		if math.Abs(s.growth)*(to-from) < 1e-13 { // what is left to gain
			break
		}
		switch {
		case s.growth > 0: // the Illinois rule
			from, up, down = t, s.growth, down/2
		default:
			to, down, up = t, s.growth, up/2
		}
	}
	return t, flow, true
}

// InsideWeights are what the displacement at a fraction t of a taper's length takes
// of the unknowns To and Flow.
func (d *Duct) InsideWeights(p *Point, t float64) (perTo, perFlow complex128) {
	m := d.taper(p, reach{t, 1}, make([]complex128, d.Keep()))
	return m.c, m.c*d.end(p, 1) + m.d
}

// InsideSlopes is the derivative of w·flow/area inside a taper: it adds what comes
// by the duct's own values to grad, what comes by the unknowns to unknowns, and
// returns what comes by ω.
func (d *Duct) InsideSlopes(p *Point, x []complex128, t float64, w complex128, unknowns, grad []complex128) (omega complex128) {
	keep := make([]complex128, d.Keep())
	m := d.taper(p, reach{t, 1}, keep)
	pressure, end := d.far(p, x)
	_, flow := m.apply(pressure, end)
	c := d.contour(p)
	area := c.area(t)
	perFrom, perTo := c.slopes(t, area)
	w *= complex(1/area, 0)
	grad[d.Area] -= w * flow * complex(perFrom/area, 0)
	grad[d.ToArea] -= w * flow * complex(perTo/area, 0)
	if d.To != Ground {
		unknowns[d.To] += w * m.c
	}
	unknowns[d.Flow] += w * (m.c*d.end(p, 1) + m.d)
	omega = d.endSlopes(p, 1, w*m.c*end, grad)
	return omega + d.taperSlopes(p, reach{t, 1}, keep, chain{c: w * pressure, d: w * end}, grad)
}
