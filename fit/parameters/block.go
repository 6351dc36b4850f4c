package parameters

import (
	"strconv"

	"ocarina/design"
	"ocarina/quantity"
)

// Block returns the fitted values as a driver of a design file, of the given name
// and piston area [m²]: what Vas is not known for gets none. Creep goes in where
// the sweep shows it.
func (r *Result) Block(name string, sd float64) *design.Driver {
	f := &r.Fitted
	d := &design.Driver{Named: design.Named{Name: name}}
	// Four digits of the unit, as that is written and read.
	give := func(v, unit float64, text string) design.Quantity {
		q := design.Quantity{SI: v, Unit: text, Given: true}
		digits := strconv.FormatFloat(v/unit, 'g', 4, 64)
		if text == "" {
			q.SI, _ = strconv.ParseFloat(digits, 64)
		} else if _, _, kind, ok := quantity.Factor(text); ok {
			if si, _, err := quantity.Parse(digits+" "+text, kind); err == nil {
				q.SI = si
			}
		}
		return q
	}
	d.Re, d.Fs, d.Sd = give(f.Re, 1, "ohm"), give(f.Fs, 1, "Hz"), give(sd, 1e-4, "cm2")
	d.Qms, d.Qes = give(f.Qms, 1, ""), give(f.Qes, 1, "")
	if f.Vas > 0 {
		d.Vas = give(f.Vas, 1e-3, "L")
	}
	if f.K > 0 {
		d.Coil = &design.Coil{K: give(f.K, 1, ""), N: give(f.N, 1, "")}
	}
	if f.Creep > 2*r.Error.Creep && f.Creep > 0.005 {
		d.Creep = give(f.Creep, 1, "")
	}
	return d
}
