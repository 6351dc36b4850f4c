package response

import (
	"fmt"
	"math"

	"ocarina/design"
)

// drive is an amplifier with its filters, delay and wired mounts.
func (k *circuit) drive(index int, d *design.Drive) {
	var mounts []*design.Mount
	for _, m := range k.d.Mounts {
		if m.Drive == d.Name || m.Drive == "" && index == 0 {
			mounts = append(mounts, m)
		}
	}
	volts := d.Voltage.Or(2.83)
	if d.Power.Given {
		volts = math.Sqrt(d.Power.SI * k.wired(d, mounts))
	}
	volts *= math.Pow(10, d.Gain.Or(0)/20)
	if d.Reversed {
		volts = -volts
	}
	at := k.inner()
	k.add("Vs%d %s 0 DC 0 AC %s", index, at, number(volts))
	if d.Delay.Given { // a matched line delays and does nothing else
		far := k.inner()
		k.add("Td%d %s 0 %s 0 Z0=1 TD=%s", index, at, far, number(d.Delay.SI))
		k.add("Rd%d %s 0 1", index, far)
		at = far
	}
	for i, f := range d.Filters {
		at = k.active(fmt.Sprintf("%d_%d", index, i), f, at)
	}
	out := k.inner()
	k.add("Ea%d %s 0 %s 0 1", index, out, at)
	at = k.meter(fmt.Sprintf("current %d", index), out, 1)
	if d.SourceResistance.Or(0) > 0 {
		next := k.inner()
		k.add("Rs%d %s %s %s", index, at, next, number(d.SourceResistance.SI))
		at = next
	}
	k.readings[fmt.Sprintf("terminal %d", index)] = reading{"v(" + at + ")", 1}
	for i, f := range d.Filters {
		switch f.Kind {
		case design.SeriesParts:
			next := k.inner()
			k.parts(fmt.Sprintf("%d_%d", index, i), f, at, next)
			at = next
		case design.ShuntParts:
			k.parts(fmt.Sprintf("%d_%d", index, i), f, at, "0")
		}
	}
	for i, m := range mounts {
		minus := "0"
		if d.Wiring == design.Series && i < len(mounts)-1 {
			minus = k.inner()
		}
		if m.Reversed {
			k.mount(m, d, minus, at)
		} else {
			k.mount(m, d, at, minus)
		}
		if d.Wiring == design.Series {
			at = minus
		}
	}
}

// wired is the resistance at rest of mounts as wired.
func (k *circuit) wired(d *design.Drive, mounts []*design.Mount) float64 {
	sum, conductance := 0.0, 0.0
	for _, m := range mounts {
		r := k.driver(m).Re.SI * k.warmth(d)
		if m.Wiring == design.Series {
			r *= m.Count.Or(1)
		} else {
			r /= m.Count.Or(1)
		}
		sum += r
		conductance += 1 / r
	}
	if d.Wiring == design.Series {
		return sum
	}
	return 1 / conductance
}

func (k *circuit) warmth(d *design.Drive) float64 {
	if !d.CoilTemperature.Given {
		return 1
	}
	return 1 + 0.00393*(d.CoilTemperature.SI-293.15)
}

func (k *circuit) driver(m *design.Mount) *design.Driver {
	for _, v := range k.d.Drivers {
		if v.Name == m.Driver {
			return v
		}
	}
	panic("no driver " + m.Driver)
}

// parts joins what a series or shunt filter lists, in series with one another.
func (k *circuit) parts(name string, f *design.Filter, from, to string) {
	list := []struct {
		letter string
		q      design.Quantity
	}{{"R", f.Resistance}, {"L", f.Inductance}, {"C", f.Capacitance}}
	at := from
	for i, p := range list {
		if !p.q.Given {
			continue
		}
		next := to
		for _, later := range list[i+1:] {
			if later.q.Given {
				next = k.inner()
				break
			}
		}
		k.add("%sf%s %s %s %s", p.letter, name, at, next, number(p.q.SI))
		at = next
	}
}

