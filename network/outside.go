package network

import (
	"math"
	"math/cmplx"

	"ocarina/acoustic"
	"ocarina/air"
)

// Opening is one face of a box that looks outside: a cone, a port's mouth, a
// passive radiator, or Count equal ones. Its outward displacement of volume,
// for each, is Sign·Factor·(unknown Flow).
type Opening struct {
	Pressure Unknown // of the outside air at each member, or Ground: unloaded
	Flow     Unknown
	Factor   Value // a cone's area, or None for one
	Sign     float64
	Count    float64
	Area     Value    // m², or None: a point that carries no load
	Mass     bool     // the outside loads it with its reactance too
	Place    [3]Value // m, or None
}

// Placed reports whether the opening's position is known.
func (o *Opening) Placed() bool { return o.Place[0] != None }

// outflow returns the volume velocity of each member per unit of the unknown.
func (o *Opening) outflow(p *Point) complex128 {
	k := o.Sign
	if o.Factor != None {
		k *= p.Values[o.Factor]
	}
	return complex(0, p.Omega*k)
}

// Outside is what the openings of a box look into: the impedance matrix they
// see and the transfer from each to the listener. Slopes methods take weights
// laid out as the method they belong to writes, add Σ w·∂/∂value to grad and
// return Σ w·∂/∂ω.
type Outside interface {
	// Coupled reports whether openings see each other. If not, only the
	// diagonal of the matrix is written and weighed.
	Coupled() bool

	// Impedance writes the pressure at opening k (row) per volume velocity of
	// each of l's members, Pa s/m³, to z[k·n+l].
	Impedance(p *Point, o []Opening, z []complex128)
	ImpedanceSlopes(p *Point, o []Opening, w, grad []complex128) (omega complex128)

	// Transfer writes the pressure at the listener per volume velocity of each
	// of an opening's members, Pa s/m³.
	Transfer(p *Point, o []Opening, t []complex128)
	TransferSlopes(p *Point, o []Opening, w, grad []complex128) (omega complex128)
}

// Mouths joins openings to an outside. For each loaded opening it sets the
// pressure p_k = Σ Z_kl·U_l; the matrix must have been given all of them. That
// is the whole of the equation a pressure at the outside owns: the parts that
// end there put no flow into it.
type Mouths struct {
	Outside  Outside
	Openings []Opening
}

// balance is the equation that takes the flow of a part at a pressure: none at
// the outside.
func balance(at Unknown, outside bool) Unknown {
	if outside {
		return Ground
	}
	return at
}

// loaded reports whether the outside sets the pressure at opening k.
func (m *Mouths) loaded(k int) bool { return m.Openings[k].Pressure != Ground }

// hears reports whether the pressure at opening k can depend on the flow of l.
func (m *Mouths) hears(k, l int) bool {
	return k == l || m.Outside.Coupled() && m.Openings[l].Area != None
}

// Pattern implements Element: the pressures, then what each hears of the flows.
func (m *Mouths) Pattern() (places []Place) {
	for k := range m.Openings {
		if m.loaded(k) {
			u := m.Openings[k].Pressure
			places = append(places, Place{u, u})
		}
	}
	for k := range m.Openings {
		for l := range m.Openings {
			if m.loaded(k) && m.hears(k, l) {
				places = append(places, Place{m.Openings[k].Pressure, m.Openings[l].Flow})
			}
		}
	}
	return places
}

// Keep implements Element: the impedance matrix, and weights of it.
func (m *Mouths) Keep() int { return 2 * len(m.Openings) * len(m.Openings) }

func (m *Mouths) members(k, l int) complex128 {
	if k == l { // members of one count have no mutual term
		return 1
	}
	return complex(m.Openings[l].Count, 0)
}

// Stamp implements Element.
func (m *Mouths) Stamp(p *Point, e, keep []complex128) {
	n := len(m.Openings)
	z := keep[:n*n]
	m.Outside.Impedance(p, m.Openings, z)
	i := 0
	for k := range m.Openings {
		if m.loaded(k) {
			e[i] = 1
			i++
		}
	}
	for k := range m.Openings {
		for l := range m.Openings {
			if m.loaded(k) && m.hears(k, l) {
				e[i] = -z[k*n+l] * m.members(k, l) * m.Openings[l].outflow(p)
				i++
			}
		}
	}
}

// Slopes implements Element.
func (m *Mouths) Slopes(p *Point, keep, w, grad []complex128) (omega complex128) {
	n := len(m.Openings)
	z, wz := keep[:n*n], keep[n*n:]
	clear(wz)
	i := 0
	for k := range m.Openings {
		if m.loaded(k) {
			i++
		}
	}
	for k := range m.Openings {
		for l := range m.Openings {
			if !m.loaded(k) || !m.hears(k, l) {
				continue
			}
			o := &m.Openings[l]
			out := o.outflow(p)
			per := -w[i] * m.members(k, l)
			wz[k*n+l] += per * out
			if o.Factor != None {
				grad[o.Factor] += per * z[k*n+l] * out * complex(1/p.Values[o.Factor], 0)
			}
			omega += per * z[k*n+l] * out * complex(1/p.Omega, 0)
			i++
		}
	}
	return omega + m.Outside.ImpedanceSlopes(p, m.Openings, wz, grad)
}

