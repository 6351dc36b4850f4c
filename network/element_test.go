package network

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ocarina/air"
)

// parts makes elements to try: each with its own values and unknowns.
type parts struct {
	net    Net
	values []float64
	names  []string
	list   []Element
}

func (p *parts) unknown(kind Kind) Unknown { return p.net.Unknown(kind, "") }

func (p *parts) value(v float64) Value {
	p.values = append(p.values, v)
	return Value(len(p.values) - 1)
}

func (p *parts) add(name string, e Element) {
	p.names = append(p.names, name)
	p.list = append(p.list, e)
	p.net.Add(e)
}

// duct returns a duct without ends, walls or fill.
func (p *parts) duct(from, to Unknown, length, area float64) *Duct {
	return &Duct{
		From: from, To: to, Flow: p.unknown(VolumeDisplacement), Entry: p.unknown(VolumeDisplacement), Count: 1,
		Length: p.value(length), Area: p.value(area), Radius: None, Perimeter: None, ToArea: None,
		Mass: [2]Value{None, None}, Resistance: None, Fill: None, Resistivity: None, Air: air.Reference(),
	}
}

func (p *parts) opening(area float64, at [3]float64) Opening {
	return Opening{Pressure: p.unknown(Pressure), Flow: p.unknown(VolumeDisplacement), Factor: None, Sign: 1, Count: 1, Area: p.value(area),
		Place: [3]Value{p.value(at[0]), p.value(at[1]), p.value(at[2])}}
}

// everyElement is one of each kind in each of its forms.
func everyElement() *parts {
	p := new(parts)
	volt, amp := func() Unknown { return p.unknown(Voltage) }, func() Unknown { return p.unknown(Current) }
	p.add("supply", &Supply{Terminal: volt(), Current: amp(), Resistance: p.value(0.4)})
	p.add("ideal supply", &Supply{Terminal: volt(), Current: amp(), Resistance: None})
	branch := func(name string, r, l, c float64) {
		b := &Branch{Plus: volt(), Minus: volt(), Current: amp(), Resistance: None, Inductance: None, Capacitance: None}
		if r > 0 {
			b.Resistance = p.value(r)
		}
		if l > 0 {
			b.Inductance = p.value(l)
		}
		if c > 0 {
			b.Capacitance = p.value(c)
		}
		p.add(name, b)
	}
	branch("resistor", 2, 0, 0)
	branch("inductor", 0, 3e-3, 0)
	branch("capacitor", 0, 0, 200e-6)
	branch("branch", 2, 3e-3, 200e-6)
	coil := func(name string, change func(c *Coil)) {
		c := &Coil{Plus: volt(), Minus: volt(), Current: amp(), Displacement: p.unknown(Displacement), Count: 1,
			Resistance: p.value(5.6), ForceFactor: p.value(9), Inductance: None, K: None, N: None, L2: None, R2: None}
		change(c)
		p.add(name, c)
	}
	coil("coil", func(c *Coil) { c.Inductance = p.value(0.7e-3) })
	coil("lossy coil", func(c *Coil) { c.K, c.N = p.value(0.03), p.value(0.68) })
	coil("coil with L2", func(c *Coil) { c.Inductance, c.L2, c.R2, c.Count = p.value(0.2e-3), p.value(0.8e-3), p.value(4), 3 })
	coil("coils in series", func(c *Coil) { c.Count, c.Series = 2, true })
	diaphragm := func(name string, change func(d *Diaphragm)) {
		d := &Diaphragm{Front: p.unknown(Pressure), Rear: p.unknown(Pressure), Displacement: p.unknown(Displacement), Count: 2,
			Area: p.value(0.049), Mass: p.value(0.06), Compliance: p.value(4e-4), Resistance: p.value(2), Creep: None, CreepReference: None}
		change(d)
		p.add(name, d)
	}
	diaphragm("diaphragm", func(d *Diaphragm) {})
	diaphragm("creeping diaphragm", func(d *Diaphragm) { d.Creep, d.CreepReference = p.value(0.07), p.value(31) })
	chamber := func(name string, change func(c *Chamber)) {
		c := &Chamber{Pressure: p.unknown(Pressure), Volume: p.value(0.04), Wall: None, Fill: None, FlowResistivity: None, Leak: None, Air: air.Reference()}
		change(c)
		p.add(name, c)
	}
	chamber("chamber", func(c *Chamber) {})
	chamber("chamber with walls", func(c *Chamber) { c.Wall = p.value(0.7) })
	chamber("stuffed chamber", func(c *Chamber) { c.Fill, c.FlowResistivity = p.value(0.6), p.value(3000) })
	chamber("everything in a chamber", func(c *Chamber) {
		c.Wall, c.Fill, c.FlowResistivity, c.Leak = p.value(0.7), p.value(0.3), p.value(5000), p.value(1e-6)
	})
	p.add("leak", &Resistance{From: p.unknown(Pressure), To: p.unknown(Pressure), Flow: p.unknown(VolumeDisplacement), Resistance: p.value(3e4)})
	for _, wide := range []float64{0.0005, 0.03} { // both sides of the loss ratio's two series
		duct := func(name string, change func(d *Duct)) {
			d := p.duct(p.unknown(Pressure), p.unknown(Pressure), 0.4, math.Pi*wide*wide)
			change(d)
			p.add(fmt.Sprintf("%s, %g m", name, wide), d)
		}
		ends := func(d *Duct) {
			d.Mass, d.Resistance, d.Count = [2]Value{p.value(0.02), p.value(0.03)}, p.value(40), 3
		}
		duct("smooth duct", func(d *Duct) {})
		duct("smooth duct with ends", ends)
		duct("round duct", func(d *Duct) { d.Radius = p.value(wide); ends(d) })
		duct("sealed round duct", func(d *Duct) { d.Radius = p.value(wide); ends(d); d.From, d.Entry = Sealed, Ground })
		duct("rectangular duct", func(d *Duct) { d.Perimeter = p.value(12 * wide); ends(d) })
		duct("stuffed duct", func(d *Duct) {
			d.Radius, d.Fill, d.Resistivity = p.value(wide), p.value(0.4), p.value(4000)
		})
		for _, shape := range []Taper{Conical, Exponential} {
			name := [3]string{"", "cone", "exponential horn"}[shape]
			duct(name, func(d *Duct) { d.ToArea, d.Taper = p.value(8*wide*wide), shape })
			duct("lossy "+name, func(d *Duct) { d.ToArea, d.Taper, d.Lossy = p.value(0.8*wide*wide), shape, true; ends(d) })
			duct("stuffed "+name, func(d *Duct) {
				d.ToArea, d.Taper, d.Lossy = p.value(8*wide*wide), shape, true
				d.Fill, d.Resistivity = p.value(0.4), p.value(4000)
			})
			duct("sealed "+name, func(d *Duct) {
				d.ToArea, d.Taper, d.From, d.Entry = p.value(5*wide*wide), shape, Sealed, Ground
			})
		}
	}
	for _, mutual := range []bool{false, true} {
		for _, angle := range []float64{4 * math.Pi, math.Pi / 2} {
			a := p.opening(0.05, [3]float64{0.01, 0.02, 0.03})
			b := p.opening(0.004, [3]float64{0.4, 0.02, 0.1})
			c := p.opening(0.02, [3]float64{0.1, 0.7, 0.02})
			d := p.opening(0.01, [3]float64{1, 1, 0.5})
			b.Sign, b.Count = -1, 4
			c.Factor, c.Mass = c.Area, true
			d.Pressure = Ground
			p.add(fmt.Sprintf("openings, mutual %v, %.2f sr", mutual, angle), &Mouths{
				Outside:  &FreeSpace{Angle: angle, Distance: p.value(1.3), Listener: [3]Value{None, None, None}, Mutual: mutual, Air: air.Reference()},
				Openings: []Opening{a, b, c, d},
			})
		}
	}
	for _, acoustic := range []bool{true, false} {
		row := func(k float64) []complex128 {
			return []complex128{complex(k, 1), complex(-2, k), complex(0.5, -k), complex(3, k*k)}
		}
		table, err := NewTable([]Unknown{p.unknown(Pressure), p.unknown(Pressure)}, acoustic, []float64{10, 100, 1000}, [][]complex128{row(1), row(3), row(-2)})
		if err != nil {
			panic(err)
		}
		p.add(fmt.Sprintf("table, acoustic %v", acoustic), table)
	}
	return p
}