// active is a filter ahead of the amplifier: the voltages of a buffered series
// L–R–C of the right corner and damping are the high, band and low-pass of
// second order, and every section a weighted sum of them.
func (k *circuit) active(name string, f *design.Filter, at string) string {
	w := 2 * math.Pi * f.Frequency.Or(1)
	a := math.Pow(10, f.Gain.Or(0)/40)
	q := f.Q.Or(math.Sqrt(0.5))
	switch f.Kind {
	case design.HighPass, design.LowPass:
		high := 1.0
		if f.Kind == design.LowPass {
			high = 0
		}
		order := int(f.Order.Or(2))
		if order == 2 {
			return k.biquad(name, at, w, q, high, 0, 1-high)
		}
		for i := 0; i < order/2; i++ { // Butterworth poles lie evenly on a half circle
			angle := math.Pi / float64(2*order) * float64(2*i+1)
			at = k.biquad(fmt.Sprintf("%s_%d", name, i), at, w, 1/(2*math.Sin(angle)), high, 0, 1-high)
		}
		if order%2 == 1 {
			mid, out := k.inner(), k.inner()
			if high == 1 {
				k.add("Cw%s %s %s %s", name, at, mid, number(1/w))
				k.add("Rw%s %s 0 1", name, mid)
			} else {
				k.add("Rw%s %s %s 1", name, at, mid)
				k.add("Cw%s %s 0 %s", name, mid, number(1/w))
			}
			k.add("Ew%s %s 0 %s 0 1", name, out, mid)
			at = out
		}
	case design.Bell:
		return k.biquad(name, at, w, a*q, 1, a*a, 1)
	case design.LowShelf:
		return k.biquad(name, at, w/math.Sqrt(a), q, 1, a, a*a)
	case design.HighShelf:
		return k.biquad(name, at, w*math.Sqrt(a), q, a*a, a, 1)
	}
	return at
}

func (k *circuit) biquad(name, at string, w, q, high, band, low float64) string {
	a, b, c := k.inner(), k.inner(), k.inner()
	k.add("Eb%s %s 0 %s 0 1", name, a, at)
	k.add("Lb%s %s %s %s", name, a, b, number(1/w))
	k.add("Rb%s %s %s %s", name, b, c, number(1/q))
	k.add("Cb%s %s 0 %s", name, c, number(1/w))
	d, e, out := k.inner(), k.inner(), k.inner()
	k.add("Eh%s %s %s %s %s %s", name, out, d, a, b, number(high))
	k.add("Em%s %s %s %s %s %s", name, d, e, b, c, number(band))
	k.add("El%s %s 0 %s 0 %s", name, e, c, number(low))
	k.add("Ro%s %s 0 1", name, out)
	return out
}

// mount is a mount's coil between two nodes, one branch for all its members,
// and its cone.
func (k *circuit) mount(m *design.Mount, drive *design.Drive, plus, minus string) {
	d, n := k.driver(m), m.Count.Or(1)
	compliance := d.Cms.SI
	if d.Vas.Given {
		compliance = d.Vas.SI / (k.rho * k.c * k.c * d.Sd.SI * d.Sd.SI)
	}
	w := 2 * math.Pi * d.Fs.SI
	mass := 1 / (w * w * compliance)
	force := math.Sqrt(w * mass * d.Re.SI / d.Qes.SI)

	// Members in parallel: currents add, so that each pushes with 1/n of it.
	// In series: voltages add.
	z, push, emf := 1/n, force/n, force
	if m.Wiring == design.Series {
		z, push, emf = n, force, n*force
	}
	at := k.meter("coil "+m.Name, plus, push/force)
	next := k.inner()
	k.add("Re%s %s %s %s", m.Name, at, next, number(z*d.Re.SI*k.warmth(drive)))
	at = next
	inductance := d.Le
	if d.Coil != nil {
		inductance = d.Coil.Le
	}
	if inductance.Given {
		next = k.inner()
		k.add("Le%s %s %s %s", m.Name, at, next, number(z*inductance.SI))
		at = next
	}
	if d.Coil != nil {
		next = k.inner()
		k.add("L2%s %s %s %s", m.Name, at, next, number(z*d.Coil.L2.SI))
		k.add("R2%s %s %s %s", m.Name, at, next, number(z*d.Coil.R2.SI))
		at = next
	}
	k.add("H%sb %s %s vx%s %s", m.Name, at, minus, m.Name, number(emf))
	coil := k.readings["coil "+m.Name].vector
	start := k.inner()
	k.add("H%sf %s 0 %s %s", m.Name, start, coil[2:len(coil)-1], number(push))
	k.diaphragm(m.Name, m.Front, m.Rear, d.Sd.SI, mass, compliance, w*mass/d.Qms.SI, n, start)
}
