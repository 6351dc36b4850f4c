package network

import (
	"math"

	"ocarina/air"
)

// Chamber is a space with one pressure: an acoustic compliance C = V/(ρc²).
//
// With real walls the air at the wall is compressed isothermally and
// C is multiplied by 1 + (γ−1)·A/(2V)·δt·(1−j), δt = √(2μ/(ρωPr)) (thermal
// boundary layer; e.g. Pierce, Acoustics, 1981, ch. 10). With fill it is
// multiplied by 1 + (γ−1)·fill/(1 + jωτ): the filled part's air gives its heat
// to the fibres with the time constant τ = ρ·Pr/σ, σ the flow resistivity
// (thermal relaxation of a fibrous medium, ω_t = σ/(ρ·Pr): Lafarge et al.,
// JASA 102, 1997, with thermal taken equal to viscous permeability).
type Chamber struct {
	Pressure        Unknown
	Volume          Value // m³
	Wall            Value // m² of inner surface, or None for ideal walls
	Fill            Value // 0..1, or None
	FlowResistivity Value // Pa s/m²; needed with Fill
	Leak            Value // conductance to the outside air at rest, m³/(Pa s), or None; left out at ω = 0
	Air             air.Medium
}

// Pattern implements Element.
func (c *Chamber) Pattern() []Place { return []Place{{c.Pressure, c.Pressure}} }

// Keep implements Element.
func (c *Chamber) Keep() int { return 0 }

// Stamp implements Element.
func (c *Chamber) Stamp(p *Point, e, _ []complex128) { e[0] = c.Compliance(p) }

// Compliance returns the chamber's admittance divided by jω, in m³/Pa.
func (c *Chamber) Compliance(p *Point) complex128 {
	v := p.Values[c.Volume]
	z := complex(v/c.Air.Stiffness(), 0)
	if c.Wall != None {
		z *= 1 + c.wall(p)
	}
	if c.Fill != None {
		z *= 1 + c.fill(p)
	}
	if c.Leak != None && p.Omega > 0 {
		z -= complex(0, p.Values[c.Leak]/p.Omega)
	}
	return z
}

func (c *Chamber) wall(p *Point) complex128 {
	m := &c.Air
	if p.Omega == 0 {
		return complex(m.Gamma-1, 0) // all the air at wall temperature
	}
	d := math.Sqrt(2 * m.Viscosity / (m.Density * p.Omega * m.Prandtl))
	k := (m.Gamma - 1) * p.Values[c.Wall] / (2 * p.Values[c.Volume]) * d
	return complex(k, -k)
}

func (c *Chamber) relaxation(p *Point) float64 {
	return c.Air.Density * c.Air.Prandtl / p.Values[c.FlowResistivity]
}

func (c *Chamber) fill(p *Point) complex128 {
	return complex((c.Air.Gamma-1)*p.Values[c.Fill], 0) * reciprocal(complex(1, p.Omega*c.relaxation(p)))
}

// Slopes implements Element.
func (c *Chamber) Slopes(p *Point, _, w, grad []complex128) (omega complex128) {
	v := p.Values[c.Volume]
	base := complex(v/c.Air.Stiffness(), 0)
	walls, fill := complex128(1), complex128(1)
	if c.Wall != None {
		walls += c.wall(p)
	}
	if c.Fill != None {
		fill += c.fill(p)
	}
	per := w[0] * base
	grad[c.Volume] += per * complex(1/v, 0) * walls * fill
	if c.Wall != None {
		k := walls - 1
		grad[c.Volume] -= per * fill * k * complex(1/v, 0)
		grad[c.Wall] += per * fill * k * complex(1/p.Values[c.Wall], 0)
		omega -= per * fill * k * complex(1/(2*p.Omega), 0)
	}
	if c.Fill != None {
		k := fill - 1
		tau := c.relaxation(p)
		lag := complex(0, tau) * reciprocal(complex(1, p.Omega*tau))
		grad[c.Fill] += per * walls * complex(c.Air.Gamma-1, 0) * reciprocal(complex(1, p.Omega*tau))
		grad[c.FlowResistivity] += per * walls * k * lag * complex(p.Omega/p.Values[c.FlowResistivity], 0)
		omega -= per * walls * k * lag
	}
	if c.Leak != None {
		grad[c.Leak] -= w[0] * complex(0, 1/p.Omega)
		omega += w[0] * complex(0, p.Values[c.Leak]/(p.Omega*p.Omega))
	}
	return omega
}

// Budget implements Accountable.
func (c *Chamber) Budget(p *Point, x []complex128) (b Budget) {
	s := square(x[c.Pressure])
	z := c.Compliance(p)
	b.Potential = real(z) * s / 2
	b.Loss = -p.Omega * imag(z) * s // Re(jωC)
	return b
}

// Resistance is a leak: an acoustic resistance between two pressures, which may
// be Ground. Flow counts positive from From to To.
type Resistance struct {
	From, To, Flow Unknown
	Resistance     Value // Pa s/m³
}

// Pattern implements Element.
func (r *Resistance) Pattern() []Place {
	return []Place{{r.Flow, r.Flow}, {r.Flow, r.From}, {r.Flow, r.To}, {r.From, r.Flow}, {r.To, r.Flow}}
}

// Keep implements Element.
func (r *Resistance) Keep() int { return 0 }

// Stamp implements Element.
func (r *Resistance) Stamp(p *Point, e, _ []complex128) {
	e[0] = complex(0, p.sluggish()*p.Values[r.Resistance])
	e[1], e[2], e[3], e[4] = -1, 1, 1, -1
}

// Slopes implements Element.
func (r *Resistance) Slopes(p *Point, _, w, grad []complex128) complex128 {
	grad[r.Resistance] += w[0] * complex(0, p.Omega)
	return w[0] * complex(0, p.Values[r.Resistance])
}

// Budget implements Accountable.
func (r *Resistance) Budget(p *Point, x []complex128) (b Budget) {
	b.Loss = p.Values[r.Resistance] * p.Omega * p.Omega * square(x[r.Flow])
	return b
}