// ridders is the derivative of complex numbers by differences at shrinking steps,
// extrapolated to none (Ridders, Adv. Eng. Software 4, 1982), with how far the
// extrapolation still moves it.
func ridders(at func(x float64) complex128, x, step float64) (d complex128, unsure float64) {
	const rows, shrink = 9, 1.5
	var table [rows][rows]complex128
	unsure = math.Inf(1)
	for i := range rows {
		table[i][0] = (at(x+step) - at(x-step)) / complex(2*step, 0)
		factor := shrink * shrink
		for j := 1; j <= i; j++ {
			finer, coarser := table[i][j-1], table[i-1][j-1]
			next := (finer*complex(factor, 0) - coarser) / complex(factor-1, 0)
			table[i][j] = next
			if off := math.Max(cmplx.Abs(next-finer), cmplx.Abs(next-coarser)); off < unsure {
				unsure, d = off, next
			}
			factor *= shrink * shrink
		}
		step /= shrink
	}
	return d, unsure
}

// The slopes of every element are those of its stamp's differences.
func TestSlopesAgreeWithDifferences(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7)) // weights only: any will do
	p := everyElement()
	for n, e := range p.list {
		for _, f := range []float64{7, 53, 420, 2600} {
			point := Point{Omega: 2 * math.Pi * f, Values: p.values}
			places := e.Pattern()
			entries, keep, weights := make([]complex128, len(places)), make([]complex128, e.Keep()), make([]complex128, len(places))
			e.Stamp(&point, entries, keep)
			for i := range weights { // of like influence each
				weights[i] = complex(r.NormFloat64(), r.NormFloat64()) / complex(math.Max(cmplx.Abs(entries[i]), 1e-12), 0)
			}
			grad := make([]complex128, len(p.values))
			omega := e.Slopes(&point, keep, weights, grad)
			sum := func() (s complex128) {
				e.Stamp(&point, entries, keep)
				for i, w := range weights {
					s += w * entries[i]
				}
				return s
			}
			for v := range p.values {
				x := p.values[v]
				if grad[v] == 0 {
					continue
				}
				want, unsure := ridders(func(y float64) complex128 {
					p.values[v] = y
					return sum()
				}, x, 0.02*x)
				p.values[v] = x
				if off := cmplx.Abs(grad[v] - want); !(off <= 1e-8*math.Max(cmplx.Abs(want), 1e-3/x)+2*unsure) {
					t.Errorf("%s at %g Hz by value %d (%g): %.10g, by differences %.10g ± %.1g", p.names[n], f, v, x, grad[v], want, unsure)
				}
			}
			// What has no slope has no influence either.
			before := sum()
			for v := range p.values {
				if grad[v] != 0 {
					continue
				}
				x := p.values[v]
				p.values[v] = 1.01 * x
				if after := sum(); cmplx.Abs(after-before) > 1e-12*float64(len(places)) {
					t.Errorf("%s at %g Hz: value %d (%g) has an influence and no slope", p.names[n], f, v, x)
				}
				p.values[v] = x
			}
			want, unsure := ridders(func(w float64) complex128 {
				point.Omega = w
				return sum()
			}, 2*math.Pi*f, 0.02*2*math.Pi*f)
			if off := cmplx.Abs(omega - want); !(off <= 1e-8*math.Max(cmplx.Abs(want), 1e-3/f)+2*unsure) {
				t.Errorf("%s at %g Hz by ω: %.10g, by differences %.10g ± %.1g", p.names[n], f, omega, want, unsure)
			}
		}
	}
}

