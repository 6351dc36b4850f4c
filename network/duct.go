package network

import (
	"math"
	"math/cmplx"

	"ocarina/acoustic"
	"ocarina/air"
)

// Duct is a port or one section of a line: air of constant or tapered
// cross-section between two pressures, or Count equal ones side by side, each
// with an end mass and a resistance in series at either end.
//
// Along it p' = −Z′U and U' = −Y′p with
//
//	Z′ = jωρ/S/(1 − F_v),  Y′ = jωS/(ρc²)·(1 + (γ−1)·F_t)
//
// (Zwikker & Kosten 1949; Stinson, JASA 89, 1991), F the round duct's ratio
// (acoustic.LossRatio) where Radius is given, perimeter/(2S)·δ·(1−j) where
// Perimeter is, zero where neither is (ideal walls). Fill adds fill·σ/S to Z′
// and multiplies Y′ by 1 + (γ−1)·fill/(1 + jωρPr/σ), as in a Chamber.
//
// The flows are displacements of each member: Flow at the To end and Entry at
// the From end, both positive from From to To.
type Duct struct {
	From, To    Unknown // pressures; From may be Sealed
	Open        [2]bool // From and To are at the outside, see Mouths
	Flow, Entry Unknown
	Count       float64
	Length      Value // m
	Area        Value // S, m², at the From end of a tapered duct
	Radius      Value // of a round duct with real walls, m, or None
	Perimeter   Value // of another one, m, or None
	ToArea      Value // of a tapered duct, m², or None
	Taper       Taper
	Mass        [2]Value // end corrections Δ, m, or None: ρΔ/S at From and To
	Resistance  Value    // in series, half at either end, Pa s/m³, or None
	Fill        Value    // 0..1, or None
	Resistivity Value    // Pa s/m², with Fill
	Lossy       bool     // of a tapered duct: real walls by local radius
	Air         air.Medium
}

// Sealed is what the From end of a duct is joined to when it is closed.
const Sealed Unknown = -2

// Taper is how the area goes from Area to ToArea along a duct.
type Taper uint8

const (
	Uniform     Taper = iota
	Conical           // the radius grows evenly
	Exponential       // the area grows by equal factors
)

// Pattern implements Element.
func (d *Duct) Pattern() []Place {
	from, to := balance(d.From, d.Open[0]), balance(d.To, d.Open[1])
	if d.From == Sealed {
		return []Place{{d.Flow, d.To}, {d.Flow, d.Flow}, {to, d.Flow}}
	}
	return []Place{
		{d.Flow, d.From}, {d.Flow, d.To}, {d.Flow, d.Flow},
		{d.Entry, d.Entry}, {d.Entry, d.To}, {d.Entry, d.Flow},
		{from, d.Entry}, {to, d.Flow},
	}
}

// local is the air in a short length of duct: X = jωZ′ and C = Y′/jω, which
// stay finite towards ω = 0, and what they depend on.
type local struct {
	x, c     complex128
	dx, dc   complex128 // per metre of radius or perimeter
	xs, cs   complex128 // per square metre of area
	xo, co   complex128 // per rad/s
	xr, cr   complex128 // per Pa s/m² of flow resistivity
	xf, cf   complex128 // per unit of fill
	vent     complex128 // 1 + (γ−1)·fill/(1+jωτ), 1 without fill
	stuffing float64
}

// wall says by which formula the walls act.
type wall uint8

const (
	smooth wall = iota
	round
	wetted
)

func (d *Duct) wall() wall {
	switch {
	case d.Radius != None || d.ToArea != None && d.Lossy:
		return round
	case d.Perimeter != None:
		return wetted
	}
	return smooth
}

