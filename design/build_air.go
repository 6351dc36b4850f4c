package design

import (
	"fmt"
	"math"

	"ocarina/acoustic"
	"ocarina/air"
	"ocarina/driver"
	"ocarina/formula"
	"ocarina/network"
)

// defaultResistivity is the flow resistivity taken for fill whose own is not
// given: loose polyester wadding, a rule of thumb, Pa s/m².
const defaultResistivity = 4000

// defaultSpeedLimit is the peak air speed in a port above which noise is to be
// expected, as a part of the speed of sound: a rule of thumb, no audited onset
// speed was found.
const defaultSpeedLimit = 0.05

// volume works out a chamber's net volume.
func (b *builder) volume(c *Chamber) {
	g := b.g
	m := &ChamberModel{Name: c.Name, Pressure: b.places[c.Name]}
	if len(c.Size) == 3 {
		side := [3]formula.Ref{}
		for i, q := range c.Size {
			side[i] = b.dimension(c.Name, "size", i, q)
			m.Longest = math.Max(m.Longest, q.SI)
		}
		m.Volume = g.Product(side[0], side[1], side[2])
	} else {
		m.Volume = b.dimension(c.Name, "volume", 0, c.Volume)
		m.Longest = math.Cbrt(c.Volume.SI)
	}
	if c.Gross {
		m.Taken = b.bodies(c)
		net := m.Volume
		for _, t := range m.Taken {
			net = g.Sub(net, t.Volume)
		}
		if g.Value(net) <= 0 {
			b.fail(c.Range, "No air left in a chamber", fmt.Sprintf("What stands in %s takes %.4g L of its gross %.4g L: enlarge it, or take something out.", c.Name,
				(g.Value(m.Volume)-g.Value(net))*1000, g.Value(m.Volume)*1000))
		}
		m.Volume = net
	}
	b.volumes[c.Name] = m.Volume
	b.m.Chambers = append(b.m.Chambers, m)
}

// bodies lists what stands in a gross chamber: port bodies, drivers, bracing.
func (b *builder) bodies(c *Chamber) (list []Taken) {
	g := b.g
	for _, p := range b.d.Ports {
		from, to := p.InsideLengths()
		for end, length := range [2]float64{from, to} {
			place := p.From
			if end == 1 {
				place = p.To
			}
			if length <= 0 || place.Kind != InChamber || place.Name != c.Name {
				continue
			}
			index := 0
			if len(p.Inside) == 2 {
				index = end
			}
			inside := b.dimension(p.Name, "inside", index, p.Inside[index])
			body := g.Scale(p.Count.Or(1), g.Mul(inside, b.outerArea(p)))
			list = append(list, Taken{Part: p.Name, Volume: body})
		}
	}
	for _, m := range b.d.Mounts {
		at := m.Rear
		if at.Kind != InChamber {
			at = m.Front
		}
		d := b.find(m.Driver)
		if at.Kind != InChamber || at.Name != c.Name || !d.Displacement.Given {
			continue
		}
		v := g.Scale(m.Count.Or(1), b.dimension(d.Name, "displacement", 0, d.Displacement))
		list = append(list, Taken{Part: m.Name, Volume: v})
	}
	if c.Bracing.Given {
		list = append(list, Taken{Part: "bracing", Volume: b.dimension(c.Name, "bracing", 0, c.Bracing)})
	}
	return list
}

// outerArea is a port's cross-section with its wall.
func (b *builder) outerArea(p *Port) formula.Ref {
	g := b.g
	wall := formula.Ref(-1)
	if p.WallThickness.Given {
		wall = g.Scale(2, b.dimension(p.Name, "wall_thickness", 0, p.WallThickness))
	}
	thick := func(r formula.Ref) formula.Ref {
		if wall < 0 {
			return r
		}
		return g.Add(r, wall)
	}
	if len(p.Size) == 2 {
		return g.Mul(thick(b.dimension(p.Name, "size", 0, p.Size[0])), thick(b.dimension(p.Name, "size", 1, p.Size[1])))
	}
	var across formula.Ref
	if p.Diameter.Given {
		across = b.dimension(p.Name, "diameter", 0, p.Diameter)
	} else {
		across = g.Scale(2/math.Sqrt(math.Pi), g.Sqrt(b.dimension(p.Name, "area", 0, p.Area)))
	}
	return g.Scale(math.Pi/4, g.Pow(thick(across), 2))
}

