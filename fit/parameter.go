package fit

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ocarina/design"
	"ocarina/formula"
	"ocarina/quantity"
	"ocarina/response"
)

// parameter is one number a fit may turn. It works on x, which is 0 as drawn:
// the number itself is drawn + scale·x.
type parameter struct {
	part, key    string
	unit         string  // "" for a plain number
	unitSI       float64 // SI units in one unit
	drawn, scale float64 // SI
	inputs       []input
	sigma        float64 // of the prior about x = 0
	lower, upper float64 // of x
}

// input is a dimension of the model that follows a parameter: drawn·(1+x)^power,
// or with power 0 drawn + scale·x.
type input struct {
	dimension           int
	ref                 formula.Ref
	drawn, scale, power float64
}

func (p *parameter) name() string         { return p.part + "." + p.key }
func (p *parameter) at(x float64) float64 { return p.drawn + p.scale*x }

// at returns the dimension at x and its slope.
func (in *input) at(x float64) (value, slope float64) {
	if in.power == 0 {
		return in.drawn + in.scale*x, in.scale
	}
	value = in.drawn * math.Pow(1+x, in.power)
	return value, value * in.power / (1 + x)
}

// Default standard deviations of what is built, by kind of dimension: shares of
// the value drawn. A tolerance of the design or of the caller goes first.
const (
	volumeSpread  = 0.05
	lengthSpread  = 0.04  // of the length with its end corrections
	lengthStep    = 1e-3  // m, on top
	lineSpread    = 0.03  // of a line's length
	fillSpread    = 0.3   // of fill and its flow resistivity
	passiveSpread = 0.1   // of a passive radiator's data
	leakQuality   = 5.0   // at the first driver's fs: the unit leaks are counted in
	leakSpread    = 4.0   // of that: an open hole is no surprise
	portQuality   = 20.0  // at the first driver's fs: the port loss of one standard deviation
	mostTimes     = 100.0 // as much as that a leak or loss may reach
)

// driverSpread is how far a driver's data may be from its sheet.
var driverSpread = map[string]float64{
	"re": 0.04, "fs": 0.1, "qms": 0.25, "qes": 0.12, "qts": 0.12, "vas": 0.2,
	"mms": 0.08, "mmd": 0.08, "cms": 0.2, "rms": 0.25, "bl": 0.08,
	"le": 0.3, "coil.k": 0.3, "coil.n": 0.08, "coil.le": 0.3, "coil.l2": 0.3, "coil.r2": 0.3, "creep": 0.5,
}

var driverKeys = []string{"re", "fs", "qms", "qes", "qts", "vas", "mms", "mmd", "cms", "rms", "bl",
	"le", "coil.k", "coil.n", "coil.le", "coil.l2", "coil.r2", "creep"}

// candidates lists every parameter a fit of the model knows, in the order they
// are told.
func candidates(b *response.Bench) []parameter {
	m := b.Model
	c := &collector{m: m, values: b.Values}
	reference := c.reference()
	for _, p := range m.Ports {
		c.port(p, reference)
	}
	for _, l := range m.Lines {
		c.line(l)
	}
	for _, v := range m.Chambers {
		c.chamber(v, reference)
	}
	for _, l := range m.Leaks {
		c.relative(l.Name, "resistance", 1)
	}
	for _, p := range m.Passives {
		for _, key := range []string{"fs", "qms", "vas", "mms", "cms", "rms"} {
			c.relative(p.Name, key, passiveSpread)
		}
	}
	for _, d := range m.Design.Drivers {
		for _, key := range driverKeys {
			c.relative(d.Name, key, driverSpread[key])
		}
	}
	for _, t := range m.Design.Tolerances {
		c.tolerance(t)
	}
	return c.list
}

type collector struct {
	m      *design.Model
	values []float64
	list   []parameter
}

