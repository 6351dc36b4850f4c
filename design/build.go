package design

import (
	"fmt"
	"math"

	"github.com/hashicorp/hcl/v2"

	"ocarina/air"
	"ocarina/driver"
	"ocarina/formula"
	"ocarina/network"
)

// Build compiles a design that was read without errors into its network. It
// finds what only arithmetic can find: data that contradict one another, a gross
// volume used up by what stands in it, openings that overlap.
func Build(d *Design) (*Model, hcl.Diagnostics) { return BuildWith(d, Handles{}) }

// Handles are numbers that a drawing leaves out and a fit wants to turn. Each
// becomes a dimension of the model, with a value that changes nothing.
type Handles struct {
	Leaks       bool // "leak" of every chamber: its conductance to the outside, 0 m³/(Pa s)
	Resistances bool // "resistance" of every port, 0 Pa s/m³ where the design gives none
}

// BuildWith is Build with handles.
func BuildWith(d *Design, h Handles) (*Model, hcl.Diagnostics) {
	b := &builder{
		d: d, handles: h, g: new(formula.Graph), net: new(network.Net), m: &Model{Design: d},
		known: map[dimensionKey]formula.Ref{}, places: map[string]network.Unknown{},
		motors: map[string]driver.Motor{}, sheets: map[string]driver.Sheet{}, volumes: map[string]formula.Ref{},
	}
	b.m.Graph = b.g
	b.medium()
	if b.diags.HasErrors() {
		return nil, b.diags
	}
	b.listen()
	for _, v := range d.Drivers {
		b.driver(v)
	}
	if b.diags.HasErrors() {
		return nil, b.diags
	}
	for _, c := range d.Chambers {
		b.places[c.Name] = b.net.Unknown(network.Pressure, c.Name)
		b.volume(c)
	}
	for _, j := range d.Junctions {
		b.places[j.Name] = b.net.Unknown(network.Pressure, j.Name)
	}
	for _, c := range d.Chambers {
		b.chamber(c)
	}
	for _, p := range d.Ports {
		b.port(p)
	}
	for _, l := range d.Lines {
		b.line(l)
	}
	for _, p := range d.Passives {
		b.passive(p)
	}
	for _, l := range d.Leaks {
		b.leak(l)
	}
	b.drives()
	b.outside()
	if b.diags.HasErrors() {
		return nil, b.diags
	}
	plan, err := b.net.Compile()
	if err != nil {
		b.fail(b.fileStart(), "The parts do not form a network", err.Error())
		return nil, b.diags
	}
	b.m.Plan = plan
	for _, diag := range b.diags {
		b.m.Warnings = append(b.m.Warnings, diag.Summary+": "+diag.Detail)
	}
	return b.m, b.diags
}

type dimensionKey struct {
	part, key string
	index     int
}

type builder struct {
	d       *Design
	handles Handles
	g       *formula.Graph
	net     *network.Net
	m       *Model
	diags   hcl.Diagnostics

	known   map[dimensionKey]formula.Ref
	places  map[string]network.Unknown
	volumes map[string]formula.Ref
	sheets  map[string]driver.Sheet
	motors  map[string]driver.Motor
	sheetAt air.Medium // where Vas was stated

	openings []network.Opening
	free     *network.FreeSpace
}

func (b *builder) fail(at hcl.Range, summary, detail string) {
	b.tell(hcl.DiagError, at, summary, detail)
}
func (b *builder) warn(at hcl.Range, summary, detail string) {
	b.tell(hcl.DiagWarning, at, summary, detail)
}

// tell notes a problem. What was never in a file has no place to point at.
func (b *builder) tell(severity hcl.DiagnosticSeverity, at hcl.Range, summary, detail string) {
	d := &hcl.Diagnostic{Severity: severity, Summary: summary, Detail: detail}
	if at.Start.Line > 0 {
		d.Subject = &at
	}
	b.diags = b.diags.Append(d)
}

