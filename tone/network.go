package tone

import (
	"fmt"
	"math"

	"ocarina/acoustic"
	"ocarina/design"
	"ocarina/driver/large"
	"ocarina/formula"
	"ocarina/network"
	"ocarina/tone/balance"
)

// assembled is a model with its parts that depend on the state.
type assembled struct {
	m       *design.Model
	net     *balance.Net
	start   []float64 // temperature of each mount's coil, K
	assumed []string  // what was taken for granted
	off     []string  // warnings
}

// assemble finds what depends on the state: every mount's driver, and the ends of
// ports and lines in chambers and at the outside.
func assemble(m *design.Model) (*assembled, error) {
	a := &assembled{m: m, net: &balance.Net{Plan: m.Plan, Values: m.Graph.Values()}}
	told := map[*design.Driver]*large.Driver{}
	for _, v := range m.Mounts {
		l := told[v.Driver]
		if l == nil {
			var err error
			if l, err = a.driver(v); err != nil {
				return nil, fmt.Errorf("driver %q: %w", v.Driver.Name, err)
			}
			told[v.Driver] = l
		}
		a.net.Cones = append(a.net.Cones, balance.Cone{Diaphragm: v.Diaphragm, Coil: v.Coil, Large: l})
		start := large.CopperReference
		if v.Drive < len(m.Design.Drives) {
			start = m.Design.Drives[v.Drive].CoilTemperature.Or(start)
		}
		a.start = append(a.start, start)
	}
	for i, v := range m.Ports {
		p := m.Design.Ports[i]
		for end, at := range [2]design.Place{v.From, v.To} {
			a.rim(v.Sections[0], end, at, a.edge(p, p.Edges[end]))
		}
	}
	for _, v := range m.Lines {
		near, far := v.From, v.To
		if v.Turned {
			near, far = far, near
		}
		a.rim(v.Sections[0], 0, near, acoustic.SharpEdge)
		a.rim(v.Sections[len(v.Sections)-1], 1, far, acoustic.SharpEdge)
	}
	if len(a.net.Rims) > 0 {
		a.assumed = append(a.assumed, "Loss at the ends of ports and lines: coefficients of steady flow (Idelchik, Handbook of Hydraulic Resistance, from memory) taken at each moment.")
	}
	for i := range m.Drives {
		d := m.Drives[i]
		a.net.Sources = append(a.net.Sources, balance.Source{Unknown: d.Supply.Current,
			Weight: func(omega float64) complex128 { e, _ := d.Weight(a.net.Values, omega); return e }})
	}
	return a, nil
}

func (a *assembled) rim(d *network.Duct, end int, at design.Place, e acoustic.Edge) {
	if at.Kind != design.Outside && at.Kind != design.InChamber {
		return // at a junction the flow turns rather than stops; a closed end has none
	}
	area := d.Area
	if end == 1 && d.ToArea != network.None {
		area = d.ToArea
	}
	a.net.Rims = append(a.net.Rims, balance.Rim{Duct: d, End: end, Area: area, Edge: e})
}

// edge returns what is lost at an edge of a port.
func (a *assembled) edge(p *design.Port, e design.Edge) acoustic.Edge {
	if e == design.SharpEdge {
		return acoustic.SharpEdge
	}
	across := 2 * math.Sqrt(p.OpeningArea()/math.Pi)
	if len(p.Size) == 2 {
		across = 2 * p.Size[0].SI * p.Size[1].SI / (p.Size[0].SI + p.Size[1].SI)
	}
	r := p.EdgeRadius.SI / across
	if e == design.RoundedEdge {
		return acoustic.RoundedEdge(r)
	}
	return acoustic.FlaredEdge(r)
}

// driver finds the curves of a mount's driver, its stop and its warming.
func (a *assembled) driver(v *design.MountModel) (*large.Driver, error) {
	d, g := v.Driver, v.Driver.Large
	if g == nil {
		g = &design.Large{}
	}
	l := &large.Driver{Stop: d.Xmech.Or(0)}
	if err := a.curves(v, g, l); err != nil {
		return nil, err
	}
	if l.Stop > 0 {
		a.assume("%s strikes at its xmech, %.4g mm; how hard is assumed.", d.Name, l.Stop*1000)
	}
	l.Thermal = large.Rated(d.Power.Or(0))
	t := &l.Thermal
	if g.CoilThermal.Given {
		t.Coil, t.CoilTime = g.CoilThermal.SI, g.CoilTime.SI
	}
	if g.MagnetThermal.Given {
		t.Magnet, t.MagnetTime = g.MagnetThermal.SI, g.MagnetTime.SI
	}
	t.Limit = g.CoilLimit.Or(t.Limit)
	switch {
	case !g.CoilThermal.Given && d.Power.Given:
		a.assume("%s warms by 150 K at its rated %.4g W in the end, three fifths of it within 12 s, and bears 180 °C unless coil_limit says otherwise: rules of thumb.", d.Name, d.Power.SI)
	case !g.CoilThermal.Given:
		a.assume("%s stays cold: neither its power nor its thermal resistance is given.", d.Name)
	}
	return l, nil
}