// reference is the angular frequency losses are measured at: the first driver's
// resonance.
func (c *collector) reference() float64 {
	if len(c.m.Mounts) > 0 {
		if f := c.values[c.m.Mounts[0].Motor.Fs]; f > 0 {
			return 2 * math.Pi * f
		}
	}
	return 2 * math.Pi * 50
}

func (c *collector) input(dimension int) input {
	d := &c.m.Dimensions[dimension]
	return input{dimension: dimension, ref: d.Ref, drawn: c.values[d.Ref]}
}

// units says in which unit a dimension is told: that of the file.
func units(q design.Quantity) (unit string, si float64) {
	if q.Given && q.Unit != "" {
		if scale, offset, _, ok := quantity.Factor(q.Unit); ok && offset == 0 {
			return q.Unit, scale
		}
	}
	return "", 1
}

// relative adds a parameter that scales one dimension, if the model has it.
func (c *collector) relative(part, key string, spread float64) {
	i := c.m.Find(part, key, 0)
	if i < 0 || !(c.values[c.m.Dimensions[i].Ref] > 0) {
		return
	}
	in := c.input(i)
	in.power = 1
	p := parameter{part: part, key: key, drawn: in.drawn, scale: in.drawn, inputs: []input{in}, sigma: spread, lower: -0.9, upper: 9}
	p.unit, p.unitSI = units(c.m.Dimensions[i].Quantity)
	if key == "coil.n" {
		p.upper = 1/in.drawn - 1
	}
	c.list = append(c.list, p)
}

// port adds a port's length, scaled by that with its end corrections, and a loss
// beyond that of smooth walls.
func (c *collector) port(d *design.DuctModel, omega float64) {
	whole := c.values[d.Ideal]
	if i := c.m.Find(d.Name, "length", 0); i >= 0 {
		in := c.input(i)
		in.scale = whole
		p := parameter{part: d.Name, key: "length", drawn: in.drawn, scale: whole, inputs: []input{in},
			sigma: lengthSpread + lengthStep/whole, lower: -in.drawn / whole * 0.999, upper: 9}
		p.unit, p.unitSI = units(c.m.Dimensions[i].Quantity)
		c.list = append(c.list, p)
	}
	if i := c.m.Find(d.Name, "resistance", 0); i >= 0 {
		in := c.input(i)
		in.scale = omega * c.m.Air.Density * whole / c.values[d.Area] / portQuality
		p := parameter{part: d.Name, key: "resistance", drawn: in.drawn, scale: in.scale, inputs: []input{in}, sigma: 1, lower: -in.drawn / in.scale, upper: mostTimes}
		p.unit, p.unitSI = units(c.m.Dimensions[i].Quantity)
		if p.unit == "" {
			p.unit, p.unitSI = "Pa*s/m3", 1
		}
		c.list = append(c.list, p)
	}
}

// line adds a line's length: all its sections together.
func (c *collector) line(d *design.DuctModel) {
	p := parameter{part: d.Name, key: "length", sigma: lineSpread, lower: -0.5, upper: 2}
	for n := range d.Sections {
		if i := c.m.Find(d.Name, fmt.Sprintf("section[%d].length", n), 0); i >= 0 {
			in := c.input(i)
			in.power = 1
			p.drawn += in.drawn
			p.inputs = append(p.inputs, in)
			p.unit, p.unitSI = units(c.m.Dimensions[i].Quantity)
		}
	}
	if p.scale = p.drawn; p.drawn > 0 {
		c.list = append(c.list, p)
	}
	c.relative(d.Name, "fill", fillSpread)
	c.relative(d.Name, "flow_resistivity", fillSpread)
}

