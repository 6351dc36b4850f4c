package response

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ocarina/design"
)

// toModel makes a design its own 1:n model, rule by rule: lengths go with 1/n,
// frequencies with n, and everything else follows. What a design leaves to
// defaults is written out first, where the default has a dimension.
func toModel(d *design.Design, n float64) {
	scale := func(power float64, list ...*design.Quantity) {
		for _, q := range list {
			q.SI *= math.Pow(n, power)
		}
	}
	all := func(power float64, list []design.Quantity) {
		for i := range list {
			scale(power, &list[i])
		}
	}
	give := func(q *design.Quantity, value float64) {
		if !q.Given {
			*q = design.Quantity{SI: value, Given: true}
		}
	}
	for _, v := range d.Drivers {
		scale(-2, &v.Sd, &v.Rms)
		scale(-3, &v.Vas, &v.Mms, &v.Mmd, &v.Displacement)
		scale(1, &v.Fs, &v.Cms)
		scale(-1, &v.Bl, &v.Le, &v.Xmax)
		if v.Coil != nil {
			scale(-1, &v.Coil.Le, &v.Coil.L2)
			scale(-v.Coil.N.SI, &v.Coil.K)
		}
	}
	for _, v := range d.Chambers {
		scale(-3, &v.Volume, &v.Bracing)
		all(-1, v.Size)
		give(&v.FlowResistivity, 4000)
		scale(1, &v.FlowResistivity, &v.LeakAt)
	}
	for _, v := range d.Ports {
		scale(-1, &v.Diameter, &v.Length, &v.WallThickness)
		scale(-2, &v.Area, &v.Wall)
		for _, list := range [][]design.Quantity{v.Size, v.EndCorrection, v.Inside, v.Position} {
			all(-1, list)
		}
		scale(2, &v.Resistance)
	}
	for _, v := range d.Lines {
		for _, s := range v.Sections {
			scale(-1, &s.Length, &s.Diameter)
			scale(-2, &s.Area, &s.ToArea)
			all(-1, s.Size)
		}
		give(&v.FlowResistivity, 4000)
		scale(1, &v.FlowResistivity)
		all(-1, v.Position)
	}
	for _, v := range d.Passives {
		scale(-2, &v.Sd, &v.Rms)
		scale(-3, &v.Mms, &v.Vas)
		scale(1, &v.Cms, &v.Fs)
		all(-1, v.Position)
	}
	for _, v := range d.Leaks {
		scale(2, &v.Resistance)
	}
	for _, v := range d.Mounts {
		all(-1, v.Position)
	}
	for _, v := range d.Drives {
		scale(-1, &v.Voltage, &v.Delay)
		scale(-2, &v.Power)
		for _, f := range v.Filters {
			scale(1, &f.Frequency)
			scale(-1, &f.Inductance, &f.Capacitance)
		}
	}
	if len(d.Listen.Position) == 0 {
		give(&d.Listen.Distance, 1)
	}
	scale(-1, &d.Listen.Distance)
	all(-1, d.Listen.Position)
}

// A model n times smaller, played n times higher, is the full size again:
// impedances, pressures and air speeds are the same, excursions and currents n
// times smaller. With ideal walls exactly so.
func TestScaleModelsAgree(t *testing.T) {
	scalings := map[string]func(t *testing.T, text string, n float64) *design.Design{
		"by the rules": func(t *testing.T, text string, n float64) *design.Design {
			d := parseText(t, text)
			toModel(d, n)
			return d
		},
		"as the program scales": func(t *testing.T, text string, n float64) *design.Design {
			d, _, err := parseText(t, text).Scaled(n, true)
			if err != nil {
				t.Fatal(err)
			}
			return d
		},
		"and back": func(t *testing.T, text string, n float64) *design.Design {
			d, _, err := parseText(t, text).Scaled(1/n, false)
			if err != nil {
				t.Fatal(err)
			}
			return d
		},
	}
	for how, scaled := range scalings {
		t.Run(how, func(t *testing.T) {
			eachWild(t, wilds/2, true, func(t *testing.T, seed uint64, r *rand.Rand, m *design.Model) {
				n := r.Float64()*9 + 1
				model := build(t, scaled(t, wildDesign(seed, true), n))
				for _, f := range pitches(r, 3) {
					want, got := everything(t, m, f), everything(t, model, f*n)
					for name := range want {
						if strings.HasPrefix(name, "mount") || strings.HasPrefix(name, "passive") || strings.HasPrefix(name, "current") {
							got[name] *= complex(n, 0)
						}
					}
					same(t, f, want, got, func(s string) string { return s }, 1e-12)
				}
			})
		})
	}
}