// Budget implements Accountable: the radiated power, that in the resistance
// matrix.
func (m *Mouths) Budget(p *Point, x []complex128) (b Budget) {
	for k := range m.Openings {
		o := &m.Openings[k]
		if o.Pressure == Ground {
			continue
		}
		u := o.outflow(p) * x[o.Flow]
		b.Loss += real(cmplx.Conj(u)*x[o.Pressure]) * o.Count
	}
	return b
}

// Listener is the sound pressure at the listener as a reading of the network:
// p = Σ t_k·n_k·U_k over all openings.
type Listener struct {
	Outside  Outside
	Openings []Opening
}

// Row writes the coefficient of each opening's Flow unknown to row, which has
// one entry for each opening.
func (l *Listener) Row(p *Point, row []complex128) {
	l.Outside.Transfer(p, l.Openings, row)
	for k := range l.Openings {
		o := &l.Openings[k]
		row[k] *= complex(o.Count, 0) * o.outflow(p)
	}
}

// Slopes adds weight·Σ x·∂row/∂value to grad and returns the same for ω. The
// scratch slice has one entry for each opening.
func (l *Listener) Slopes(p *Point, weight complex128, x, grad, scratch []complex128) (omega complex128) {
	l.Outside.Transfer(p, l.Openings, scratch)
	for k := range l.Openings {
		o := &l.Openings[k]
		per := weight * complex(o.Count, 0) * o.outflow(p) * x[o.Flow]
		if o.Factor != None {
			grad[o.Factor] += per * scratch[k] * complex(1/p.Values[o.Factor], 0)
		}
		omega += per * scratch[k] * complex(1/p.Omega, 0)
		scratch[k] = per
	}
	return omega + l.Outside.TransferSlopes(p, l.Openings, scratch, grad)
}

// FreeSpace is open air in a solid angle: 4π, or a part of it bounded by rigid
// walls.
//
// Each opening sees the resistance (ρc/S)·(1 − J1(2y)/y), y = k·√(2S/Ω) (the
// baffled piston's in half space), and with Mass the reactance
// ρc/S·H1(2ka)/(ka); two placed openings see each other through
// jωρ/(Ωd)·e^{−jkd}·D(y1)·D(y2), D(y) = 2J1(y)/y (Rayleigh; Beranek, Acoustics,
// 1954, ch. 5). Members of a count have no mutual term, with one another or with
// other openings: one position says too little about several, and a term with
// others alone would let the openings draw power from the air. The listener hears p = jωρ/(Ωr)·Σ U_k·e^{−jk(r_k−r)}, with the
// delay of the distance r left out.
type FreeSpace struct {
	Angle    float64  // Ω, sr
	Distance Value    // r, m
	Listener [3]Value // m, or None
	Mutual   bool     // openings see each other
	Air      air.Medium
}

// Coupled implements Outside.
func (f *FreeSpace) Coupled() bool { return f.Mutual }

// bulk returns k√(2/Ω): y per root of area.
func (f *FreeSpace) bulk(p *Point) float64 {
	return p.Omega / f.Air.Speed * math.Sqrt(2/f.Angle)
}

// Impedance implements Outside.
func (f *FreeSpace) Impedance(p *Point, o []Opening, z []complex128) {
	n := len(o)
	rc := f.Air.Density * f.Air.Speed
	bulk := f.bulk(p)
	for k := range o {
		if o[k].Area == None {
			z[k*n+k] = 0
			continue
		}
		s := p.Values[o[k].Area]
		r, _ := acoustic.PistonResistance(bulk * math.Sqrt(s))
		z[k*n+k] = complex(rc/s*r, 0)
		if o[k].Mass {
			x, _ := acoustic.PistonReactance(2 * p.Omega / f.Air.Speed * math.Sqrt(s/math.Pi))
			z[k*n+k] += complex(0, rc/s*x)
		}
		if !f.Mutual {
			continue
		}
		for l := range k {
			z[k*n+l] = f.mutual(p, &o[k], &o[l], bulk)
			z[l*n+k] = z[k*n+l]
		}
	}
}

// couple reports whether two openings see each other.
func (f *FreeSpace) couple(a, b *Opening) bool {
	return a.Placed() && b.Placed() && a.Area != None && b.Area != None && a.Count == 1 && b.Count == 1
}

func (f *FreeSpace) mutual(p *Point, a, b *Opening, bulk float64) complex128 {
	if !f.couple(a, b) {
		return 0
	}
	d := distance(p, a.Place, b.Place)
	da, _ := acoustic.Directivity(bulk * math.Sqrt(p.Values[a.Area]))
	db, _ := acoustic.Directivity(bulk * math.Sqrt(p.Values[b.Area]))
	sin, cos := math.Sincos(p.Omega / f.Air.Speed * d)
	m := p.Omega * f.Air.Density / (f.Angle * d) * da * db
	return complex(m*sin, m*cos) // j·e^{−jkd}
}

