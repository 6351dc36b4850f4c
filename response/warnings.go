package response

import (
	"fmt"
	"math"
	"slices"

	"ocarina/design"
	"ocarina/network"
)

// Warnings says where the model is near the end of what it can describe over
// the frequencies asked for [Hz], with the model's own warnings first.
func (b *Bench) Warnings(frequency []float64) []string {
	list := append([]string{}, b.Model.Warnings...)
	if len(frequency) == 0 {
		return list
	}
	return append(list, Limits(b.Model, slices.Min(frequency), slices.Max(frequency))...)
}

// Limits says where the physics behind the model ends within a band [Hz]: a
// chamber that no longer has one pressure, a narrow slot whose wall loss is
// only roughly known.
func Limits(m *design.Model, low, high float64) (list []string) {
	for _, c := range m.Chambers {
		wave := c.Element.Air.Speed / high
		if c.Longest > wave/10 {
			list = append(list, fmt.Sprintf("%s is %.3g mm long, more than a tenth of the wavelength above %.3g Hz: there it no longer has one pressure, and its features come out too high.",
				c.Name, c.Longest*1000, c.Element.Air.Speed/(10*c.Longest)))
		}
	}
	if low <= 0 {
		return list
	}
	for _, p := range m.Ports {
		list = append(list, slits(m, p, low)...)
	}
	for _, l := range m.Lines {
		list = append(list, slits(m, l, low)...)
	}
	return list
}

// slits names the rectangular sections of a port or line whose smaller side is
// under ten boundary layers at a frequency [Hz].
func slits(m *design.Model, p *design.DuctModel, low float64) (list []string) {
	v := m.Graph.Values()
	for i, d := range p.Sections {
		if d.Perimeter == network.None {
			continue
		}
		// The smaller side of a rectangle from its area and perimeter.
		half, area := v[d.Perimeter]/4, v[d.Area]
		side := half - math.Sqrt(math.Max(half*half-area, 0))
		layer := d.Air.Viscosity / (d.Air.Density * math.Pi) // δ²·f
		if side >= 10*math.Sqrt(layer/low) {
			continue
		}
		name := p.Name
		if len(p.Sections) > 1 {
			n := i + 1
			if p.Turned {
				n = len(p.Sections) - i
			}
			name = fmt.Sprintf("section %d of %s", n, p.Name)
		}
		list = append(list, fmt.Sprintf("%s is %.3g mm narrow, under ten boundary layers below %.3g Hz: its loss there is an estimate.",
			name, side*1000, 100*layer/(side*side)))
	}
	return list
}
