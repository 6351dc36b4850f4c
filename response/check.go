package response

import (
	"fmt"
	"math"
	"sort"

	"ocarina/design"
	"ocarina/driver"
	"ocarina/formula"
)

// DriverCheck is what a mounted driver's data sheet comes to, in SI units.
type DriverCheck struct {
	Mount string  `json:"mount"`
	Name  string  `json:"driver"`
	Count float64 `json:"count"`
	Fs    float64 `json:"fs_hz"`
	Qms   float64 `json:"qms"`
	Qes   float64 `json:"qes"`
	Qts   float64 `json:"qts"`
	Vas   float64 `json:"vas_l"`
	Mms   float64 `json:"mms_g"`
	Cms   float64 `json:"cms_mm_per_n"`
	Rms   float64 `json:"rms_n_s_per_m"`
	Bl    float64 `json:"bl_t_m"`
	Sd    float64 `json:"sd_cm2"`
	// Efficiency is the reference efficiency in half space, Sensitivity the
	// level at 1 m that 1 W into Re would give (Small 1972).
	Efficiency  float64 `json:"reference_efficiency"`
	Sensitivity float64 `json:"sensitivity_db"`
}

// ChamberCheck is a chamber's net volume and what was taken off.
type ChamberCheck struct {
	Name  string             `json:"name"`
	Net   float64            `json:"net_volume_l"`
	Taken map[string]float64 `json:"taken_l"`
}

// PortCheck is a port by itself.
type PortCheck struct {
	Name   string   `json:"name"`
	Area   float64  `json:"area_cm2"` // all of a count together
	Length float64  `json:"effective_length_mm"`
	Tuning *float64 `json:"tuning_hz"` // against the chambers at its ends alone; null without any
	Half   float64  `json:"half_wave_hz"`
	Limit  float64  `json:"speed_limit_m_s"`
}

// Check is whether a design is sound, before anything is predicted.
type Check struct {
	Drivers  []DriverCheck  `json:"drivers"`
	Chambers []ChamberCheck `json:"chambers"`
	Ports    []PortCheck    `json:"ports"`
	Warnings []string       `json:"warnings"`
}

// CheckDesign works out a model's derived values and what looks wrong in it.
func CheckDesign(m *design.Model) *Check {
	c := &Check{Drivers: []DriverCheck{}, Chambers: []ChamberCheck{}, Ports: []PortCheck{}, Warnings: append([]string{}, m.Warnings...)}
	value := func(r formula.Ref) float64 {
		if r == driver.Unknown {
			return 0
		}
		return m.Graph.Value(r)
	}
	for _, v := range m.Mounts {
		d := DriverCheck{Mount: v.Name, Name: v.Driver.Name, Count: v.Count, Fs: value(v.Motor.Fs), Qms: value(v.Motor.Qms), Qes: value(v.Motor.Qes),
			Qts: value(v.Motor.Qts), Vas: value(v.Motor.Vas) * 1e3, Mms: value(v.Motor.Mms) * 1e3, Cms: value(v.Motor.Cms) * 1e3,
			Rms: value(v.Motor.Rms), Bl: value(v.Motor.Bl), Sd: value(v.Area) * 1e4}
		// η0 = (4π²/c³)·fs³·Vas/Qes: Small, JAES 20 (1972).
		d.Efficiency = 4 * math.Pi * math.Pi / math.Pow(m.Air.Speed, 3) * math.Pow(d.Fs, 3) * d.Vas / 1e3 / d.Qes
		d.Sensitivity = 10 * math.Log10(m.Air.Density*m.Air.Speed*d.Efficiency/(2*math.Pi*Reference*Reference))
		c.Drivers = append(c.Drivers, d)
	}
	for _, v := range m.Chambers {
		taken := map[string]float64{}
		for _, t := range v.Taken {
			taken[t.Part] += value(t.Volume) * 1e3
		}
		c.Chambers = append(c.Chambers, ChamberCheck{Name: v.Name, Net: value(v.Volume) * 1e3, Taken: taken})
	}
	for _, p := range m.Ports {
		c.Ports = append(c.Ports, checkPort(m, p, value))
	}
	c.Warnings = append(c.Warnings, idle(m)...)
	c.Warnings = append(c.Warnings, choked(m, c, value)...)
	if low, high, ok := toneBand(m); ok {
		c.Warnings = append(c.Warnings, Limits(m, low, high)...)
	}
	return c
}

func checkPort(m *design.Model, p *design.DuctModel, value func(formula.Ref) float64) PortCheck {
	area, length := value(p.Area)*p.Count, value(p.Ideal)
	out := PortCheck{Name: p.Name, Area: area * 1e4, Length: length * 1e3, Half: m.Air.Speed / (2 * length), Limit: p.SpeedLimit}
	// Between two chambers their springs act in series.
	stiffness := 0.0
	for _, at := range []design.Place{p.From, p.To} {
		for _, c := range m.Chambers {
			if at.Kind == design.InChamber && at.Name == c.Name {
				stiffness += 1 / value(c.Volume)
			}
		}
	}
	if stiffness > 0 {
		f := m.Air.Speed / (2 * math.Pi) * math.Sqrt(area/length*stiffness)
		out.Tuning = &f
	}
	return out
}

// idle names drivers that no mount uses.
func idle(m *design.Model) (list []string) {
	used := map[string]bool{}
	for _, v := range m.Mounts {
		used[v.Driver.Name] = true
	}
	for _, d := range m.Design.Drivers {
		if !used[d.Name] {
			list = append(list, fmt.Sprintf("No mount uses driver %s.", d.Name))
		}
	}
	return list
}

// choked warns of openings too small for the air the cones move: under
// 0.8·f·V_D in all, with f the port's tuning and V_D the volume swept one way
// by the cones that face its chamber, or by all where none does (Small, JAES
// 21, 1973, from memory: it keeps the air near 5 % of the speed of sound).
func choked(m *design.Model, c *Check, value func(formula.Ref) float64) (list []string) {
	for i, p := range m.Ports {
		k := &c.Ports[i]
		inner := p.From
		switch {
		case p.To.Kind == design.Outside:
		case p.From.Kind == design.Outside:
			inner = p.To
		default:
			continue
		}
		swept := sweptInto(m, inner, value)
		if swept == 0 || k.Tuning == nil {
			continue
		}
		if want := 0.8 * *k.Tuning * swept * 1e4; k.Area < want {
			list = append(list, fmt.Sprintf("%s has %.3g cm² for cones that sweep %.3g cm³ at %.3g Hz: under the %.3g cm² a rule of thumb asks for (0.8·f·V_D). Its air will be noisy before the cones reach their travel.",
				p.Name, k.Area, swept*1e6, *k.Tuning, want))
		}
	}
	return list
}

func sweptInto(m *design.Model, at design.Place, value func(formula.Ref) float64) float64 {
	all, facing := 0.0, 0.0
	for _, v := range m.Mounts {
		volume := v.Count * v.Xmax * value(v.Area)
		all += volume
		for _, face := range []design.Place{v.Front, v.Rear} {
			if face.Kind == at.Kind && face.Name == at.Name {
				facing += volume
			}
		}
	}
	if facing > 0 {
		return facing
	}
	return all
}

func toneBand(m *design.Model) (low, high float64, ok bool) {
	var list []float64
	for _, q := range m.Design.Tones {
		list = append(list, q.SI)
	}
	if len(list) == 0 {
		return 0, 0, false
	}
	sort.Float64s(list)
	return list[0], list[len(list)-1], true
}
