// Package picture lays out what response computes as sheets of curves: the same
// for the command, the report and the page's exports.
package picture

import (
	"fmt"
	"math"
	"slices"

	"ocarina/design"
	"ocarina/plot"
	"ocarina/response"
)

// Top returns how far up a sweep of the model goes unless told otherwise: 1 kHz,
// or four times the highest tone, Hz.
func Top(m *design.Model) float64 {
	top := 0.0
	for _, q := range m.Design.Tones {
		top = math.Max(top, 4*q.SI)
	}
	if top == 0 {
		return 1000
	}
	return math.Min(math.Max(top, 20), 20e3)
}

// Features returns the features of the bench within a prediction's band.
func Features(b *response.Bench, p *response.Prediction) ([]response.Feature, error) {
	if len(p.Frequency) < 2 {
		return nil, nil
	}
	low, high := slices.Min(p.Frequency), slices.Max(p.Frequency)
	if low == high {
		return nil, nil
	}
	return b.Features(low, high)
}

func tones(m *design.Model, p *response.Prediction) (marks []plot.Mark) {
	low, high := slices.Min(p.Frequency), slices.Max(p.Frequency)
	for _, q := range m.Design.Tones {
		if q.SI >= low && q.SI <= high {
			marks = append(marks, plot.Mark{X: q.SI, Label: fmt.Sprintf("%.4g", q.SI)})
		}
	}
	return marks
}

func impedance(p *response.Prediction, features []response.Feature) plot.Panel {
	panel := plot.Panel{Axis: plot.Axis{Title: "Impedance", Unit: "ohm", Log: true}}
	panel.Curves = []plot.Curve{{X: p.Frequency, Y: p.Impedance}}
	for _, f := range features {
		panel.Features = append(panel.Features, plot.Feature{X: f.Frequency, Y: f.Impedance, Label: f.Owner})
	}
	return panel
}

// Impedance is a sheet with the impedance alone, features named.
func Impedance(m *design.Model, p *response.Prediction, features []response.Feature) plot.Sheet {
	return plot.Sheet{Panels: []plot.Panel{impedance(p, features)}, Marks: tones(m, p), XTitle: "Frequency", XUnit: "Hz", LogX: true}
}

// Sheet draws impedance, level, cone travel and air speed of a prediction on one
// log-frequency axis, with tones and named features marked and limits dashed.
func Sheet(m *design.Model, p *response.Prediction, features []response.Feature) plot.Sheet {
	s := Impedance(m, p, features)
	s.Title = m.Design.Title
	s.Subtitle = drive(m)
	s.Note = "Computed. Level: RMS, dB re 20 µPa. Travel: peak, one way. Air speed: peak, where it is highest."
	if p.Level != nil {
		s.Panels = append(s.Panels, plot.Panel{
			Axis:   plot.Axis{Title: "Level", Unit: fmt.Sprintf("dB at %.3g m", m.Graph.Value(m.Distance)), Span: 50},
			Curves: []plot.Curve{{X: p.Frequency, Y: p.Level}},
		})
	}
	travel := plot.Panel{Axis: plot.Axis{Title: "Cone travel", Unit: "mm, one way"}}
	limits := map[float64]bool{}
	for _, v := range m.Mounts {
		travel.Curves = append(travel.Curves, plot.Curve{Name: v.Name, X: p.Frequency, Y: p.Mounts[v.Name].Excursion})
		if v.Xmax > 0 && !limits[v.Xmax] {
			limits[v.Xmax] = true
			travel.Limits = append(travel.Limits, plot.Limit{Y: v.Xmax * 1000, Label: fmt.Sprintf("Xmax %.3g", v.Xmax*1000)})
		}
	}
	for _, v := range m.Passives {
		travel.Curves = append(travel.Curves, plot.Curve{Name: v.Name, X: p.Frequency, Y: p.Passives[v.Name].Excursion})
		if v.Xmax > 0 && !limits[v.Xmax] {
			limits[v.Xmax] = true
			travel.Limits = append(travel.Limits, plot.Limit{Y: v.Xmax * 1000, Label: fmt.Sprintf("%s %.3g", v.Name, v.Xmax*1000)})
		}
	}
	s.Panels = append(s.Panels, travel)
	speed := plot.Panel{Axis: plot.Axis{Title: "Air speed", Unit: "m/s peak"}}
	limit := math.Inf(1)
	for _, v := range m.Ports {
		speed.Curves = append(speed.Curves, plot.Curve{Name: v.Name, X: p.Frequency, Y: p.Ports[v.Name].Speed})
		limit = math.Min(limit, v.SpeedLimit)
	}
	for _, v := range m.Lines {
		speed.Curves = append(speed.Curves, plot.Curve{Name: v.Name, X: p.Frequency, Y: p.Lines[v.Name].Speed})
		limit = math.Min(limit, v.SpeedLimit)
	}
	if len(speed.Curves) > 0 {
		speed.Limits = []plot.Limit{{Y: limit, Label: fmt.Sprintf("caution %.3g", limit)}}
		s.Panels = append(s.Panels, speed)
	}
	return s
}

func drive(m *design.Model) string {
	text := fmt.Sprintf("%.3g V", math.Abs(m.Graph.Value(m.Drives[0].Voltage)))
	if len(m.Drives) > 1 {
		text += fmt.Sprintf(", first of %d drives", len(m.Drives))
	}
	switch m.Design.Listen.Space {
	case design.FullSpace:
		return text + ", full space"
	case design.QuarterSpace:
		return text + ", quarter space"
	case design.EighthSpace:
		return text + ", eighth space"
	}
	return text + ", half space"
}