// block returns where a named part's block stands.
func (b *builder) block(part string) hcl.Range {
	if _, one := b.d.part(part); one != nil {
		if named, ok := one.(interface{ identity() *Named }); ok {
			return named.identity().Range
		}
	}
	return hcl.Range{}
}

// fileStart is the place of what concerns the whole design.
func (b *builder) fileStart() hcl.Range {
	if b.d.Source == nil {
		return hcl.Range{}
	}
	return b.d.Source.start()
}

// dimension returns the scalar of a value of the file, and lists it among the
// dimensions that can be changed.
func (b *builder) dimension(part, key string, index int, q Quantity) formula.Ref {
	k := dimensionKey{part, key, index}
	if r, ok := b.known[k]; ok {
		return r
	}
	r := b.g.Input(q.SI)
	b.known[k] = r
	b.m.Dimensions = append(b.m.Dimensions, Dimension{Part: part, Key: key, Index: index, Quantity: q, Ref: r})
	return r
}

// filterKey names a key of the nth filter block of a drive.
func filterKey(n int, key string) string { return fmt.Sprintf("filter[%d].%s", n, key) }

// sectionKey names a key of the nth section block of a line.
func sectionKey(n int, key string) string { return fmt.Sprintf("section[%d].%s", n, key) }

// element adds a part to the network and to the list of what holds energy.
func (b *builder) element(p Part) {
	b.net.Add(p.Element)
	b.m.Parts = append(b.m.Parts, p)
}

// Conditions returns the air's state as far as the design gives it.
func (a *Air) Conditions() air.Conditions {
	c := air.Standard()
	c.Temperature = a.Temperature.Or(c.Temperature)
	c.Pressure = a.Pressure.Or(c.Pressure)
	c.Humidity = a.Humidity.Or(c.Humidity)
	return c
}

// Medium returns the design's air, at a temperature [K] of its own if that is
// not zero.
func (a *Air) Medium(temperature float64) (air.Medium, error) {
	c := a.Conditions()
	if temperature != 0 {
		c.Temperature = temperature
	}
	m, err := c.Medium()
	if err != nil && !(a.Density.Given && a.Speed.Given && a.Viscosity.Given && a.Gamma.Given && a.Prandtl.Given) {
		return m, err
	}
	if temperature == 0 {
		m.Density = a.Density.Or(m.Density)
		m.Speed = a.Speed.Or(m.Speed)
		m.Viscosity = a.Viscosity.Or(m.Viscosity)
		m.Gamma = a.Gamma.Or(m.Gamma)
		m.Prandtl = a.Prandtl.Or(m.Prandtl)
	}
	return m, nil
}

func (b *builder) medium() {
	m, err := b.d.Air.Medium(0)
	if err != nil {
		b.fail(b.d.Air.Range, "Air out of range", err.Error())
	}
	b.m.Air = m
	b.sheetAt = air.Reference()
	if b.d.Air.Density.Given && b.d.Air.Speed.Given {
		b.sheetAt = m
	}
}

// SolidAngle returns the angle a space stands for, sr.
func (s Space) SolidAngle() float64 {
	switch s {
	case FullSpace:
		return 4 * math.Pi
	case QuarterSpace:
		return math.Pi
	case EighthSpace:
		return math.Pi / 2
	}
	return 2 * math.Pi
}

func (b *builder) listen() {
	l := &b.d.Listen
	f := &network.FreeSpace{Angle: l.Space.SolidAngle(), Air: b.m.Air, Listener: [3]network.Value{network.None, network.None, network.None}}
	if len(l.Position) == 3 {
		for i, q := range l.Position {
			f.Listener[i] = network.Value(b.dimension("listen", "position", i, q))
		}
	}
	var r formula.Ref
	switch {
	case l.Distance.Given:
		r = b.dimension("listen", "distance", 0, l.Distance)
	case len(l.Position) == 3:
		g := b.g
		sum := formula.Ref(-1)
		for i := range l.Position {
			sq := g.Pow(formula.Ref(f.Listener[i]), 2)
			if sum < 0 {
				sum = sq
			} else {
				sum = g.Add(sum, sq)
			}
		}
		r = g.Sqrt(sum)
	default:
		r = b.g.Const(DefaultDistance)
	}
	f.Distance = network.Value(r)
	b.free, b.m.Distance, b.m.Angle = f, r, f.Angle
}