func (b *builder) chamber(c *Chamber) {
	g := b.g
	m := b.m.Chambers[0]
	for _, o := range b.m.Chambers {
		if o.Name == c.Name {
			m = o
		}
	}
	medium := b.m.Air
	if c.Temperature.Given {
		own, err := b.d.Air.Medium(c.Temperature.SI)
		if err != nil {
			b.fail(c.Temperature.Range, "Air out of range", err.Error())
			return
		}
		medium = own
	}
	e := &network.Chamber{Pressure: m.Pressure, Volume: network.Value(m.Volume), Wall: network.None, Fill: network.None, FlowResistivity: network.None, Leak: network.None, Air: medium}
	if c.Walls == WallsReal {
		var wall formula.Ref
		if len(c.Size) == 3 {
			x, y, z := b.dimension(c.Name, "size", 0, c.Size[0]), b.dimension(c.Name, "size", 1, c.Size[1]), b.dimension(c.Name, "size", 2, c.Size[2])
			wall = g.Scale(2, g.Sum(g.Mul(x, y), g.Mul(y, z), g.Mul(z, x)))
		} else {
			wall = g.Scale(6, g.Pow(m.Volume, 2.0/3))
		}
		e.Wall = network.Value(wall)
	}
	if c.Fill.Or(0) > 0 {
		e.Fill = network.Value(b.dimension(c.Name, "fill", 0, c.Fill))
		e.FlowResistivity = network.Value(b.resistivity(c.Name, c.FlowResistivity))
	}
	if b.handles.Leaks {
		e.Leak = network.Value(b.dimension(c.Name, "leak", 0, Quantity{}))
	}
	m.Element = e
	b.element(Part{Name: c.Name, LossName: c.Name, Group: ChamberPart, Element: e})
	if c.LeakQ.Given && c.LeakAt.Given {
		// R = Q/(ωC) at the frequency given, and constant.
		q, f := b.dimension(c.Name, "leak_q", 0, c.LeakQ), b.dimension(c.Name, "leak_at", 0, c.LeakAt)
		r := g.Div(g.Scale(medium.Stiffness()/(2*math.Pi), q), g.Mul(f, m.Volume))
		leak := &network.Resistance{From: m.Pressure, To: network.Ground, Flow: b.net.Unknown(network.VolumeDisplacement, c.Name+" leak"), Resistance: network.Value(r)}
		b.element(Part{Name: c.Name, LossName: c.Name, Group: LossPart, Element: leak})
	}
}

func (b *builder) resistivity(part string, q Quantity) formula.Ref {
	if q.Given {
		return b.dimension(part, "flow_resistivity", 0, q)
	}
	return b.g.Const(defaultResistivity)
}

// section is a duct's cross-section: its area, what the wall loss needs, and
// the self-mass of a rectangle.
type section struct {
	area, radius, perimeter formula.Ref // radius or perimeter, else −1
	size                    [2]formula.Ref
	rectangle               bool
}

func (b *builder) section(part string, key func(string) string, diameter, area Quantity, size []Quantity) (s section) {
	g := b.g
	s.radius, s.perimeter = -1, -1
	switch {
	case len(size) == 2:
		s.rectangle = true
		s.size = [2]formula.Ref{b.dimension(part, key("size"), 0, size[0]), b.dimension(part, key("size"), 1, size[1])}
		s.area = g.Mul(s.size[0], s.size[1])
		s.perimeter = g.Scale(2, g.Add(s.size[0], s.size[1]))
	case diameter.Given:
		d := b.dimension(part, key("diameter"), 0, diameter)
		s.radius = g.Scale(0.5, d)
		s.area = g.Scale(math.Pi, g.Pow(s.radius, 2))
	default:
		s.area = b.dimension(part, key("area"), 0, area)
		s.radius = g.Scale(1/math.Sqrt(math.Pi), g.Sqrt(s.area))
	}
	return s
}

// rectangleEnd is k·I/(2πS), the end correction of a w×h opening.
func (b *builder) rectangleEnd(k float64, w, h formula.Ref) formula.Ref {
	g := b.g
	return g.Scale(k/(2*math.Pi), g.Div(g.Apply2(w, h, acoustic.RectangleMass), g.Mul(w, h)))
}

