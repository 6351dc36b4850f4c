package design

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"ocarina/quantity"
)

// notScaled marks a value that a scaled design carries over.
const notScaled = "not scaled: measure it"

// Scaled returns the 1:n model of a full-size design (toModel), or the full-size
// design of a 1:n model. A model n times smaller is played n times higher:
// lengths go with 1/n, areas 1/n², volumes 1/n³, frequencies and tones n, and the
// drive 1/n, so that with ideal walls impedances, air speeds and levels agree
// exactly and excursions go with 1/n. KeyInfo.Scale is the power for each key; a
// lossy coil's K goes with n^-n of its own.
//
// The copy keeps comments and order of the Source. Values stay in their units
// unless the number would get out of hand, and are written in full, so that there
// and back returns every value to 1e-12. A driver read from another file has its
// data in the copy.
//
// The notes name what does not follow from scaling, one line for each value: a
// driver's power rating and mechanical limit, marked in the copy. Air, and with
// it the walls' losses, are not scaled either; the response tells what that does.
//
// The factor lies between 1e-6 and 1e6. The error tells a value that would
// leave its range, or that the design does not stand on its own.
func (d *Design) Scaled(n float64, toModel bool) (scaled *Design, notes []string, err error) {
	if !(n >= 1e-6 && n <= 1e6) {
		return nil, nil, fmt.Errorf("found the scale 1:%g; wanted one from 1:1e-6 to 1:1e6", n)
	}
	factor, _ := new(big.Rat).SetString(strconv.FormatFloat(n, 'g', -1, 64))
	if !toModel {
		factor.Inv(factor)
	}
	made, diags := d.Reread()
	if diags.HasErrors() {
		return nil, nil, fmt.Errorf("the design cannot be scaled: %w", diags)
	}
	tolerances := slices.Clone(made.Tolerances)
	for i := range tolerances {
		t := &tolerances[i]
		s, _, err := made.find(t.Part, t.Key)
		if err != nil || t.Relative {
			continue
		}
		s.scaleNumber(&t.Amount, factor, made.power(t.Part, t.Key, s))
	}
	made.spellOut()
	w := scaling{n: factor}
	w.owner(blockKinds[""], made, "")
	for _, one := range made.Drivers {
		one.File = ""
	}
	made.Tolerances = tolerances
	if w.err != nil {
		return nil, nil, w.err
	}
	scaled, diags = made.Reread()
	if diags.HasErrors() {
		return nil, nil, fmt.Errorf("the scaled design is not sound: %w", diags)
	}
	return scaled, w.notes, nil
}

// spellOut gives the drive, the listener and what is filled their default values,
// which would not be the defaults of the other size.
func (d *Design) spellOut() {
	if len(d.Drives) == 0 {
		d.Drives = []*Drive{{}}
	}
	for _, one := range d.Drives {
		if !one.Voltage.Given && !one.Power.Given {
			one.Voltage = Quantity{SI: DefaultVoltage, Unit: "V", Given: true}
		}
	}
	if !d.Listen.Distance.Given && len(d.Listen.Position) == 0 {
		d.Listen.Distance = Quantity{SI: DefaultDistance, Unit: "m", Given: true}
	}
	fibre := func(fill Quantity, resistivity *Quantity) {
		if fill.Given && !resistivity.Given {
			*resistivity = Quantity{SI: defaultResistivity, Unit: "Pa*s/m2", Given: true}
		}
	}
	for _, one := range d.Chambers {
		fibre(one.Fill, &one.FlowResistivity)
	}
	for _, one := range d.Lines {
		fibre(one.Fill, &one.FlowResistivity)
	}
}

type scaling struct {
	n      *big.Rat
	driver *Driver // the one at hand
	inside string  // what goes before a key's name in a block inside the driver
	notes  []string
	err    error
}