// at works out the local air, empty before, for area s and radius or perimeter
// g.
func (d *Duct) at(p *Point, kind wall, s, g float64, slopes bool, l *local) {
	m := &d.Air
	w := p.sluggish()
	mass := -w * w * m.Density / s
	spring := s / m.Stiffness()
	l.vent = 1
	switch kind {
	case smooth:
		l.x, l.c = complex(mass, 0), complex(spring, 0)
		if slopes {
			l.xo = complex(2*mass/w, 0)
		}
	case round:
		shear := g * math.Sqrt(w*m.Density/m.Viscosity)
		heat := shear * math.Sqrt(m.Prandtl)
		e, de := acoustic.LossComplement(shear)
		f, df := acoustic.LossRatio(heat)
		gain := complex(m.Gamma-1, 0)
		l.x = complex(mass, 0) * reciprocal(e)
		l.c = complex(spring, 0) * (1 + gain*f)
		if slopes {
			k := -l.x * de * reciprocal(e)
			l.dx = k * complex(shear/g, 0)
			l.dc = complex(spring, 0) * gain * df * complex(heat/g, 0)
			l.xo = l.x*complex(2/w, 0) + k*complex(shear/(2*w), 0)
			l.co = complex(spring, 0) * gain * df * complex(heat/(2*w), 0)
		}
	case wetted:
		k := g / (2 * s) * math.Sqrt(2*m.Viscosity/(m.Density*w))
		f := complex(k, -k)
		k *= (m.Gamma - 1) / math.Sqrt(m.Prandtl)
		h := complex(k, -k)
		inv := reciprocal(1 - f)
		l.x = complex(mass, 0) * inv
		l.c = complex(spring, 0) * (1 + h)
		if p.Omega == 0 { // all the air is at wall temperature
			l.c = complex(spring*m.Gamma, 0)
		}
		if slopes {
			k := l.x * inv * f
			l.dx = k * complex(1/g, 0)
			l.dc = complex(spring, 0) * h * complex(1/g, 0)
			l.xs = -k * complex(1/s, 0)
			l.cs = -complex(spring, 0) * h * complex(1/s, 0)
			l.xo = l.x*complex(2/w, 0) - k*complex(1/(2*w), 0)
			l.co = -complex(spring, 0) * h * complex(1/(2*w), 0)
		}
	}
	if slopes {
		l.xs -= l.x * complex(1/s, 0)
		l.cs += l.c * complex(1/s, 0)
	}
	if d.Fill != None {
		d.stuff(p, l, s, slopes)
	}
}

func (d *Duct) stuff(p *Point, l *local, s float64, slopes bool) {
	fill, sigma, w := p.Values[d.Fill], p.Values[d.Resistivity], p.sluggish()
	drag := complex(0, w/s) // X per fill·σ
	tau := d.Air.Density * d.Air.Prandtl / sigma
	heat := complex(d.Air.Gamma-1, 0) * reciprocal(complex(1, w*tau))
	bare := l.c
	l.vent = 1 + complex(fill, 0)*heat
	l.x += drag * complex(fill*sigma, 0)
	l.c *= l.vent
	if !slopes {
		return
	}
	l.dc *= l.vent
	l.cs *= l.vent
	l.co *= l.vent
	l.xs -= drag * complex(fill*sigma/s, 0)
	l.xo += complex(0, fill*sigma/s)
	l.xf, l.cf = drag*complex(sigma, 0), bare*heat
	l.xr = drag * complex(fill, 0)
	lag := complex(0, tau) * reciprocal(complex(1, w*tau))
	l.cr = bare * complex(fill, 0) * heat * lag * complex(w/sigma, 0)
	l.co -= bare * complex(fill, 0) * heat * lag
}

// chain is a two-port in displacement form: [p; ξ] at From from those at To.
type chain struct{ a, b, c, d complex128 }

func (m chain) times(n chain) chain {
	return chain{m.a*n.a + m.b*n.c, m.a*n.b + m.b*n.d, m.c*n.a + m.d*n.c, m.c*n.b + m.d*n.d}
}

// apply carries pressure and displacement from the To side to the From side.
func (m chain) apply(pressure, flow complex128) (complex128, complex128) {
	return m.a*pressure + m.b*flow, m.c*pressure + m.d*flow
}

// Keep implements Element: the duct's chain matrix without its ends, and of a
// tapered one what follows each group of pieces.
func (d *Duct) Keep() int {
	if d.ToArea == None {
		return 4
	}
	return 4 * (mostKept + 1)
}

// uniform returns the chain matrix of a length of uniform duct and works out its
// air; s is length·sinh √u/√u and ds its counterpart from acoustic.Propagation.
func (d *Duct) uniform(p *Point, length float64, slopes bool, l *local) (m chain, s, ds complex128) {
	g := 0.0
	kind := d.wall()
	switch kind {
	case round:
		g = p.Values[d.Radius]
	case wetted:
		g = p.Values[d.Perimeter]
	}
	d.at(p, kind, p.Values[d.Area], g, slopes, l)
	u := l.x * l.c * complex(length*length, 0)
	var c complex128
	if slopes {
		c, s, ds = acoustic.Propagation(u)
	} else {
		c, s = acoustic.PropagationOnly(u)
	}
	s *= complex(length, 0)
	return chain{c, l.x * s, l.c * s, c}, s, ds
}

// body returns the duct's own chain matrix.
func (d *Duct) body(p *Point, keep []complex128) chain {
	if d.ToArea == None {
		var l local
		m, _, _ := d.uniform(p, p.Values[d.Length], false, &l)
		return m
	}
	return d.taper(p, reach{0, 1}, keep)
}

