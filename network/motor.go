package network

import (
	"math"
	"math/cmplx"
)

// Diaphragm is a moving area on a spring between two pressures: a driver's cone
// or a passive radiator, or Count equal ones side by side. Displacement counts
// positive out of the front face, for each of them.
//
// Its law is (1/Cms + jωRms − ω²Mms)·x + Sd·(p_front − p_rear) = the motor's
// force. With creep λ the compliance is Cms·(1 − λ·log10(jω/ωs)) (after Knudsen
// & Jensen, JAES 41, 1993; the complex argument makes it causal). At ω = 0,
// where creep has no limit, it is taken at a hundredth of a hertz.
type Diaphragm struct {
	Front, Rear    Unknown // pressures
	Open           [2]bool // Front and Rear are at the outside, see Mouths
	Displacement   Unknown
	Count          float64
	Area           Value // Sd, m²
	Mass           Value // Mms, kg, without what an outside face adds
	Moving         Value // Mms with the air that moves along in free air, kg: what kinetic energy counts
	Compliance     Value // Cms, m/N
	Resistance     Value // Rms, N s/m
	Creep          Value // λ, or None
	CreepReference Value // fs in Hz, with Creep
}

// Pattern implements Element.
func (d *Diaphragm) Pattern() []Place {
	x := d.Displacement
	return []Place{{x, x}, {x, d.Front}, {x, d.Rear}, {balance(d.Front, d.Open[0]), x}, {balance(d.Rear, d.Open[1]), x}}
}

// Keep implements Element.
func (d *Diaphragm) Keep() int { return 0 }

const creepFloor = 2 * math.Pi * 0.01 // rad/s

// creep returns 1 − λ·log10(jω/ωs), its slope in λ and in ωs and ω times those.
func (d *Diaphragm) creep(p *Point) (k, perLambda complex128) {
	if d.Creep == None {
		return 1, 0
	}
	w := math.Max(p.Omega, creepFloor) / (2 * math.Pi * p.Values[d.CreepReference])
	log := complex(math.Log10(w), math.Pi/2/math.Ln10)
	return 1 - complex(p.Values[d.Creep], 0)*log, -log
}

// Stiffness returns the force per displacement of the spring, N/m.
func (d *Diaphragm) Stiffness(p *Point) complex128 {
	k, _ := d.creep(p)
	return reciprocal(complex(p.Values[d.Compliance], 0) * k)
}

// Stamp implements Element.
func (d *Diaphragm) Stamp(p *Point, e, _ []complex128) {
	w := p.Omega
	spring := complex(1/p.Values[d.Compliance], 0)
	if d.Creep != None {
		spring = d.Stiffness(p)
	}
	e[0] = spring + complex(-w*w*p.Values[d.Mass], w*p.Values[d.Resistance])
	s := complex(p.Values[d.Area], 0)
	e[1], e[2] = s, -s
	s *= complex(d.Count, 0)
	e[3], e[4] = -s, s
}

// Slopes implements Element.
func (d *Diaphragm) Slopes(p *Point, _, w, grad []complex128) (omega complex128) {
	o := p.Omega
	spring := d.Stiffness(p)
	grad[d.Compliance] -= w[0] * spring * complex(1/p.Values[d.Compliance], 0)
	grad[d.Mass] -= w[0] * complex(o*o, 0)
	grad[d.Resistance] += w[0] * complex(0, o)
	grad[d.Area] += w[1] - w[2] - complex(d.Count, 0)*(w[3]-w[4])
	omega = w[0] * complex(-2*o*p.Values[d.Mass], p.Values[d.Resistance])
	if d.Creep != None {
		k, per := d.creep(p)
		down := -w[0] * spring / k // ∂(1/(C k))/∂k
		grad[d.Creep] += down * per
		slope := complex(p.Values[d.Creep]/math.Ln10, 0) // −∂k/∂ln ω = ∂k/∂ln ωs
		grad[d.CreepReference] += down * slope * complex(1/p.Values[d.CreepReference], 0)
		omega -= down * slope * complex(1/o, 0)
	}
	return omega
}

// Budget implements Accountable.
func (d *Diaphragm) Budget(p *Point, x []complex128) (b Budget) {
	s := square(x[d.Displacement]) * d.Count
	w := p.Omega
	k := d.Stiffness(p)
	b.Kinetic = p.Values[d.Moving] * w * w * s / 2
	b.Potential = real(k) * s / 2
	b.Loss = (p.Values[d.Resistance]*w*w + w*imag(k)) * s
	return b
}

