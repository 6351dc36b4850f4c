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
	for _, ducts := range [][]*design.DuctModel{m.Ports, m.Lines} {
		for _, d := range ducts {
			for i, s := range d.Sections {
				side, below := narrow(m, s)
				if side == 0 || low >= below {
					continue
				}
				name := d.Name
				if n := len(d.Sections); n > 1 {
					if d.Turned {
						i = n - 1 - i
					}
					name = fmt.Sprintf("section %d of %s", i+1, name)
				}
				list = append(list, fmt.Sprintf("%s is %.3g mm narrow, under ten boundary layers below %.3g Hz: its loss there is an estimate.", name, side*1000, below))
			}
		}
	}
	return list
}

// narrow returns the smaller side of a rectangular duct, m, from its area and
// perimeter, and below which frequency it is under ten boundary layers; 0 for
// another duct.
func narrow(m *design.Model, d *network.Duct) (side, below float64) {
	if d.Perimeter == network.None {
		return 0, 0
	}
	v := m.Graph.Values()
	half, area := v[d.Perimeter]/4, v[d.Area]
	side = half - math.Sqrt(math.Max(half*half-area, 0))
	return side, 100 * d.Air.Viscosity / (d.Air.Density * math.Pi * side * side)
}
