package picture

import (
	"fmt"
	"math"

	"ocarina/fit"
	"ocarina/plot"
)

// Compare draws several sweeps or designs over one another, and below by how much
// they differ from the first.
func Compare(c *fit.Comparison) plot.Sheet {
	top := plot.Panel{Axis: plot.Axis{Title: "Impedance", Unit: "ohm", Log: true}}
	off := plot.Panel{Axis: plot.Axis{Title: "Against " + c.Items[0], Unit: "dB"}}
	for i, name := range c.Items {
		top.Curves = append(top.Curves, plot.Curve{Name: name, X: c.Frequency, Y: c.Impedance[i], Color: i + 1})
		if i == 0 {
			continue
		}
		d := make([]float64, len(c.Frequency))
		for k := range d {
			d[k] = 20 * math.Log10(c.Impedance[i][k]/c.Impedance[0][k])
		}
		off.Curves = append(off.Curves, plot.Curve{Name: name, X: c.Frequency, Y: d, Color: i + 1})
	}
	s := plot.Sheet{Title: "Compared", Panels: []plot.Panel{top, off}, XTitle: "Frequency", XUnit: "Hz", LogX: true}
	for _, t := range c.Tones {
		if t.Frequency >= c.From && t.Frequency <= c.To {
			s.Marks = append(s.Marks, plot.Mark{X: t.Frequency, Label: fmt.Sprintf("%.4g", t.Frequency)})
		}
	}
	return s
}
