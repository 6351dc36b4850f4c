package design

import (
	"math"

	"ocarina/driver"
	"ocarina/formula"
	"ocarina/network"
)

// Biquad is a filter section ahead of an amplifier,
// (N0 + N1·s + N2·s²)/(D0 + D1·s + D2·s²), s = jω.
type Biquad struct{ N, D [3]formula.Ref }

// Response returns the section's gain at ω and its derivative with respect
// to ω, given the values of the graph.
func (b *Biquad) Response(values []float64, omega float64) (h, slope complex128) {
	s := complex(0, omega)
	poly := func(c [3]formula.Ref) (y, dy complex128) {
		k0, k1, k2 := complex(values[c[0]], 0), complex(values[c[1]], 0), complex(values[c[2]], 0)
		return k0 + s*(k1+s*k2), k1 + 2*s*k2
	}
	n, dn := poly(b.N)
	d, dd := poly(b.D)
	h = n / d
	return h, 1i * (dn - h*dd) / d
}

// Slopes adds w·∂H/∂coefficient to grad.
func (b *Biquad) Slopes(values []float64, omega float64, w complex128, grad []complex128) {
	s := complex(0, omega)
	h, _ := b.Response(values, omega)
	d := complex(values[b.D[0]], 0) + s*(complex(values[b.D[1]], 0)+s*complex(values[b.D[2]], 0))
	k := w / d
	for i, p := range [3]complex128{1, s, s * s} {
		grad[b.N[i]] += k * p
		grad[b.D[i]] -= k * h * p
	}
}

// Weight returns the source voltage of the drive at ω, V RMS, and its
// derivative with respect to ω: voltage, gain, polarity, delay and filters.
func (d *DriveModel) Weight(values []float64, omega float64) (e, slope complex128) {
	e = complex(values[d.Voltage], 0)
	if d.Delay == driver.Unknown && len(d.Sections) == 0 {
		return e, 0
	}
	var turn complex128 // slope/e
	if d.Delay != driver.Unknown {
		sin, cos := math.Sincos(-omega * values[d.Delay])
		e *= complex(cos, sin)
		turn = complex(0, -values[d.Delay])
	}
	slope = e * turn
	for i := range d.Sections {
		h, dh := d.Sections[i].Response(values, omega)
		slope = slope*h + e*dh
		e *= h
	}
	return e, slope
}

// WeightSlopes adds w·∂Weight/∂value to grad.
func (d *DriveModel) WeightSlopes(values []float64, omega float64, w complex128, grad []complex128) {
	e, _ := d.Weight(values, omega)
	if v := values[d.Voltage]; v != 0 {
		grad[d.Voltage] += w * e / complex(v, 0)
	}
	if d.Delay != driver.Unknown {
		grad[d.Delay] += w * e * complex(0, -omega)
	}
	for i := range d.Sections {
		h, _ := d.Sections[i].Response(values, omega)
		if h != 0 {
			d.Sections[i].Slopes(values, omega, w*e/h, grad)
		}
	}
}

// drives adds the amplifiers, what lies between them and the mounts, and the
// mounts' coils.
func (b *builder) drives() {
	list := b.d.Drives
	if len(list) == 0 {
		list = []*Drive{{Voltage: Quantity{SI: DefaultVoltage}}}
	}
	for i, d := range list {
		b.drive(i, d)
	}
}

func (b *builder) drive(index int, d *Drive) {
	g := b.g
	part := "drive"
	if d.Name != "" {
		part = d.Name
	}
	m := &DriveModel{Name: d.Name, Delay: driver.Unknown, MaxVoltage: d.MaxVoltage.Or(0), MaxCurrent: d.MaxCurrent.Or(0)}
	terminal := b.net.Held(network.Voltage, part+" terminal")
	current := b.net.Driven(network.Current, part+" current")
	m.Supply = &network.Supply{Terminal: terminal, Current: current, Resistance: network.None}
	if d.SourceResistance.Or(0) > 0 {
		m.Supply.Resistance = network.Value(b.dimension(part, "source_resistance", 0, d.SourceResistance))
	}
	b.element(Part{Name: part, LossName: part, Group: LossPart, Element: m.Supply})

	at := terminal
	for n, f := range d.Filters {
		switch f.Kind {
		case SeriesParts:
			next := b.net.Unknown(network.Voltage, part+" line")
			b.branch(part, n, f, at, next)
			at = next
			m.Between = true
		case ShuntParts:
			b.branch(part, n, f, at, network.Ground)
			m.Between = true
		default:
			m.Sections = append(m.Sections, b.sections(part, n, f)...)
		}
	}
	m.Resistance = b.wire(index, d, at)

	switch {
	case d.Power.Given:
		p := b.dimension(part, "power", 0, d.Power)
		m.Plain = g.Sqrt(g.Mul(p, m.Resistance))
	case d.Voltage.Given:
		m.Plain = b.dimension(part, "voltage", 0, d.Voltage)
	default:
		m.Plain = g.Const(DefaultVoltage)
	}
	m.Voltage = m.Plain
	if d.Gain.Given {
		m.Voltage = g.Mul(m.Voltage, b.decibels(b.dimension(part, "gain", 0, d.Gain)))
	}
	if d.Reversed {
		m.Voltage = g.Scale(-1, m.Voltage)
	}
	if d.Delay.Given {
		m.Delay = b.dimension(part, "delay", 0, d.Delay)
	}
	b.m.Drives = append(b.m.Drives, m)
}