// owner scales a block and all inside it.
func (w *scaling) owner(kind *blockKind, owner any, part string) {
	if named, ok := owner.(interface{ identity() *Named }); ok {
		part = strings.TrimSpace(kind.name + " " + named.identity().Name)
	} else if part == "" {
		part = kind.name
	}
	if d, ok := owner.(*Driver); ok {
		w.driver, w.inside = d, ""
	} else if kind.name != "" {
		w.inside = kind.name + "."
	}
	for i := range kind.keys {
		s := &kind.keys[i]
		slot := s.slot(owner)
		if s.Unscaled {
			w.keep(s, slot, part)
			continue
		}
		power := s.scaleIn(owner)
		if power == 0 {
			continue
		}
		switch slot := slot.(type) {
		case *Quantity:
			w.quantity(s, slot, power, part)
		case *[]Quantity:
			for i := range *slot {
				w.quantity(s, &(*slot)[i], power, part)
			}
		}
	}
	for _, name := range kind.order {
		inner := kind.inner[name]
		for _, one := range inner.list(owner) {
			w.owner(inner, one, part)
		}
	}
}

// keep notes a value that is carried over.
func (w *scaling) keep(s *spec, slot any, part string) {
	q, ok := slot.(*Quantity)
	if !ok || !q.Given {
		return
	}
	value := s.literal(*q)
	w.notes = append(w.notes, fmt.Sprintf("%s: %s = %s is %s", part, s.Name, value.text, notScaled))
	if key := w.inside + s.Name; !slices.Contains(w.driver.NotScaled, key) {
		w.driver.NotScaled = append(w.driver.NotScaled, key)
	}
}

func (w *scaling) quantity(s *spec, q *Quantity, power float64, part string) {
	if !q.Given {
		return
	}
	s.scaleNumber(q, w.n, power)
	if problem := s.refuses(q.SI); problem != "" && w.err == nil {
		what := s.Name
		if part != "" {
			what += " of " + part
		}
		w.err = fmt.Errorf("found %s for %s once scaled; wanted %s", s.literal(*q).text, what, problem)
	}
}

// scaleIn returns the power of N for a key of an owner.
func (s *spec) scaleIn(owner any) float64 {
	if c, ok := owner.(*Coil); ok && s.Name == "k" {
		return -c.N.SI // K·(jω)^n stays when ω grows N times
	}
	return s.Scale
}

// power returns the power of N for an addressed key.
func (d *Design) power(part, key string, s *spec) float64 {
	if key == "coil.k" {
		_, owner := d.part(part)
		return s.scaleIn(owner.(*Driver).Coil)
	}
	if s.Unscaled {
		return 0
	}
	return s.Scale
}

// scaleNumber multiplies a value by a power of n and finds it a unit. Whole powers
// are taken of the decimal as written, so that 24 mm at 1:10 is 2.4 mm and not one
// unit in the last place beside it.
func (s *spec) scaleNumber(q *Quantity, n *big.Rat, power float64) {
	if power == 0 || q.SI == 0 {
		return
	}
	factor, _ := n.Float64()
	if s.Kind != Measure || power != math.Trunc(power) {
		q.SI *= math.Pow(factor, power)
		return
	}
	if q.Unit == "" {
		q.Unit = s.Unit
	}
	number, _, _ := strings.Cut(s.Dimension.Format(q.SI, q.Unit), " ")
	v, _ := new(big.Rat).SetString(number)
	step := n
	if power < 0 {
		step = new(big.Rat).Inv(n)
	}
	for range int(math.Abs(power)) {
		v.Mul(v, step)
	}
	decimal, _ := v.Float64()
	text := strconv.FormatFloat(decimal, 'g', -1, 64) + " " + q.Unit
	si, _, err := quantity.Parse(text, s.Dimension)
	if err != nil {
		si = q.SI * math.Pow(factor, power) // far out of range, which is told
	}
	q.SI = si
	q.Unit = s.readable(*q)
}

// readable returns the unit a value is written in: its own as long as the number
// has few digits before or zeros behind the point.
func (s *spec) readable(q Quantity) string {
	unit := q.Unit
	scale, _, _, _ := quantity.Factor(unit)
	if v := math.Abs(q.SI) / scale; v >= 0.01 && v < 10000 {
		return unit
	}
	system := quantity.Metric
	if strings.HasPrefix(unit, "in") || strings.HasPrefix(unit, "ft") {
		system = quantity.Inch
	}
	_, shown, err := quantity.Parse(quantity.Show(q.SI, s.Dimension, system, 3), s.Dimension)
	if err != nil {
		return unit
	}
	return shown
}
