package fit

import (
	"fmt"
	"math"
	"math/cmplx"

	"ocarina/response"
	"ocarina/sweep"
)

// Item is one thing to compare: a measured sweep or a design's bench.
type Item struct {
	Name  string
	Sweep *sweep.Sweep    // or
	Bench *response.Bench // as drawn
}

// Comparison sets items side by side. Lists go by item; null stands for what an
// item does not have. The first item is what the others are compared with.
type Comparison struct {
	Items    []string          `json:"items"`
	From     float64           `json:"from_hz"` // band all of them share
	To       float64           `json:"to_hz"`
	Apart    []float64         `json:"apart_db"` // RMS of |Z| against the first item
	Features []ComparedFeature `json:"features"`
	Tones    []ComparedTone    `json:"tones"`
	Warnings []string          `json:"warnings"`

	Frequency []float64   `json:"-"` // Hz
	Impedance [][]float64 `json:"-"` // ohm, by item
}

// ComparedFeature is a peak or dip and where each item has it.
type ComparedFeature struct {
	Kind      string     `json:"kind"`
	Owner     string     `json:"owner"` // where a design tells
	Frequency []*float64 `json:"frequency_hz"`
	Impedance []*float64 `json:"impedance_ohm"`
}

// ComparedTone is what each item has at a frequency.
type ComparedTone struct {
	Frequency float64    `json:"frequency_hz"`
	Impedance []*float64 `json:"impedance_ohm"`
	Level     []*float64 `json:"level_db"` // of designs
}

// comparedPoints is how many points the curves are compared at.
const comparedPoints = 900

// usual band of designs compared with no sweep, Hz.
const usualFrom, usualTo = 10.0, 1000.0

// Compare sets two or more items side by side, at their features and at tones
// [Hz]. It fails where they have no band in common.
func Compare(items []Item, tones []float64) (*Comparison, error) {
	c := &Comparison{Features: []ComparedFeature{}, Tones: []ComparedTone{}, Warnings: []string{}}
	for _, v := range items {
		c.Items = append(c.Items, v.Name)
		if v.Sweep == nil {
			continue
		}
		low, high := v.Sweep.Frequency[0], v.Sweep.Frequency[v.Sweep.Len()-1]
		if c.From == 0 || low > c.From {
			c.From = low
		}
		if c.To == 0 || high < c.To {
			c.To = high
		}
		for _, w := range v.Sweep.Warnings {
			c.Warnings = append(c.Warnings, v.Name+": "+w)
		}
	}
	if c.To == 0 {
		c.From, c.To = usualFrom, usualTo
	}
	if !(c.From < c.To) {
		return nil, fmt.Errorf("the sweeps share no band: one begins at %.4g Hz, another ends at %.4g Hz", c.From, c.To)
	}
	c.Frequency = response.LogSpaced(c.From, c.To, comparedPoints)
	c.Frequency[0], c.Frequency[comparedPoints-1] = c.From, c.To
	for i := range items {
		z := make([]float64, comparedPoints)
		for k, f := range c.Frequency {
			v, err := items[i].impedance(f)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", items[i].Name, err)
			}
			z[k] = *v
		}
		c.Impedance = append(c.Impedance, z)
		sum := 0.0
		for k := range z {
			d := math.Log(z[k] / c.Impedance[0][k])
			sum += d * d
		}
		c.Apart = append(c.Apart, decibels*math.Sqrt(sum/comparedPoints))
	}
	if err := c.features(items); err != nil {
		return nil, err
	}
	for _, f := range tones {
		t := ComparedTone{Frequency: f}
		for i := range items {
			z, err := items[i].impedance(f)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", items[i].Name, err)
			}
			t.Impedance = append(t.Impedance, z)
			t.Level = append(t.Level, items[i].level())
		}
		c.Tones = append(c.Tones, t)
	}
	return c, nil
}

// impedance returns |Z| [ohm] at a frequency, or nil outside a sweep.
func (v *Item) impedance(f float64) (*float64, error) {
	if v.Bench != nil {
		if err := v.Bench.Solve(f); err != nil {
			return nil, err
		}
		z := cmplx.Abs(v.Bench.Impedance(0))
		return &z, nil
	}
	s := v.Sweep
	if f < s.Frequency[0]*(1-1e-12) || f > s.Frequency[s.Len()-1]*(1+1e-12) {
		return nil, nil
	}
	i := 1
	for i < s.Len()-1 && s.Frequency[i] < f {
		i++
	}
	part := math.Log(f/s.Frequency[i-1]) / math.Log(s.Frequency[i]/s.Frequency[i-1])
	z := s.Magnitude[i-1] * math.Pow(s.Magnitude[i]/s.Magnitude[i-1], part)
	return &z, nil
}

// level returns the level [dB] of a design at the frequency its impedance was
// just read at, or nil.
func (v *Item) level() *float64 {
	if v.Bench == nil || v.Bench.Model.Listener == nil {
		return nil
	}
	l := response.Level(v.Bench.Pressure())
	return &l
}

// features pairs those of each item with those of the rows so far.
func (c *Comparison) features(items []Item) error {
	var rows []spot // where the last item that has it has it
	for i := range items {
		var list []spot
		var owner []string
		if b := items[i].Bench; b != nil {
			found, err := b.Features(c.From, c.To)
			if err != nil {
				return fmt.Errorf("%s: %w", items[i].Name, err)
			}
			list = spots(found)
			for _, v := range found {
				owner = append(owner, v.Owner)
			}
		} else {
			for _, v := range items[i].Sweep.Features() {
				if v.Frequency >= c.From && v.Frequency <= c.To {
					list = append(list, spot{v.Kind, v.Frequency, v.Height})
				}
			}
		}
		link := align(rows, list, 1, func(p, q int) float64 {
			return math.Abs(math.Log(list[q].frequency/rows[p].frequency))/0.12 + math.Abs(math.Log(list[q].height/rows[p].height))/2
		})
		taken := make([]bool, len(list))
		for p, q := range link {
			if q >= 0 {
				taken[q] = true
				c.put(p, i, list[q], owner, q)
				rows[p] = list[q]
			}
		}
		for q := range list {
			if taken[q] {
				continue
			}
			at := 0
			for at < len(rows) && rows[at].frequency < list[q].frequency {
				at++
			}
			rows = append(rows[:at], append([]spot{list[q]}, rows[at:]...)...)
			row := ComparedFeature{Kind: list[q].kind, Frequency: make([]*float64, len(items)), Impedance: make([]*float64, len(items))}
			c.Features = append(c.Features[:at], append([]ComparedFeature{row}, c.Features[at:]...)...)
			c.put(at, i, list[q], owner, q)
		}
	}
	return nil
}

func (c *Comparison) put(row, item int, s spot, owner []string, q int) {
	v := &c.Features[row]
	v.Frequency[item], v.Impedance[item] = &s.frequency, &s.height
	if v.Owner == "" && owner != nil {
		v.Owner = owner[q]
	}
}