// Coil is the electrical side of a driver, or of Count equal ones wired in
// parallel or in series, and the motor that couples it to a Diaphragm:
// E = Ze·i + Bl·v, F = Bl·i, for each of them.
//
// Ze = Re + jωLe + K·(jω)^n + jωL2·R2/(R2 + jωL2) (lossy coil K, n: Leach, JAES
// 50, 2002; each term only where given).
type Coil struct {
	Plus, Minus  Unknown // voltages
	Current      Unknown // of each member
	Displacement Unknown // of each member's cone
	Count        float64
	Series       bool
	Resistance   Value // Re at the coil's temperature, ohm
	Inductance   Value // Le, H, or None
	ForceFactor  Value // Bl, T m
	K, N         Value // ohm·(rad/s)^−n and 1, or None
	L2, R2       Value // H and ohm, or None
}

// Pattern implements Element.
func (c *Coil) Pattern() []Place {
	i := c.Current
	return []Place{{i, i}, {i, c.Displacement}, {c.Displacement, i}, {i, c.Plus}, {i, c.Minus}, {c.Plus, i}, {c.Minus, i}}
}

// Keep implements Element.
func (c *Coil) Keep() int { return 0 }

// Blocked returns the impedance of one member with its cone held, ohm.
func (c *Coil) Blocked(p *Point) complex128 {
	z := complex(p.Values[c.Resistance], 0)
	if c.Inductance != None {
		z += complex(0, p.Omega*p.Values[c.Inductance])
	}
	if c.K != None {
		z += c.lossy(p)
	}
	if c.L2 != None {
		r, l := complex(p.Values[c.R2], 0), complex(0, p.Omega*p.Values[c.L2])
		z += r * l / (r + l)
	}
	return z
}

func (c *Coil) lossy(p *Point) complex128 {
	if p.Omega == 0 {
		return 0
	}
	n := p.Values[c.N]
	sin, cos := math.Sincos(n * math.Pi / 2)
	m := p.Values[c.K] * math.Pow(p.Omega, n)
	return complex(m*cos, m*sin)
}

// wiring returns the members in series and in parallel.
func (c *Coil) wiring() (series, parallel complex128) {
	if c.Series {
		return complex(c.Count, 0), 1
	}
	return 1, complex(c.Count, 0)
}

// Stamp implements Element.
func (c *Coil) Stamp(p *Point, e, _ []complex128) {
	bl := p.Values[c.ForceFactor]
	e[0] = c.Blocked(p)
	e[1] = complex(0, p.Omega*bl)
	e[2] = complex(-bl, 0)
	series, parallel := c.wiring()
	share := 1 / real(series)
	e[3], e[4] = complex(-share, 0), complex(share, 0)
	e[5], e[6] = parallel, -parallel
}

// Slopes implements Element.
func (c *Coil) Slopes(p *Point, _, w, grad []complex128) complex128 {
	o := complex(0, p.Omega)
	grad[c.Resistance] += w[0]
	grad[c.ForceFactor] += w[1]*o - w[2]
	if c.Inductance != None {
		grad[c.Inductance] += w[0] * o
	}
	if c.K != None {
		z := c.lossy(p)
		grad[c.K] += w[0] * z * complex(1/p.Values[c.K], 0)
		grad[c.N] += w[0] * z * cmplx.Log(o)
	}
	if c.L2 != None {
		r, l := complex(p.Values[c.R2], 0), complex(0, p.Omega*p.Values[c.L2])
		s := r + l
		grad[c.L2] += w[0] * r * r / (s * s) * o
		grad[c.R2] += w[0] * l * l / (s * s)
	}
	return w[0]*c.BlockedSlope(p) + w[1]*complex(0, p.Values[c.ForceFactor])
}

// Budget implements Accountable. The field of the inductance is in no group.
func (c *Coil) Budget(p *Point, x []complex128) (b Budget) {
	b.Loss = real(c.Blocked(p)) * square(x[c.Current]) * c.Count
	return b
}

// BlockedSlope returns the derivative of Blocked with respect to ω.
func (c *Coil) BlockedSlope(p *Point) (slope complex128) {
	if c.Inductance != None {
		slope += complex(0, p.Values[c.Inductance])
	}
	if c.K != None {
		slope += c.lossy(p) * complex(p.Values[c.N]/p.Omega, 0)
	}
	if c.L2 != None {
		r, l := complex(p.Values[c.R2], 0), complex(0, p.Omega*p.Values[c.L2])
		s := r + l
		slope += r * r / (s * s) * complex(0, p.Values[c.L2])
	}
	return slope
}