// chamber adds a chamber's volume (gross where the design gives that) and a leak.
func (c *collector) chamber(v *design.ChamberModel, omega float64) {
	if c.m.Find(v.Name, "volume", 0) >= 0 {
		c.relative(v.Name, "volume", volumeSpread)
	} else if c.m.Find(v.Name, "size", 2) >= 0 {
		p := parameter{part: v.Name, key: "volume", unit: "L", unitSI: 1e-3, drawn: 1, sigma: volumeSpread, lower: -0.9, upper: 9}
		for n := range 3 {
			in := c.input(c.m.Find(v.Name, "size", n))
			in.power = 1.0 / 3
			p.drawn *= in.drawn
			p.inputs = append(p.inputs, in)
		}
		p.scale = p.drawn
		c.list = append(c.list, p)
	}
	c.relative(v.Name, "fill", fillSpread)
	c.relative(v.Name, "flow_resistivity", fillSpread)
	if c.m.Find(v.Name, "leak_q", 0) >= 0 {
		c.relative(v.Name, "leak_q", 1)
		return
	}
	for _, l := range c.m.Design.Leaks { // one drawn takes the place of one supposed
		if l.From.Kind == design.InChamber && l.From.Name == v.Name && l.To.Kind == design.Outside ||
			l.To.Kind == design.InChamber && l.To.Name == v.Name && l.From.Kind == design.Outside {
			return
		}
	}
	if i := c.m.Find(v.Name, "leak", 0); i >= 0 {
		in := c.input(i)
		in.scale = omega * c.values[v.Volume] / v.Element.Air.Stiffness() / leakQuality
		c.list = append(c.list, parameter{part: v.Name, key: "leak", unit: leakUnit, unitSI: 1, drawn: in.drawn, scale: in.scale,
			inputs: []input{in}, sigma: leakSpread, lower: 0, upper: mostTimes})
	}
}

// leakUnit is the unit of a leak's conductance.
const leakUnit = "m3/(Pa*s)"

// tolerance sets a parameter's standard deviation.
func (c *collector) tolerance(t design.Tolerance) {
	for i := range c.list {
		p := &c.list[i]
		if p.part != t.Part {
			continue
		}
		switch {
		case p.key == t.Key && t.Relative:
			p.sigma = math.Abs(t.Amount.SI * p.drawn / p.scale)
		case p.key == t.Key:
			p.sigma = math.Abs(t.Amount.SI / p.scale)
		case p.key == "volume" && t.Key == "size":
			sum := 0.0
			for _, in := range p.inputs {
				s := t.Amount.SI
				if !t.Relative {
					s /= in.drawn
				}
				sum += s * s
			}
			p.sigma = math.Sqrt(sum)
		case p.key == "length" && strings.HasPrefix(t.Key, "section.") && strings.HasSuffix(t.Key, ".length"):
			s := t.Amount.SI
			if !t.Relative {
				s /= p.drawn
			}
			p.sigma = s
		}
		if !(p.sigma > 0) { // a share of a length of nothing
			p.sigma = lengthSpread
		}
	}
}

// names reports whether a choice such as "inner.length", "inner" or "length"
// means the parameter.
func (p *parameter) named(choice string) bool {
	return choice == p.name() || choice == p.part || choice == p.key
}

// ChoiceError says that a choice of parameters names none.
type ChoiceError struct {
	Choice string
	Known  []string
}

func (e *ChoiceError) Error() string {
	return fmt.Sprintf("%q is no part or number a fit can turn: wanted a part, a key or PART.KEY out of %s", e.Choice, strings.Join(e.Known, ", "))
}

// choose keeps the parameters that are free.
func choose(all []parameter, free, hold []string) ([]parameter, error) {
	for _, choice := range slices.Concat(free, hold) {
		if !slices.ContainsFunc(all, func(p parameter) bool { return p.named(choice) }) {
			e := &ChoiceError{Choice: choice}
			for i := range all {
				e.Known = append(e.Known, all[i].name())
			}
			return nil, e
		}
	}
	var kept []parameter
	for _, p := range all {
		if len(free) > 0 && !slices.ContainsFunc(free, p.named) || slices.ContainsFunc(hold, p.named) {
			continue
		}
		kept = append(kept, p)
	}
	return kept, nil
}