// end returns the series impedance of one end, times jω.
func (d *Duct) end(p *Point, n int) complex128 {
	var z complex128
	w := p.sluggish()
	if d.Mass[n] != None {
		s := d.Area
		if n == 1 && d.ToArea != None {
			s = d.ToArea
		}
		z = complex(-w*w*d.Air.Density*p.Values[d.Mass[n]]/p.Values[s], 0)
	}
	if d.Resistance != None {
		z += complex(0, w*p.Values[d.Resistance]/2)
	}
	return z
}

// whole adds the ends to the body.
func (d *Duct) whole(p *Point, m chain) chain {
	from, to := d.end(p, 0), d.end(p, 1)
	m.a += from * m.c
	m.b += from * m.d
	m.b += m.a * to
	m.d += m.c * to
	return m
}

// Stamp implements Element.
func (d *Duct) Stamp(p *Point, e, keep []complex128) {
	m := d.body(p, keep)
	keep[0], keep[1], keep[2], keep[3] = m.a, m.b, m.c, m.d
	m = d.whole(p, m)
	n := complex(d.Count, 0)
	if d.From == Sealed {
		e[0], e[1], e[2] = m.c, m.d, -n
		return
	}
	e[0], e[1], e[2] = -1, m.a, m.b
	e[3], e[4], e[5] = 1, -m.c, -m.d
	e[6], e[7] = n, -n
}

// Slopes implements Element.
func (d *Duct) Slopes(p *Point, keep, w, grad []complex128) (omega complex128) {
	var g chain // weights of the whole chain's entries
	if d.From == Sealed {
		g.c, g.d = w[0], w[1]
	} else {
		g.a, g.b, g.c, g.d = w[1], w[2], -w[4], -w[5]
	}
	m := chain{keep[0], keep[1], keep[2], keep[3]}
	from, to := d.end(p, 0), d.end(p, 1)
	// whole = [1 from; 0 1]·m·[1 to; 0 1]
	left := chain{m.a + from*m.c, m.b + from*m.d, m.c, m.d}
	omega += d.endSlopes(p, 1, g.b*left.a+g.d*left.c, grad)
	g.a += g.b * to // weights of left
	g.c += g.d * to
	omega += d.endSlopes(p, 0, g.a*m.c+g.b*m.d, grad)
	g.c += g.a * from // weights of m
	g.d += g.b * from
	if d.ToArea == None {
		return omega + d.uniformSlopes(p, g, grad)
	}
	return omega + d.taperSlopes(p, reach{0, 1}, keep, g, grad)
}

func (d *Duct) endSlopes(p *Point, n int, w complex128, grad []complex128) (omega complex128) {
	if d.Mass[n] != None {
		s := d.Area
		if n == 1 && d.ToArea != None {
			s = d.ToArea
		}
		per := w * complex(-p.Omega*p.Omega*d.Air.Density/p.Values[s], 0)
		grad[d.Mass[n]] += per
		z := per * complex(p.Values[d.Mass[n]], 0)
		grad[s] -= z * complex(1/p.Values[s], 0)
		omega += z * complex(2/p.Omega, 0)
	}
	if d.Resistance != None {
		grad[d.Resistance] += w * complex(0, p.Omega/2)
		omega += w * complex(0, p.Values[d.Resistance]/2)
	}
	return omega
}

func (d *Duct) uniformSlopes(p *Point, g chain, grad []complex128) complex128 {
	length := p.Values[d.Length]
	var l local
	_, s, ds := d.uniform(p, length, true, &l)
	gu := (g.a+g.d)*s*complex(1/(2*length), 0) + (g.b*l.x+g.c*l.c)*ds*complex(length, 0)
	sq := complex(length*length, 0)
	gx := gu*l.c*sq + g.b*s
	gc := gu*l.x*sq + g.c*s
	grad[d.Length] += gu*2*l.x*l.c*complex(length, 0) + (g.b*l.x+g.c*l.c)*s*complex(1/length, 0)
	grad[d.Area] += gx*l.xs + gc*l.cs
	if d.Radius != None {
		grad[d.Radius] += gx*l.dx + gc*l.dc
	} else if d.Perimeter != None {
		grad[d.Perimeter] += gx*l.dx + gc*l.dc
	}
	d.fillSlopes(&l, gx, gc, grad)
	return gx*l.xo + gc*l.co
}

func (d *Duct) fillSlopes(l *local, gx, gc complex128, grad []complex128) {
	if d.Fill != None {
		grad[d.Fill] += gx*l.xf + gc*l.cf
		grad[d.Resistivity] += gx*l.xr + gc*l.cr
	}
}

