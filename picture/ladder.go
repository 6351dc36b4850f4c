package picture

import (
	"fmt"

	"ocarina/design"
	"ocarina/plot"
	"ocarina/tone"
	"ocarina/tone/beside"
)

func hertz(f float64) string { return fmt.Sprintf("%.4g Hz", f) }

// Ladder draws level, distortion, cone travel and air speed of each tone against
// the drive.
func Ladder(m *design.Model, l *tone.Ladder) plot.Sheet {
	level := plot.Panel{Axis: plot.Axis{Title: "Level", Unit: fmt.Sprintf("dB at %.3g m", m.Graph.Value(m.Distance))}}
	clean := plot.Panel{Axis: plot.Axis{Title: "Distortion", Unit: "% of the fundamental", Log: true, Span: 1e4},
		Limits: []plot.Limit{{Y: 100 * l.Clean, Label: "clean"}}}
	travel := plot.Panel{Axis: plot.Axis{Title: "Cone travel", Unit: "mm, farthest", Log: true, Span: 1e3}}
	air := plot.Panel{Axis: plot.Axis{Title: "Air speed", Unit: "m/s, fastest", Log: true, Span: 1e3}}
	for n := range l.Tones {
		t := &l.Tones[n]
		var volts, levels, thd, far, fast []float64
		for i := range t.Steps {
			s := &t.Steps[i]
			volts = append(volts, s.Voltage)
			if s.Level != nil {
				levels = append(levels, *s.Level)
			}
			thd = append(thd, 100*s.THD)
			x, u := 0.0, 0.0
			for _, v := range s.Mounts {
				x = max(x, v.Outward, v.Inward)
			}
			for _, list := range []map[string]float64{s.Ports, s.Lines} {
				for _, v := range list {
					u = max(u, v)
				}
			}
			far, fast = append(far, x), append(fast, u)
		}
		name, color := hertz(t.Frequency), n+1
		if len(levels) == len(volts) {
			level.Curves = append(level.Curves, plot.Curve{Name: name, X: volts, Y: levels, Color: color})
			if t.LimitVoltage != nil && t.LimitLevel != nil {
				level.Features = append(level.Features, plot.Feature{X: *t.LimitVoltage, Y: *t.LimitLevel, Label: t.FirstLimit})
			}
		}
		clean.Curves = append(clean.Curves, plot.Curve{Name: name, X: volts, Y: thd, Color: color})
		travel.Curves = append(travel.Curves, plot.Curve{Name: name, X: volts, Y: far, Color: color})
		air.Curves = append(air.Curves, plot.Curve{Name: name, X: volts, Y: fast, Color: color})
	}
	seen := map[float64]bool{}
	for _, v := range m.Mounts {
		if v.Xmax > 0 && !seen[v.Xmax] {
			seen[v.Xmax] = true
			travel.Limits = append(travel.Limits, plot.Limit{Y: v.Xmax * 1000, Label: "xmax of " + v.Name})
		}
	}
	s := plot.Sheet{Title: m.Design.Title, Subtitle: "Trial tones, the drive turned up", XTitle: "Drive", XUnit: "V RMS", LogX: true,
		Panels: []plot.Panel{clean, travel},
		Note:   "Predicted. Rings mark the first limit of a tone."}
	if len(level.Curves) > 0 {
		s.Panels = append([]plot.Panel{level}, s.Panels...)
	}
	if len(m.Ports)+len(m.Lines) > 0 {
		s.Panels = append(s.Panels, air)
	}
	return s
}

// Beside draws predicted curves and recorded points of each tone against the
// drive: distortion, and the second and third harmonic.
func Beside(m *design.Model, c *beside.Comparison) plot.Sheet {
	panel := func(title, unit string) plot.Panel {
		return plot.Panel{Axis: plot.Axis{Title: title, Unit: unit}}
	}
	level := panel("Level", "dB")
	lag := panel("Compression", "dB")
	second, third := panel("Second harmonic", "dB re the fundamental"), panel("Third harmonic", "dB re the fundamental")
	second.Span, third.Span = 80, 80
	add := func(p *plot.Panel, name string, color int, volts []float64, pairs []beside.Pair) {
		var x, predicted, recorded []float64
		for i, v := range pairs {
			predicted = append(predicted, v.Predicted)
			if v.Recorded != nil {
				x, recorded = append(x, volts[i]), append(recorded, *v.Recorded)
			}
		}
		p.Curves = append(p.Curves, plot.Curve{Name: name, X: volts, Y: predicted, Color: color})
		if len(x) > 0 {
			p.Curves = append(p.Curves, plot.Curve{X: x, Y: recorded, Color: color, Points: true})
		}
	}
	for n := range c.Tones {
		t := &c.Tones[n]
		var volts []float64
		var pairs [4][]beside.Pair
		for _, s := range t.Steps {
			volts = append(volts, s.Voltage)
			pairs[0], pairs[1] = append(pairs[0], s.Level), append(pairs[1], s.Compression)
			for k := range 2 {
				if k < len(s.Harmonics) {
					pairs[2+k] = append(pairs[2+k], s.Harmonics[k])
				} else {
					pairs[2+k] = append(pairs[2+k], beside.Pair{Predicted: -200})
				}
			}
		}
		for i, p := range []*plot.Panel{&level, &lag, &second, &third} {
			add(p, hertz(t.Frequency), n+1, volts, pairs[i])
		}
	}
	return plot.Sheet{Title: m.Design.Title, Subtitle: "Predicted and recorded", XTitle: "Drive", XUnit: "V RMS", LogX: true,
		Panels: []plot.Panel{level, lag, second, third}, Note: "Lines: predicted. Dots: recorded."}
}