func distance(p *Point, a, b [3]Value) float64 {
	s := 0.0
	for i := range a {
		e := p.Values[a[i]] - p.Values[b[i]]
		s += e * e
	}
	return math.Sqrt(s)
}

// ImpedanceSlopes implements Outside.
func (f *FreeSpace) ImpedanceSlopes(p *Point, o []Opening, w, grad []complex128) (omega complex128) {
	n := len(o)
	rc := f.Air.Density * f.Air.Speed
	bulk := f.bulk(p)
	for k := range o {
		if o[k].Area == None {
			continue
		}
		s := p.Values[o[k].Area]
		wk := w[k*n+k] * complex(rc/s, 0)
		y := bulk * math.Sqrt(s)
		r, dr := acoustic.PistonResistance(y)
		grad[o[k].Area] += wk * complex((dr*y/2-r)/s, 0)
		omega += wk * complex(dr*y/p.Omega, 0)
		if o[k].Mass {
			x := 2 * p.Omega / f.Air.Speed * math.Sqrt(s/math.Pi)
			v, dv := acoustic.PistonReactance(x)
			grad[o[k].Area] += wk * complex(0, (dv*x/2-v)/s)
			omega += wk * complex(0, dv*x/p.Omega)
		}
		if !f.Mutual {
			continue
		}
		for l := range k {
			omega += f.mutualSlopes(p, &o[k], &o[l], bulk, w[k*n+l]+w[l*n+k], grad)
		}
	}
	return omega
}

func (f *FreeSpace) mutualSlopes(p *Point, a, b *Opening, bulk float64, w complex128, grad []complex128) complex128 {
	if !f.couple(a, b) || w == 0 {
		return 0
	}
	d := distance(p, a.Place, b.Place)
	k := p.Omega / f.Air.Speed
	sin, cos := math.Sincos(k * d)
	m := w * complex(p.Omega*f.Air.Density/(f.Angle*d), 0) * complex(sin, cos)
	ya, yb := bulk*math.Sqrt(p.Values[a.Area]), bulk*math.Sqrt(p.Values[b.Area])
	da, sa := acoustic.Directivity(ya)
	db, sb := acoustic.Directivity(yb)
	grad[a.Area] += m * complex(sa*db*ya/(2*p.Values[a.Area]), 0)
	grad[b.Area] += m * complex(da*sb*yb/(2*p.Values[b.Area]), 0)
	m *= complex(da*db, 0)
	per := m * complex(-1/d, -k) * complex(1/d, 0)
	for i := range a.Place {
		e := complex(p.Values[a.Place[i]]-p.Values[b.Place[i]], 0)
		grad[a.Place[i]] += per * e
		grad[b.Place[i]] -= per * e
	}
	omega := m * complex(1/p.Omega, -d/f.Air.Speed)
	if da != 0 {
		omega += m * complex(sa*ya/(da*p.Omega), 0)
	}
	if db != 0 {
		omega += m * complex(sb*yb/(db*p.Omega), 0)
	}
	return omega
}

// path returns the distance from an opening to the listener less r, and that
// distance, 0 where positions are not known.
func (f *FreeSpace) path(p *Point, o *Opening) (extra, far float64) {
	if f.Listener[0] == None || !o.Placed() {
		return 0, 0
	}
	far = distance(p, f.Listener, o.Place)
	return far - p.Values[f.Distance], far
}

// Transfer implements Outside.
func (f *FreeSpace) Transfer(p *Point, o []Opening, t []complex128) {
	r := p.Values[f.Distance]
	m := p.Omega * f.Air.Density / (f.Angle * r)
	for k := range o {
		extra, _ := f.path(p, &o[k])
		if extra == 0 {
			t[k] = complex(0, m)
			continue
		}
		sin, cos := math.Sincos(p.Omega / f.Air.Speed * extra)
		t[k] = complex(m*sin, m*cos)
	}
}

// TransferSlopes implements Outside.
func (f *FreeSpace) TransferSlopes(p *Point, o []Opening, w, grad []complex128) (omega complex128) {
	r := p.Values[f.Distance]
	m := p.Omega * f.Air.Density / (f.Angle * r)
	k := p.Omega / f.Air.Speed
	for i := range o {
		extra, far := f.path(p, &o[i])
		sin, cos := math.Sincos(k * extra)
		t := w[i] * complex(m*sin, m*cos)
		grad[f.Distance] -= t * complex(1/r, 0)
		omega += t * complex(1/p.Omega, -extra/f.Air.Speed)
		if far == 0 {
			continue
		}
		grad[f.Distance] += t * complex(0, k)
		per := t * complex(0, -k/far)
		for j := range f.Listener {
			e := complex(p.Values[f.Listener[j]]-p.Values[o[i].Place[j]], 0)
			grad[f.Listener[j]] += per * e
			grad[o[i].Place[j]] -= per * e
		}
	}
	return omega
}
