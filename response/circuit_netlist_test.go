package response

import (
	"fmt"
	"math"
	"strings"

	"ocarina/design"
)

// circuit is a design as an equivalent electrical circuit, written from the
// design file's numbers and the formulas beside them here: none of it comes
// from the model or the solver under test.
//
// A node of the circuit's acoustic part holds a pressure (1 V = 1 Pa), its
// currents are volume velocities (1 A = 1 m³/s); a mechanical loop carries a
// velocity (1 A = 1 m/s). Members of a count share one branch.
type circuit struct {
	d        *design.Design
	rho, c   float64 // air
	lines    strings.Builder
	readings map[string]reading
	fresh    int
}

// reading is a vector of the circuit and what it has to be multiplied by to be
// the value for one member.
type reading struct {
	vector string
	factor float64
}

// netlist translates a design whose walls are ideal, whose openings see
// nothing and whose air is given outright.
func netlist(d *design.Design) *circuit {
	k := &circuit{d: d, rho: d.Air.Density.SI, c: d.Air.Speed.SI, readings: map[string]reading{}}
	for _, v := range d.Chambers {
		k.chamber(v)
	}
	for _, p := range d.Ports {
		k.port(p)
	}
	for _, l := range d.Lines {
		k.line(l)
	}
	for _, l := range d.Leaks {
		k.add("R%s %s %s %s", l.Name, node(l.From), node(l.To), number(l.Resistance.SI))
	}
	for _, p := range d.Passives {
		k.passive(p)
	}
	for i, v := range d.Drives {
		k.drive(i, v)
	}
	return k
}

func (k *circuit) add(format string, a ...any) { fmt.Fprintf(&k.lines, format+"\n", a...) }

func number(x float64) string { return fmt.Sprintf("%.17g", x) }

func node(p design.Place) string {
	if p.Kind == design.Outside {
		return "0"
	}
	return "p_" + p.Name
}

// inner returns a new node.
func (k *circuit) inner() string {
	k.fresh++
	return fmt.Sprintf("n%d", k.fresh)
}

// meter puts an ammeter from a node to a new one, read as name.
func (k *circuit) meter(name, from string, factor float64) (to string) {
	to = k.inner()
	k.fresh++
	v := fmt.Sprintf("vm%d", k.fresh)
	k.add("%s %s %s 0", v, from, to)
	k.readings[name] = reading{"i(" + v + ")", factor}
	return to
}

// faraway is a resistance of no consequence that gives a node its way to ground
// where nothing else does at zero frequency.
const faraway = 1e14

// volume is a chamber's air: less port bodies, drivers and bracing where the
// size given is gross.
func (k *circuit) volume(v *design.Chamber) float64 {
	net := v.Volume.SI
	if len(v.Size) == 3 {
		net = v.Size[0].SI * v.Size[1].SI * v.Size[2].SI
	}
	if !v.Gross {
		return net
	}
	net -= v.Bracing.Or(0)
	for _, p := range k.d.Ports {
		wall := 2 * p.WallThickness.Or(0)
		body := math.Pi / 4 * math.Pow(math.Sqrt(4*p.OpeningArea()/math.Pi)+wall, 2)
		if len(p.Size) == 2 {
			body = (p.Size[0].SI + wall) * (p.Size[1].SI + wall)
		}
		for end, at := range [2]design.Place{p.From, p.To} {
			if at.Name == v.Name && len(p.Inside) == 2 {
				net -= p.Count.Or(1) * body * p.Inside[end].SI
			}
		}
	}
	for _, m := range k.d.Mounts { // a driver's basket is behind its cone, where that is a chamber
		at := m.Rear
		if at.Kind != design.InChamber {
			at = m.Front
		}
		if at.Name == v.Name {
			net -= m.Count.Or(1) * k.driver(m).Displacement.Or(0)
		}
	}
	return net
}

func (k *circuit) chamber(v *design.Chamber) {
	compliance := k.volume(v) / (k.rho * k.c * k.c)
	at := "p_" + v.Name
	k.add("C%s %s 0 %s", v.Name, at, number(compliance))
	k.add("Ro%s %s 0 %g", v.Name, at, faraway)
	if v.LeakQ.Given {
		k.add("Rq%s %s 0 %s", v.Name, at, number(v.LeakQ.SI/(2*math.Pi*v.LeakAt.SI*compliance)))
	}
	k.readings["pressure "+v.Name] = reading{"v(" + at + ")", 1}
}

// ending is the end correction of a port [m]; physics of each case as in the
// design file's description, worked out anew.
func (k *circuit) ending(p *design.Port, n int, at design.Place) float64 {
	if len(p.EndCorrection) == 2 {
		return p.EndCorrection[n].SI
	}
	shape := p.Ends[n]
	if shape == design.NoEnd || at.Kind == design.AtJunction {
		return 0
	}
	area := p.OpeningArea()
	flush, free := 0.8217*math.Sqrt(area/math.Pi), 0.6133*math.Sqrt(area/math.Pi)
	if len(p.Size) == 2 {
		w, h := p.Size[0].SI, p.Size[1].SI
		free = 0.7225 * rectangleSelfMass(w, h) / (2 * math.Pi * w * h)
		if shape == design.Slot {
			h *= 2
		}
		flush = 0.9681 * rectangleSelfMass(w, h) / (2 * math.Pi * w * h)
	}
	switch {
	case shape == design.FreeEnd:
		return free
	case at.Kind == design.Outside:
		return flush
	}
	wall := p.Wall.SI
	if !p.Wall.Given {
		for _, v := range k.d.Chambers {
			if v.Name == at.Name {
				wall = math.Pow(k.volume(v), 2.0/3)
			}
		}
	}
	xi := math.Sqrt(p.Count.Or(1) * area / wall)
	return flush * math.Max(0, 1-1.35*xi+0.31*xi*xi*xi)
}