// Budget implements Accountable: integrals along the duct of what each slice of
// air holds and loses, and what its ends hold and lose.
func (d *Duct) Budget(p *Point, x []complex128) (b Budget) {
	w := p.Omega
	flow := x[d.Flow]
	for n := range 2 {
		u := flow
		if n == 0 {
			if d.From == Sealed {
				continue
			}
			u = x[d.Entry]
		}
		s := square(u)
		z := d.end(p, n)
		b.Kinetic -= real(z) * s / 2
		b.Loss += w * imag(z) * s
	}
	inside, _ := d.far(p, x)
	d.walk(p, inside, flow, &b)
	b.Kinetic *= d.Count
	b.Potential *= d.Count
	b.Loss *= d.Count
	return b
}

// Gauss–Legendre nodes and weights of order 8 on [0, 1]; Abramowitz & Stegun,
// table 25.4, halved.
var gaussNodes = [8]float64{
	0.5 - 0.9602898564975363/2, 0.5 - 0.7966664774136267/2, 0.5 - 0.5255324099163290/2, 0.5 - 0.1834346424956498/2,
	0.5 + 0.1834346424956498/2, 0.5 + 0.5255324099163290/2, 0.5 + 0.7966664774136267/2, 0.5 + 0.9602898564975363/2,
}

var gaussWeights = [8]float64{
	0.1012285362903763 / 2, 0.2223810344533745 / 2, 0.3137066458778873 / 2, 0.3626837833783620 / 2,
	0.3626837833783620 / 2, 0.3137066458778873 / 2, 0.2223810344533745 / 2, 0.1012285362903763 / 2,
}

// The solution obeys per metre, going back from the To end, p' = −k·p + b·ξ and
// ξ' = c·p + k·ξ; with Z′ = b/jω and U = jωξ, Im(Z′)/ω·|U|²/2 = −Re(b)·|ξ|²/2.

// hold adds what a length of air holds.
func (b *Budget) hold(length float64, air *swing, pressure, flow complex128) {
	b.Kinetic -= length * real(air.b) * square(flow) / 2
	b.Potential += length * real(air.c) * square(pressure) / 2
}

// lose adds what it loses.
func (b *Budget) lose(omega, length float64, air *swing, pressure, flow complex128) {
	b.Loss += length * omega * (imag(air.b)*square(flow) - imag(air.c)*square(pressure) - 2*imag(air.k)*real(cmplx.Conj(pressure)*flow))
}

// Inside returns the pressure and the displacement of the air of one member at a
// fraction t of a duct's length from its From end, off the solution x.
func (d *Duct) Inside(p *Point, x []complex128, t float64) (pressure, flow complex128) {
	if d.ToArea == None {
		var l local
		m, _, _ := d.uniform(p, (1-t)*p.Values[d.Length], false, &l)
		return m.apply(d.far(p, x))
	}
	return d.taper(p, reach{t, 1}, make([]complex128, d.Keep())).apply(d.far(p, x))
}

// far returns the pressure and displacement at the To end of the body.
func (d *Duct) far(p *Point, x []complex128) (pressure, flow complex128) {
	if d.To != Ground {
		pressure = x[d.To]
	}
	return pressure + d.end(p, 1)*x[d.Flow], x[d.Flow]
}

// AreaAt returns a duct's cross-section at a fraction t of its length from its
// From end, m².
func (d *Duct) AreaAt(p *Point, t float64) float64 {
	if d.ToArea == None {
		return p.Values[d.Area]
	}
	c := d.contour(p)
	return c.area(t)
}

// walk sums over Gauss points along the duct from the To end, with the pressure
// and displacement there. Stretches are short against a wavelength.
func (d *Duct) walk(p *Point, pressure, flow complex128, sum *Budget) {
	if d.ToArea != None {
		d.walkTaper(p, pressure, flow, sum)
		return
	}
	length := p.Values[d.Length]
	var l local
	d.uniform(p, 0, false, &l)
	turn := math.Sqrt(size(l.x*l.c)) * length
	n := 1 + int(turn)
	h := length / float64(n)
	step := func(h float64) chain {
		c, s := acoustic.PropagationOnly(l.x * l.c * complex(h*h, 0))
		s *= complex(h, 0)
		return chain{c, l.x * s, l.c * s, c}
	}
	whole, air := step(h), swing{b: l.x, c: l.c}
	var inner [8]chain
	for i, at := range gaussNodes {
		inner[i] = step(h * at)
	}
	for range n {
		for i := range inner {
			a, b := inner[i].apply(pressure, flow)
			sum.hold(h*gaussWeights[i], &air, a, b)
			sum.lose(p.Omega, h*gaussWeights[i], &air, a, b)
		}
		pressure, flow = whole.apply(pressure, flow)
	}
}
