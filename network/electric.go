package network

// Supply is a voltage source with an internal resistance between a voltage and
// earth. Its equation is Resistance·i + V = E, where E is the source put into
// the right-hand side; the current counts positive into the load.
type Supply struct {
	Terminal   Unknown // voltage
	Current    Unknown
	Resistance Value // ohm, or None for an ideal source
}

// Pattern implements Element.
func (s *Supply) Pattern() []Place {
	return []Place{{s.Current, s.Current}, {s.Current, s.Terminal}, {s.Terminal, s.Current}}
}

// Keep implements Element.
func (s *Supply) Keep() int { return 0 }

// Stamp implements Element.
func (s *Supply) Stamp(p *Point, e, _ []complex128) {
	e[0] = 0
	if s.Resistance != None {
		e[0] = complex(p.Values[s.Resistance], 0)
	}
	e[1], e[2] = 1, -1
}

// Slopes implements Element.
func (s *Supply) Slopes(_ *Point, _, w, grad []complex128) complex128 {
	if s.Resistance != None {
		grad[s.Resistance] += w[0]
	}
	return 0
}

// Budget implements Accountable.
func (s *Supply) Budget(p *Point, x []complex128) (b Budget) {
	if s.Resistance != None {
		b.Loss = p.Values[s.Resistance] * square(x[s.Current])
	}
	return b
}

// Branch is a resistor, an inductor and a capacitor, each only where given, in
// series with one another between two voltages. Its equation is written times
// jωC where there is a capacitor, so that it blocks at ω = 0.
type Branch struct {
	Plus, Minus, Current                Unknown
	Resistance, Inductance, Capacitance Value // ohm, H, F, or None
}

// Pattern implements Element.
func (b *Branch) Pattern() []Place {
	i := b.Current
	return []Place{{i, i}, {i, b.Plus}, {i, b.Minus}, {b.Plus, i}, {b.Minus, i}}
}

// Keep implements Element.
func (b *Branch) Keep() int { return 0 }

// series returns R + jωL, and jωC, which is 1 where there is no capacitor.
func (b *Branch) series(p *Point) (z, y complex128) {
	if b.Resistance != None {
		z += complex(p.Values[b.Resistance], 0)
	}
	if b.Inductance != None {
		z += complex(0, p.Omega*p.Values[b.Inductance])
	}
	if b.Capacitance != None {
		return z, complex(0, p.Omega*p.Values[b.Capacitance])
	}
	return z, 1
}

// Stamp implements Element.
func (b *Branch) Stamp(p *Point, e, _ []complex128) {
	z, y := b.series(p)
	e[0] = z * y
	if b.Capacitance != None {
		e[0]++
	}
	e[1], e[2] = -y, y
	e[3], e[4] = 1, -1
}

// Slopes implements Element.
func (b *Branch) Slopes(p *Point, _, w, grad []complex128) (omega complex128) {
	z, y := b.series(p)
	o := complex(0, p.Omega)
	if b.Resistance != None {
		grad[b.Resistance] += w[0] * y
	}
	if b.Inductance != None {
		grad[b.Inductance] += w[0] * y * o
		omega += w[0] * y * complex(0, p.Values[b.Inductance])
	}
	if b.Capacitance != None {
		per := w[0]*z - w[1] + w[2]
		grad[b.Capacitance] += per * o
		omega += per * complex(0, p.Values[b.Capacitance])
	}
	return omega
}

// Budget implements Accountable.
func (b *Branch) Budget(p *Point, x []complex128) (c Budget) {
	if b.Resistance != None {
		c.Loss = p.Values[b.Resistance] * square(x[b.Current])
	}
	return c
}
