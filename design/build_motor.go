package design

import (
	"errors"
	"fmt"

	"ocarina/driver"
	"ocarina/formula"
	"ocarina/network"
)

func (b *builder) find(name string) *Driver {
	for _, d := range b.d.Drivers {
		if d.Name == name {
			return d
		}
	}
	return nil
}

// sheet enters a value of a data sheet if it is given.
func (b *builder) sheet(part string, key string, q Quantity) formula.Ref {
	if !q.Given {
		return driver.Unknown
	}
	return b.dimension(part, key, 0, q)
}

func (b *builder) driver(d *Driver) {
	s := driver.Blank()
	in := func(key string, q Quantity) formula.Ref { return b.sheet(d.Name, key, q) }
	s.Re, s.Sd = in("re", d.Re), in("sd", d.Sd)
	s.Fs, s.Qms, s.Qes, s.Qts, s.Vas = in("fs", d.Fs), in("qms", d.Qms), in("qes", d.Qes), in("qts", d.Qts), in("vas", d.Vas)
	s.Mms, s.Mmd, s.Cms, s.Rms, s.Bl = in("mms", d.Mms), in("mmd", d.Mmd), in("cms", d.Cms), in("rms", d.Rms), in("bl", d.Bl)
	s.Creep = in("creep", d.Creep)
	b.motors[d.Name] = b.derive(s, &d.Named)
	b.sheets[d.Name] = s
}

func (b *builder) derive(s driver.Sheet, at *Named) driver.Motor {
	m, off, err := driver.Derive(b.g, s, b.sheetAt)
	if err != nil {
		summary := "Data contradict one another"
		var missing *driver.MissingError
		if errors.As(err, &missing) {
			summary = "Data are missing"
		}
		b.fail(at.Range, summary, fmt.Sprintf("%s: %s.", at.Name, err))
	}
	for _, o := range off {
		b.warn(at.Range, "Data differ", at.Name+" "+o.String())
	}
	return m
}

// face returns the pressure at one face of a diaphragm.
func (b *builder) face(part string, at Place, rear bool, d *network.Diaphragm, bare bool, position []Quantity) network.Unknown {
	if at.Kind != Outside {
		return b.at(at)
	}
	sign := 1.0
	if rear {
		sign = -1
	}
	return b.open(part, rear, network.Opening{Flow: d.Displacement, Factor: d.Area, Sign: sign, Count: d.Count, Area: d.Area, Mass: bare}, position)
}

// moved returns the moving mass of a cone: a bare one carries the air at its
// chamber faces too.
func (b *builder) moved(m driver.Motor, sd formula.Ref, front, rear Place) formula.Ref {
	mass := m.Mms
	for _, p := range []Place{front, rear} {
		if m.Bare && p.Kind != Outside {
			mass = b.g.Add(mass, driver.FaceLoad(b.g, sd, b.m.Air))
		}
	}
	return mass
}

// mount adds a driver between two voltages and returns the resistance of its
// members' coils as wired.
func (b *builder) mount(m *Mount, index int, drive *Drive, plus, minus network.Unknown) formula.Ref {
	g := b.g
	d := b.find(m.Driver)
	motor, sheet := b.motors[d.Name], b.sheets[d.Name]
	count := m.Count.Or(1)
	dia := &network.Diaphragm{Displacement: b.net.Unknown(network.Displacement, m.Name), Count: count,
		Area: network.Value(sheet.Sd), Mass: network.Value(b.moved(motor, sheet.Sd, m.Front, m.Rear)), Moving: network.Value(motor.Loaded),
		Compliance: network.Value(motor.Cms), Resistance: network.Value(motor.Rms), Creep: network.None, CreepReference: network.None}
	if sheet.Creep != driver.Unknown {
		dia.Creep, dia.CreepReference = network.Value(sheet.Creep), network.Value(motor.Fs)
	}
	dia.Open = [2]bool{m.Front.Kind == Outside, m.Rear.Kind == Outside}
	dia.Front = b.face(m.Name, m.Front, false, dia, motor.Bare, m.Position)
	dia.Rear = b.face(m.Name, m.Rear, true, dia, motor.Bare, m.Position)

	re := sheet.Re
	if drive.CoilTemperature.Given {
		part := "drive"
		if drive.Name != "" {
			part = drive.Name
		}
		re = driver.Heated(g, re, b.dimension(part, "coil_temperature", 0, drive.CoilTemperature))
	}
	if m.Reversed {
		plus, minus = minus, plus
	}
	coil := &network.Coil{Plus: plus, Minus: minus, Current: b.net.Unknown(network.Current, m.Name+" coil"), Displacement: dia.Displacement,
		Count: count, Series: m.Wiring == Series, Resistance: network.Value(re), ForceFactor: network.Value(motor.Bl),
		Inductance: network.None, K: network.None, N: network.None, L2: network.None, R2: network.None}
	value := func(key string, q Quantity) network.Value {
		if !q.Given {
			return network.None
		}
		return network.Value(b.dimension(d.Name, key, 0, q))
	}
	coil.Inductance = value("le", d.Le)
	if c := d.Coil; c != nil {
		coil.K, coil.N = value("coil.k", c.K), value("coil.n", c.N)
		coil.Inductance, coil.L2, coil.R2 = value("coil.le", c.Le), value("coil.l2", c.L2), value("coil.r2", c.R2)
	}
	b.element(Part{Name: m.Name, LossName: m.Name + ".coil", Group: LossPart, Element: coil})
	b.element(Part{Name: m.Name, LossName: m.Name + ".suspension", Group: MovingPart, Element: dia})
	b.m.Mounts = append(b.m.Mounts, &MountModel{Name: m.Name, Driver: d, Motor: motor, Diaphragm: dia, Coil: coil, Count: count, Drive: index,
		Xmax: d.Xmax.Or(0), Power: d.Power.Or(0), Front: m.Front, Rear: m.Rear, Area: sheet.Sd})
	if m.Wiring == Series {
		return g.Scale(count, re)
	}
	return g.Scale(1/count, re)
}

func (b *builder) passive(p *Passive) {
	s := driver.Blank()
	in := func(key string, q Quantity) formula.Ref { return b.sheet(p.Name, key, q) }
	s.Sd, s.Mms, s.Cms, s.Rms = in("sd", p.Sd), in("mms", p.Mms), in("cms", p.Cms), in("rms", p.Rms)
	s.Fs, s.Qms, s.Vas = in("fs", p.Fs), in("qms", p.Qms), in("vas", p.Vas)
	motor := b.derive(s, &p.Named)
	if b.diags.HasErrors() {
		return
	}
	count := p.Count.Or(1)
	dia := &network.Diaphragm{Displacement: b.net.Unknown(network.Displacement, p.Name), Count: count,
		Area: network.Value(s.Sd), Mass: network.Value(motor.Mms), Moving: network.Value(motor.Loaded), Compliance: network.Value(motor.Cms), Resistance: network.Value(motor.Rms),
		Creep: network.None, CreepReference: network.None}
	dia.Open = [2]bool{p.Front.Kind == Outside, p.Rear.Kind == Outside}
	dia.Front = b.face(p.Name, p.Front, false, dia, false, p.Position)
	dia.Rear = b.face(p.Name, p.Rear, true, dia, false, p.Position)
	b.element(Part{Name: p.Name, LossName: p.Name, Group: MovingPart, Element: dia})
	b.m.Passives = append(b.m.Passives, &PassiveModel{Name: p.Name, Motor: motor, Diaphragm: dia, Count: count, Xmax: p.Xmax.Or(0), Front: p.Front, Rear: p.Rear, Area: s.Sd})
}