// end returns the end correction [m] of a port or line whose end of the given
// shape is at a place, or driver.Unknown for none.
func (b *builder) end(s section, shape End, at Place, count float64, wall formula.Ref) formula.Ref {
	g := b.g
	if at.Kind == AtJunction || at.Kind == Closed || shape == NoEnd {
		return driver.Unknown
	}
	var flush formula.Ref
	switch {
	case s.rectangle && shape == FreeEnd:
		return b.rectangleEnd(acoustic.RectangleFree, s.size[0], s.size[1])
	case shape == FreeEnd:
		return g.Scale(acoustic.Free, b.radius(s))
	case s.rectangle && shape == Slot:
		flush = b.rectangleEnd(acoustic.RectangleFlush, s.size[0], g.Scale(2, s.size[1]))
	case s.rectangle:
		flush = b.rectangleEnd(acoustic.RectangleFlush, s.size[0], s.size[1])
	default:
		flush = g.Scale(acoustic.FlushOutside, b.radius(s))
	}
	if at.Kind == Outside {
		return flush
	}
	if wall < 0 {
		wall = g.Pow(b.volumes[at.Name], 2.0/3)
	}
	xi := g.Sqrt(g.Div(g.Scale(count, s.area), wall))
	return g.Mul(g.Scale(1/acoustic.FlushOutside, flush), g.Apply(xi, acoustic.FlushInside))
}

func (b *builder) radius(s section) formula.Ref {
	if s.radius >= 0 {
		return s.radius
	}
	return b.g.Scale(1/math.Sqrt(math.Pi), b.g.Sqrt(s.area))
}

// duct adds one stretch between two places or inner points.
type stretch struct {
	part           string
	section        section
	walls          Walls
	from, to       network.Unknown
	fromOut, toOut bool
	count          float64
	length         formula.Ref
	position       []Quantity
}

func (b *builder) stretch(s stretch) *network.Duct {
	d := &network.Duct{
		From: s.from, To: s.to, Count: s.count,
		Flow:   b.net.Unknown(network.VolumeDisplacement, s.part),
		Length: network.Value(s.length), Area: network.Value(s.section.area),
		Radius: network.None, Perimeter: network.None, ToArea: network.None,
		Mass: [2]network.Value{network.None, network.None}, Resistance: network.None,
		Fill: network.None, Resistivity: network.None, Air: b.m.Air,
	}
	if s.from != network.Sealed {
		d.Entry = b.net.Unknown(network.VolumeDisplacement, s.part+" entry")
	}
	if s.walls != WallsIdeal {
		d.Radius, d.Perimeter = network.Value(s.section.radius), network.Value(s.section.perimeter)
	}
	d.Open = [2]bool{s.fromOut, s.toOut}
	if s.fromOut {
		d.From = b.open(s.part, true, network.Opening{Flow: d.Entry, Factor: network.None, Sign: -1, Count: s.count, Area: d.Area}, s.position)
	}
	if s.toOut {
		d.To = b.open(s.part, false, network.Opening{Flow: d.Flow, Factor: network.None, Sign: 1, Count: s.count, Area: d.Area}, s.position)
	}
	return d
}

func (b *builder) place(p Place) (network.Unknown, bool) {
	if p.Kind == Outside {
		return network.Ground, true
	}
	return b.at(p), false
}

func (b *builder) port(p *Port) {
	g := b.g
	sec := b.section(p.Name, func(k string) string { return k }, p.Diameter, p.Area, p.Size)
	s := stretch{part: p.Name, section: sec, walls: p.Walls, count: p.Count.Or(1), length: b.dimension(p.Name, "length", 0, p.Length), position: p.Position}
	s.from, s.fromOut = b.place(p.From)
	s.to, s.toOut = b.place(p.To)
	d := b.stretch(s)
	m := &DuctModel{Name: p.Name, Sections: []*network.Duct{d}, Count: s.count, Area: sec.area, From: p.From, To: p.To}
	wall := formula.Ref(-1)
	if p.Wall.Given {
		wall = b.dimension(p.Name, "wall", 0, p.Wall)
	}
	m.Ideal = s.length
	for n, at := range [2]Place{p.From, p.To} {
		m.Ends[n] = b.end(sec, p.Ends[n], at, s.count, wall)
		if len(p.EndCorrection) == 2 {
			m.Ends[n] = b.dimension(p.Name, "end_correction", n, p.EndCorrection[n])
		}
		if m.Ends[n] != driver.Unknown {
			d.Mass[n] = network.Value(m.Ends[n])
			m.Ideal = g.Add(m.Ideal, m.Ends[n])
		}
	}
	if p.Resistance.Given || b.handles.Resistances {
		d.Resistance = network.Value(b.dimension(p.Name, "resistance", 0, p.Resistance))
	}
	b.limit(m, p.SpeedLimit)
	b.element(Part{Name: p.Name, LossName: p.Name, Group: DuctPart, Element: d})
	b.m.Ports = append(b.m.Ports, m)
}

func (b *builder) limit(m *DuctModel, q Quantity) {
	m.SpeedLimit = q.Or(defaultSpeedLimit * b.m.Air.Speed)
	m.Rule = !q.Given
}