func rectangleSelfMass(w, h float64) float64 {
	return 2*w*w*h*math.Asinh(h/w) + 2*w*h*h*math.Asinh(w/h) + 2.0/3*(w*w*w+h*h*h) - 2.0/3*math.Pow(w*w+h*h, 1.5)
}

// tube is a lossless duct as an ideal transmission line between two nodes,
// members of them side by side.
func (k *circuit) tube(name, from, to string, area, length, members float64) {
	k.add("T%s %s 0 %s 0 Z0=%s TD=%s", name, from, to, number(k.rho*k.c/area/members), number(length/k.c))
}

func (k *circuit) port(p *design.Port) {
	n, area := p.Count.Or(1), p.OpeningArea()
	at := k.meter("entry "+p.Name, node(p.From), 1/n)
	if p.Resistance.Given { // half of a cloth's at either end: no end comes first
		next := k.inner()
		k.add("Rf%s %s %s %s", p.Name, at, next, number(p.Resistance.SI/2/n))
		at = next
	}
	at = k.mass(p.Name+"a", at, k.rho*k.ending(p, 0, p.From)/area/n)
	far := k.inner()
	k.tube(p.Name, at, far, area, p.Length.SI, n)
	far = k.mass(p.Name+"b", far, k.rho*k.ending(p, 1, p.To)/area/n)
	if p.Resistance.Given {
		next := k.inner()
		k.add("Rt%s %s %s %s", p.Name, far, next, number(p.Resistance.SI/2/n))
		far = next
	}
	k.back("flow "+p.Name, far, node(p.To), 1/n)
}

// mass is an acoustic mass in series, where there is any.
func (k *circuit) mass(name, from string, m float64) (to string) {
	if m == 0 {
		return from
	}
	to = k.inner()
	k.add("L%s %s %s %s", name, from, to, number(m))
	return to
}

// back is a meter between two nodes that exist.
func (k *circuit) back(name, from, to string, factor float64) {
	k.fresh++
	v := fmt.Sprintf("vm%d", k.fresh)
	k.add("%s %s %s 0", v, from, to)
	k.readings[name] = reading{"i(" + v + ")", factor}
}

func (k *circuit) line(l *design.Line) {
	flush := func(area float64) float64 { return k.rho * 0.8217 * math.Sqrt(area/math.Pi) / area }
	at := node(l.From)
	if l.From.Kind == design.Closed {
		at = k.inner()
		k.add("Rc%s %s 0 %g", l.Name, at, faraway)
	}
	for i, s := range l.Sections {
		name := fmt.Sprintf("%s %d", l.Name, i)
		at = k.meter("entry "+name, at, 1)
		if i == 0 && l.From.Kind == design.Outside {
			at = k.mass(l.Name+"a", at, flush(s.StartArea()))
		}
		far := k.inner()
		k.tube(fmt.Sprintf("%s%d", l.Name, i), at, far, s.StartArea(), s.Length.SI, 1)
		if i < len(l.Sections)-1 {
			at = k.meter("flow "+name, far, 1)
			continue
		}
		switch l.To.Kind {
		case design.Closed:
			k.add("Rd%s %s 0 %g", l.Name, far, faraway)
		case design.Outside:
			far = k.mass(l.Name+"b", far, flush(s.StartArea()))
			fallthrough
		default:
			k.back("flow "+name, far, node(l.To), 1)
		}
	}
}

// diaphragm is a mechanical loop pushed by the pressures at its faces and,
// given a force, by that; its velocity counts out of the front.
func (k *circuit) diaphragm(name string, front, rear design.Place, sd, mass, compliance, resistance, count float64, force string) {
	a, b, c, v := k.inner(), k.inner(), k.inner(), "vx"+name
	start := "0"
	if force != "" {
		start = force
	}
	// The loop's EMF: the force, less Sd·(front − rear).
	k.add("%s %s %s 0", v, start, a)
	k.add("L%sm %s %s %s", name, a, b, number(mass))
	k.add("R%sm %s %s %s", name, b, c, number(resistance))
	d := k.inner()
	k.add("C%sm %s %s %s", name, c, d, number(compliance))
	k.add("Ro%sm %s 0 %g", name, d, faraway)
	k.add("E%sp %s 0 %s %s %s", name, d, node(front), node(rear), number(sd))
	k.add("F%sp %s %s %s %s", name, node(rear), node(front), v, number(sd*count))
	k.readings["velocity "+name] = reading{"i(" + v + ")", 1}
}

func (k *circuit) passive(p *design.Passive) {
	compliance, mass, resistance := p.Cms.SI, p.Mms.SI, p.Rms.SI
	if p.Vas.Given {
		compliance = p.Vas.SI / (k.rho * k.c * k.c * p.Sd.SI * p.Sd.SI)
	}
	if p.Fs.Given {
		w := 2 * math.Pi * p.Fs.SI
		mass = 1 / (w * w * compliance)
		resistance = w * mass / p.Qms.SI
	}
	k.diaphragm(p.Name, p.Front, p.Rear, p.Sd.SI, mass, compliance, resistance, p.Count.Or(1), "")
}