// The listener's row has slopes of its own.
func TestListenerSlopes(t *testing.T) {
	p := new(parts)
	a := p.opening(0.05, [3]float64{0.01, 0.02, 0.03})
	b := p.opening(0.02, [3]float64{0.1, 0.7, 0.02})
	b.Factor, b.Sign, b.Count = b.Area, -1, 3
	l := &Listener{Openings: []Opening{a, b}, Outside: &FreeSpace{Angle: math.Pi, Distance: p.value(1.3),
		Listener: [3]Value{p.value(0.2), p.value(-0.3), p.value(1.4)}, Air: air.Reference()}}
	x := make([]complex128, 10)
	for i := range x {
		x[i] = complex(float64(i), 1)
	}
	row := make([]complex128, 2)
	for _, f := range []float64{9, 300, 1500} {
		point := Point{Omega: 2 * math.Pi * f, Values: p.values}
		sum := func() complex128 {
			l.Row(&point, row)
			return row[0]*x[a.Flow] + row[1]*x[b.Flow]
		}
		grad := make([]complex128, len(p.values))
		omega := l.Slopes(&point, 2i, x, grad, row)
		for v := range p.values {
			at := p.values[v]
			want, unsure := ridders(func(y float64) complex128 {
				p.values[v] = y
				return 2i * sum()
			}, at, 0.02*at)
			p.values[v] = at
			if off := cmplx.Abs(grad[v] - want); !(off <= 1e-8*cmplx.Abs(want)+2*unsure) {
				t.Errorf("%g Hz by value %d: %.10g, by differences %.10g ± %.1g", f, v, grad[v], want, unsure)
			}
		}
		want, unsure := ridders(func(w float64) complex128 {
			point.Omega = w
			return 2i * sum()
		}, 2*math.Pi*f, 2*math.Pi*f*0.02)
		if off := cmplx.Abs(omega - want); !(off <= 1e-8*cmplx.Abs(want)+2*unsure) {
			t.Errorf("%g Hz by ω: %.10g, by differences %.10g ± %.1g", f, omega, want, unsure)
		}
	}
}

// Bad tables are refused with what is wrong.
func TestBadTables(t *testing.T) {
	p := new(parts)
	ends := []Unknown{p.unknown(Pressure)}
	one := []complex128{1}
	for name, try := range map[string]func() (*Table, error){
		"no rows":        func() (*Table, error) { return NewTable(ends, true, nil, nil) },
		"too few":        func() (*Table, error) { return NewTable(ends, true, []float64{1, 2}, [][]complex128{one}) },
		"falling":        func() (*Table, error) { return NewTable(ends, true, []float64{2, 1}, [][]complex128{one, one}) },
		"zero frequency": func() (*Table, error) { return NewTable(ends, true, []float64{0}, [][]complex128{one}) },
		"not a number":   func() (*Table, error) { return NewTable(ends, true, []float64{math.NaN()}, [][]complex128{one}) },
		"wrong size":     func() (*Table, error) { return NewTable(ends, true, []float64{1}, [][]complex128{{1, 2}}) },
		"infinite":       func() (*Table, error) { return NewTable(ends, true, []float64{1}, [][]complex128{{cmplx.Inf()}}) },
	} {
		if table, err := try(); err == nil || table != nil {
			t.Errorf("%s: no error", name)
		}
	}
}