func (a *assembled) assume(format string, args ...any) {
	a.assumed = append(a.assumed, fmt.Sprintf(format, args...))
}

func (a *assembled) curves(v *design.MountModel, g *design.Large, l *large.Driver) (err error) {
	d := v.Driver
	xmax := d.Xmax.Or(0)
	value := func(r formula.Ref) float64 { return a.net.Values[r] }
	switch {
	case len(g.Bl) > 0:
		l.ForceFactor, err = a.table(d.Name, "bl", g.X, g.Bl, value(v.Motor.Bl), false)
	case len(g.BlShape) > 0:
		l.ForceFactor, err = large.Polynomial(plain(g.BlShape), xmax)
	case xmax > 0 && g.XmaxBy != design.XmaxByCms:
		l.ForceFactor, err = large.ForceFactor(xmax, g.BlOffset.Or(0))
		a.assume("%s: force factor taken to fall to 82 %% at xmax (%.4g mm; IEC 62458).", d.Name, xmax*1000)
	}
	if err != nil {
		return fmt.Errorf("force factor: %w", err)
	}
	switch {
	case len(g.Cms) > 0:
		l.Stiffness, err = a.table(d.Name, "cms", g.X, g.Cms, value(v.Motor.Cms), true)
	case len(g.KmsShape) > 0:
		l.Stiffness, err = large.Polynomial(plain(g.KmsShape), xmax)
	case xmax > 0 && g.XmaxBy != design.XmaxByBl:
		l.Stiffness, err = large.Stiffness(xmax, g.CmsAsymmetry.Or(0))
		a.assume("%s: compliance taken to fall to 75 %% at xmax (%.4g mm; IEC 62458).", d.Name, xmax*1000)
	}
	if err != nil {
		return fmt.Errorf("stiffness: %w", err)
	}
	if xmax > 0 && len(g.Bl)+len(g.BlShape)+len(g.Cms)+len(g.KmsShape) == 0 && !g.BlOffset.Given && !g.CmsAsymmetry.Given {
		a.assume("%s: taken to be alike both ways, so it makes hardly any even harmonics and does not drift; real drivers do.", d.Name)
	}
	if l.ForceFactor.Constant() && l.Stiffness.Constant() {
		a.off = append(a.off, fmt.Sprintf("driver %s has neither xmax nor curves: its motor and suspension are taken as linear, and what they do at large signals is missing here.", d.Name))
	}
	if v.Coil.Inductance == network.None {
		if len(g.Le)+len(g.LeShape)+len(g.LeAtI) > 0 {
			a.off = append(a.off, fmt.Sprintf("driver %s: its inductance curve is left out, as its coil is no plain inductance.", d.Name))
		}
		return nil
	}
	rest := a.net.Values[v.Coil.Inductance]
	switch {
	case len(g.Le) > 0:
		l.Inductance, err = a.table(d.Name, "le", g.X, g.Le, rest, false)
	case len(g.LeShape) > 0:
		l.Inductance, err = large.Polynomial(plain(g.LeShape), xmax)
	}
	if err == nil && len(g.LeAtI) > 0 {
		var c large.Curve
		c, err = a.table(d.Name, "le_at_i", g.I, g.LeAtI, rest, false)
		c = c.Held()
		l.OfCurrent = &c
	}
	if err != nil {
		return fmt.Errorf("inductance: %w", err)
	}
	return nil
}

// apart is how much a table may differ at rest from the data sheet unmentioned.
const apart = 0.05

// table makes a curve of a table; inverse where it lists the inverse.
func (a *assembled) table(name, key string, at, values []design.Quantity, sheet float64, inverse bool) (large.Curve, error) {
	x, y := plain(at), plain(values)
	if inverse {
		for i := range y {
			y[i] = 1 / y[i]
		}
	}
	c, rest, err := large.Table(x, y)
	if err != nil {
		return c, err
	}
	if inverse {
		rest = 1 / rest
	}
	if math.Abs(rest-sheet) > apart*sheet {
		a.off = append(a.off, fmt.Sprintf("driver %s: its table of %s has %.4g at rest, its data sheet %.4g (SI units); the shape is taken from the table, the value at rest from the sheet.", name, key, rest, sheet))
	}
	return c, nil
}

func plain(list []design.Quantity) []float64 {
	v := make([]float64, len(list))
	for i, q := range list {
		v[i] = q.SI
	}
	return v
}