func (b *builder) decibels(r formula.Ref) formula.Ref {
	return b.g.Apply(r, func(x float64) (float64, float64) {
		k := math.Pow(10, x/20)
		return k, k * math.Ln10 / 20
	})
}

func (b *builder) branch(part string, n int, f *Filter, plus, minus network.Unknown) {
	e := &network.Branch{Plus: plus, Minus: minus, Current: b.net.Unknown(network.Current, part+" parts"),
		Resistance: network.None, Inductance: network.None, Capacitance: network.None}
	value := func(key string, q Quantity) network.Value {
		if !q.Given {
			return network.None
		}
		return network.Value(b.dimension(part, filterKey(n, key), 0, q))
	}
	e.Resistance = value("resistance", f.Resistance)
	e.Inductance = value("inductance", f.Inductance)
	e.Capacitance = value("capacitance", f.Capacitance)
	b.element(Part{Name: part, LossName: part, Group: LossPart, Element: e})
}

// sections turns a filter block into second-order sections; the prototypes are
// the textbook ones (Butterworth poles for an order without q; shelves and bell
// with the gain's root at the corner).
func (b *builder) sections(part string, n int, f *Filter) []Biquad {
	g := b.g
	zero, one := g.Const(0), g.Const(1)
	w := g.Scale(2*math.Pi, b.dimension(part, filterKey(n, "frequency"), 0, f.Frequency))
	w2 := g.Pow(w, 2)
	quality := g.Const(math.Sqrt2 / 2)
	if f.Q.Given {
		quality = b.dimension(part, filterKey(n, "q"), 0, f.Q)
	}
	switch f.Kind {
	case HighPass, LowPass:
		order := int(f.Order.Or(2))
		var list []Biquad
		pair := func(d Biquad, square, line formula.Ref) {
			if f.Kind == HighPass {
				d.N = [3]formula.Ref{zero, zero, one}
				if square == zero {
					d.N = [3]formula.Ref{zero, one, zero}
				}
			} else {
				d.N = [3]formula.Ref{line, zero, zero}
			}
			list = append(list, d)
		}
		for k := 0; k < order/2; k++ {
			damp := g.Const(2 * math.Sin(math.Pi*float64(2*k+1)/float64(2*order)))
			if f.Q.Given && order == 2 {
				damp = g.Pow(quality, -1)
			}
			pair(Biquad{D: [3]formula.Ref{w2, g.Mul(w, damp), one}}, one, w2)
		}
		if order%2 == 1 {
			pair(Biquad{D: [3]formula.Ref{w, one, zero}}, zero, w)
		}
		return list
	}
	root := g.Sqrt(b.decibels(b.dimension(part, filterKey(n, "gain"), 0, f.Gain))) // A, gain = A²
	line := g.Div(w, quality)
	bend := g.Mul(line, g.Sqrt(root))
	switch f.Kind {
	case Bell:
		return []Biquad{{N: [3]formula.Ref{w2, g.Mul(line, root), one}, D: [3]formula.Ref{w2, g.Div(line, root), one}}}
	case LowShelf: // A·(s² + √A·s·w/q + A·w²)/(A·s² + √A·s·w/q + w²)
		return []Biquad{{N: [3]formula.Ref{g.Product(root, root, w2), g.Mul(root, bend), root}, D: [3]formula.Ref{w2, bend, root}}}
	default: // HighShelf
		return []Biquad{{N: [3]formula.Ref{g.Mul(root, w2), g.Mul(root, bend), g.Mul(root, root)}, D: [3]formula.Ref{g.Mul(root, w2), bend, one}}}
	}
}

// wire joins the drive's mounts to the voltage at and returns the resistance of
// their coils so wired.
func (b *builder) wire(index int, d *Drive, at network.Unknown) formula.Ref {
	g := b.g
	var mounts []*Mount
	for _, m := range b.d.Mounts {
		if m.Drive == d.Name || m.Drive == "" && index == 0 {
			mounts = append(mounts, m)
		}
	}
	total := driver.Unknown
	plus := at
	for i, m := range mounts {
		minus := network.Ground
		if d.Wiring == Series && i < len(mounts)-1 {
			minus = b.net.Unknown(network.Voltage, m.Name+" terminal")
		}
		r := b.mount(m, index, d, plus, minus)
		switch {
		case total == driver.Unknown:
			total = r
		case d.Wiring == Series:
			total = g.Add(total, r)
		default:
			total = g.Div(g.Mul(total, r), g.Add(total, r))
		}
		if d.Wiring == Series {
			plus = minus
		}
	}
	if total == driver.Unknown {
		return g.Const(1)
	}
	return total
}