// open lists an opening to the outside and returns the pressure it works
// against.
func (b *builder) open(part string, rear bool, o network.Opening, position []Quantity) network.Unknown {
	o.Place = [3]network.Value{network.None, network.None, network.None}
	if len(position) == 3 {
		for i, q := range position {
			o.Place[i] = network.Value(b.dimension(part, "position", i, q))
		}
	}
	o.Pressure = network.Ground
	if b.d.Listen.Radiation && o.Area != network.None {
		o.Pressure = b.net.Unknown(network.Pressure, part+" at the outside")
	}
	b.openings = append(b.openings, o)
	b.m.Openings = append(b.m.Openings, OpeningModel{Part: part, Rear: rear})
	return o.Pressure
}

// outside joins all openings.
func (b *builder) outside() {
	if len(b.openings) == 0 {
		return
	}
	placed := 0
	for i := range b.openings {
		o := &b.openings[i]
		if !o.Placed() || o.Area == network.None {
			continue
		}
		placed++
		for j := range i {
			b.apart(&b.openings[j], o, b.m.Openings[j].Part, b.m.Openings[i].Part)
		}
	}
	b.free.Mutual = placed > 1
	b.m.Listener = &network.Listener{Outside: b.free, Openings: b.openings}
	if b.d.Listen.Radiation {
		b.element(Part{Name: "radiation", LossName: "radiation", Group: LossPart,
			Element: &network.Mouths{Outside: b.free, Openings: b.openings}})
	}
}

// apart demands that two openings do not overlap: d ≥ a1 + a2.
func (b *builder) apart(p, q *network.Opening, first, second string) {
	if !p.Placed() || p.Area == network.None {
		return
	}
	value := func(v network.Value) float64 { return b.g.Value(formula.Ref(v)) }
	sum := 0.0
	for i := range p.Place {
		e := value(p.Place[i]) - value(q.Place[i])
		sum += e * e
	}
	radii := math.Sqrt(value(p.Area)/math.Pi) + math.Sqrt(value(q.Area)/math.Pi)
	// A hair's breadth is left for touching openings written in decimals.
	if d := math.Sqrt(sum); d < radii*(1-1e-9) {
		at, other := b.block(second), b.block(first)
		if other.Start.Byte > at.Start.Byte { // the one drawn later has to give way
			first, second, at = second, first, other
		}
		b.fail(at, "Openings overlap", fmt.Sprintf("%s and %s lie %.4g mm apart, and their radii add up to %.4g mm: move one of them away.", first, second, d*1000, radii*1000))
	}
}

// at returns the pressure at a place that is not the outside.
func (b *builder) at(p Place) network.Unknown {
	if p.Kind == Closed {
		return network.Sealed
	}
	return b.places[p.Name]
}

func (b *builder) leak(l *Leak) {
	r := &network.Resistance{Flow: b.net.Unknown(network.VolumeDisplacement, l.Name)}
	r.Resistance = network.Value(b.dimension(l.Name, "resistance", 0, l.Resistance))
	end := func(p Place, sign float64) network.Unknown {
		if p.Kind != Outside {
			return b.at(p)
		}
		if l.Radiates {
			b.open(l.Name, sign < 0, network.Opening{Flow: r.Flow, Factor: network.None, Sign: sign, Count: 1, Area: network.None}, nil)
		}
		return network.Ground
	}
	r.From, r.To = end(l.From, -1), end(l.To, 1)
	b.element(Part{Name: l.Name, LossName: l.Name, Group: LossPart, Element: r})
	b.m.Leaks = append(b.m.Leaks, &LeakModel{Name: l.Name, Element: r})
}
