package picture

import (
	"fmt"
	"math"

	"ocarina/fit"
	"ocarina/plot"
)

// Match draws a measured sweep over the drawn and the fitted model, its features
// named by their owners, with what is left between them below.
func Match(title string, r *fit.Result) plot.Sheet {
	panel := plot.Panel{Axis: plot.Axis{Title: "Impedance", Unit: "ohm", Log: true}}
	panel.Curves = []plot.Curve{
		{Name: "drawn", X: r.Frequency, Y: r.Drawn, Dash: true, Emphasis: -1},
		{Name: "fitted", X: r.Frequency, Y: r.Fitted},
		{Name: "measured", X: r.Frequency, Y: r.Measured, Points: true},
	}
	for _, v := range r.Features {
		if v.Measured != nil && *v.Measured >= r.From && *v.Measured <= r.To {
			panel.Features = append(panel.Features, plot.Feature{X: *v.Measured, Y: level(r.Frequency, r.Measured, *v.Measured), Label: v.Owner})
		}
	}
	left := plot.Panel{Axis: plot.Axis{Title: "Model against sweep", Unit: "dB"}}
	for _, c := range []plot.Curve{{Name: "drawn", Y: r.Drawn, Dash: true, Emphasis: -1}, {Name: "fitted", Y: r.Fitted}} {
		c.X = r.Frequency
		off := make([]float64, len(c.Y))
		for i, z := range c.Y {
			off[i] = 20 * math.Log10(z/r.Measured[i])
		}
		c.Y = off
		left.Curves = append(left.Curves, c)
	}
	return plot.Sheet{
		Title: title, Subtitle: fmt.Sprintf("residual %.2g dB as drawn, %.2g dB fitted", r.Residual.Drawn, r.Residual.Fitted),
		Panels: []plot.Panel{panel, left}, XTitle: "Frequency", XUnit: "Hz", LogX: true,
	}
}

// level reads a curve over frequency between its points.
func level(x, y []float64, at float64) float64 {
	for i := 1; i < len(x); i++ {
		if x[i] >= at {
			t := (at - x[i-1]) / (x[i] - x[i-1])
			return y[i-1] + t*(y[i]-y[i-1])
		}
	}
	return y[len(y)-1]
}
