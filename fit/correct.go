package fit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"ocarina/design"
	"ocarina/quantity"
)

// change is a number of the design to be set, or a leak to be added.
type change struct {
	part, key string
	index     int
	si        float64
	leak      bool // a leak of the chamber part, of resistance si
}

// changes lists what makes the design behave as the sweep does. What moved less
// than its rounding stays as drawn.
func (f *fitting) changes() (list []change) {
	if f.solved == nil {
		return nil
	}
	for j := range f.free {
		p := &f.free[j]
		x := f.x[j]
		se := f.solved.StandardError[j]
		switch {
		case x == 0:
			continue
		case p.key == "leak":
			if x > 2*se {
				list = append(list, change{part: p.part, si: rounded(1/(p.scale*x), "", 4), leak: true})
			}
			continue
		case p.key == "resistance" && f.isPort(p.part) && x < 2*se && p.drawn == 0:
			continue
		}
		for i := range p.inputs {
			in := &p.inputs[i]
			d := &f.model.Dimensions[in.dimension]
			v, slope := in.at(x)
			unit, _ := units(d.Quantity)
			keep := 2 + int(math.Ceil(math.Log10(math.Abs(v)/math.Max(math.Abs(slope)*se, 1e-9*math.Abs(v)))))
			list = append(list, change{part: d.Part, key: address(d.Key), index: d.Index, si: rounded(v, unit, min(max(keep, 3), 7))})
		}
	}
	return list
}

// rounded rounds a value to so many significant digits of its unit, as that is
// written and read.
func rounded(si float64, unit string, digits int) float64 {
	scale, _, kind, ok := quantity.Factor(unit)
	if !ok {
		scale = 1
	}
	text := strconv.FormatFloat(si/scale, 'e', digits-1, 64)
	v, err := strconv.ParseFloat(text, 64)
	if err == nil && ok && unit != "" {
		v, _, err = quantity.Parse(text+" "+unit, kind)
	}
	if err != nil {
		return si
	}
	return v
}

// address turns a dimension's key into the one a design is changed by.
func address(key string) string {
	block, rest, ok := strings.Cut(key, "[")
	if !ok {
		return key
	}
	n, rest, _ := strings.Cut(rest, "].")
	i, err := strconv.Atoi(n)
	if err != nil {
		return key
	}
	return fmt.Sprintf("%s.%d.%s", block, i+1, rest)
}

// Correct changes the design to the fitted numbers: it must be the one that was
// matched, or a fresh copy of it. A leak that was found becomes a leak block.
// Comments stay.
func (r *Result) Correct(d *design.Design) error {
	for _, e := range r.edits {
		if err := d.SetText(e.part, e.key, e.text); err != nil {
			return err
		}
	}
	for _, c := range r.changes {
		if !c.leak {
			if err := d.Set(c.part, c.key, c.index, c.si); err != nil {
				return err
			}
			continue
		}
		name := c.part + "-leak"
		for slices.ContainsFunc(d.Leaks, func(l *design.Leak) bool { return l.Name == name }) {
			name += "-2"
		}
		if err := d.AddBlock("leak", name); err != nil {
			return err
		}
		for _, e := range [2]edit{{name, "from", "chamber." + c.part}, {name, "to", "outside"}} {
			if err := d.SetText(e.part, e.key, e.text); err != nil {
				return err
			}
		}
		if err := d.Set(name, "resistance", 0, c.si); err != nil {
			return err
		}
	}
	return nil
}