func (b *builder) line(l *Line) {
	from, to := l.From, l.To
	order := make([]int, len(l.Sections))
	for i := range order {
		order[i] = i
	}
	m := &DuctModel{Name: l.Name, Count: 1, From: l.From, To: l.To, Ideal: driver.Unknown, Ends: [2]formula.Ref{driver.Unknown, driver.Unknown}}
	if to.Kind == Closed { // the solver wants a closed end first
		from, to = to, from
		m.Turned = true
		for i := range order {
			order[i] = len(order) - 1 - i
		}
	}
	var medium air.Medium = b.m.Air
	point, fromOut := b.place(from)
	for n, i := range order {
		sec := l.Sections[i]
		key := func(k string) string { return sectionKey(i, k) }
		shape := b.section(l.Name, key, sec.Diameter, sec.Area, sec.Size)
		s := stretch{part: l.Name, section: shape, walls: l.Walls, count: 1, from: point, fromOut: fromOut && n == 0,
			length: b.dimension(l.Name, key("length"), 0, sec.Length), position: l.Position}
		far := formula.Ref(-1)
		if sec.ToArea.Given && sec.Shape != Straight {
			far = b.dimension(l.Name, key("to_area"), 0, sec.ToArea)
		}
		near := shape
		if far >= 0 {
			near.rectangle, near.perimeter, near.radius = false, -1, -1
			end := near
			end.area = far
			if m.Turned {
				near, end = end, near
			}
			s.section = near
			b.taper(&s, sec, end.area, to, n == len(order)-1, m)
		} else {
			b.straight(&s, to, n == len(order)-1, m)
		}
		d := m.Sections[n]
		d.Air = medium
		b.lineEnds(d, shape, far >= 0, from, to, n == 0, n == len(order)-1, m)
		if l.Fill.Or(0) > 0 {
			d.Fill = network.Value(b.dimension(l.Name, "fill", 0, l.Fill))
			d.Resistivity = network.Value(b.resistivity(l.Name, l.FlowResistivity))
		}
		b.element(Part{Name: l.Name, LossName: l.Name, Group: DuctPart, Element: d})
		point = d.To
	}
	b.limit(m, l.SpeedLimit)
	b.m.Lines = append(b.m.Lines, m)
}

func (b *builder) straight(s *stretch, to Place, last bool, m *DuctModel) {
	b.finish(s, to, last)
	m.Sections = append(m.Sections, b.stretch(*s))
	b.narrowest(m, s.section.area)
}

// finish sets where a stretch of a line ends: at the line's end, or at an inner
// point.
func (b *builder) finish(s *stretch, to Place, last bool) {
	if last {
		s.to, s.toOut = b.place(to)
		return
	}
	s.to = b.net.Unknown(network.Pressure, s.part+" inside")
}

// taper adds a stretch whose area changes to that of far.
func (b *builder) taper(s *stretch, sec *Section, far formula.Ref, to Place, last bool, m *DuctModel) {
	b.finish(s, to, last)
	out := s.toOut
	s.toOut = false
	d := b.stretch(*s)
	d.ToArea = network.Value(far)
	d.Lossy = s.walls != WallsIdeal
	d.Radius, d.Perimeter = network.None, network.None
	d.Taper = network.Conical
	if sec.Shape == Exponential {
		d.Taper = network.Exponential
	}
	d.Open[1] = out
	if out {
		d.To = b.open(s.part, false, network.Opening{Flow: d.Flow, Factor: network.None, Sign: 1, Count: 1, Area: d.ToArea}, s.position)
	}
	m.Sections = append(m.Sections, d)
	b.narrowest(m, s.section.area)
	b.narrowest(m, far)
}

func (b *builder) narrowest(m *DuctModel, area formula.Ref) {
	if m.Area == 0 || b.g.Value(area) < b.g.Value(m.Area) {
		m.Area = area
	}
}

// lineEnds puts the end mass on the ends of a line that open to the outside. A
// tapered section has its drawn cross-section at the end it is drawn from, and a
// round one at the other.
func (b *builder) lineEnds(d *network.Duct, drawn section, tapered bool, from, to Place, first, last bool, m *DuctModel) {
	at := [2]section{drawn, drawn}
	if tapered {
		far := &at[1]
		area := d.ToArea
		if m.Turned {
			far, area = &at[0], d.Area
		}
		*far = section{area: formula.Ref(area), radius: -1, perimeter: -1}
	}
	if first && from.Kind == Outside {
		m.Ends[0] = b.end(at[0], Flush, from, 1, -1)
		d.Mass[0] = network.Value(m.Ends[0])
	}
	if last && to.Kind == Outside {
		m.Ends[1] = b.end(at[1], Flush, to, 1, -1)
		d.Mass[1] = network.Value(m.Ends[1])
	}
}
