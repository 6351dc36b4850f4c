package tone

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"

	"ocarina/design"
	"ocarina/network"
	"ocarina/response"
	"ocarina/tone/balance"
)

// Pair are two tones played at once, the first usually the lower and louder.
type Pair struct {
	First, Second float64 // Hz
	Voltage       float64 // of the first at the first amplifier, V RMS
	Ratio         float64 // of the second's voltage to the first's; 0: a quarter
	Order         int     // products go up to this many times either tone; 0: 5
	Seconds       float64 // as in Options
	Cold          bool
}

// Product is one line of the spectrum at the listener: First times the first
// tone and Second times the second.
type Product struct {
	First     int     `json:"first"`
	Second    int     `json:"second"`
	Frequency float64 `json:"frequency_hz"`
	Level     float64 `json:"level_db"`
}

// Mixture is what two tones make of one another.
type Mixture struct {
	Products []Product `json:"products"` // the loudest first, down to 100 dB below the loudest
	// Modulation of the second tone by the first, ratios to the second: the sums
	// of the two sidebands a first's frequency away and of those twice as far
	// (modulation distortion of second and third order, IEC 60268-5; the clause
	// from memory).
	SecondOrder float64            `json:"modulation_2"`
	ThirdOrder  float64            `json:"modulation_3"`
	Outward     map[string]float64 `json:"outward_mm"` // farthest any mount gets, over all phases of the two
	Inward      map[string]float64 `json:"inward_mm"`
	Offset      map[string]float64 `json:"offset_mm"`
	Assumed     []string           `json:"assumed"`
	Warnings    []string           `json:"warnings"`
}

func (p Pair) filled() (Pair, error) {
	if p.Ratio == 0 {
		p.Ratio = 0.25
	}
	if p.Order == 0 {
		p.Order = 5
	}
	if p.Seconds == 0 {
		p.Seconds = 60
	}
	inside := func(f float64) bool { return f >= design.MinFrequency && f <= design.MaxFrequency }
	if !inside(p.First) || !inside(p.Second) || p.First == p.Second {
		return p, fmt.Errorf("found tones of %g and %g Hz; wanted two different ones from %g to %g Hz", p.First, p.Second, design.MinFrequency, design.MaxFrequency)
	}
	if !(p.Voltage > 0) || math.IsInf(p.Voltage, 0) || !(p.Ratio > 0) || math.IsInf(p.Ratio, 0) || p.Order < 2 || p.Order > 12 || !(p.Seconds > 0) {
		return p, fmt.Errorf("found %g V, a ratio of %g, order %d and %g s; wanted a voltage, a ratio and a time above zero and an order from 2 to 12", p.Voltage, p.Ratio, p.Order, p.Seconds)
	}
	return p, nil
}

// Mix predicts two tones at once. It fails where no steady state is found.
func Mix(m *design.Model, pair Pair) (*Mixture, error) {
	pair, err := pair.filled()
	if err != nil {
		return nil, err
	}
	if m.Listener == nil {
		return nil, fmt.Errorf("found nothing that opens to the outside; wanted something to listen to")
	}
	a, err := assemble(m)
	if err != nil {
		return nil, err
	}
	s, p, err := a.pair(pair)
	if err != nil {
		return nil, err
	}
	x := &Mixture{Outward: map[string]float64{}, Inward: map[string]float64{}, Offset: map[string]float64{}, Assumed: a.assumed, Warnings: append([]string{}, a.off...)}
	if coincide(p.Lines) {
		x.Warnings = append(x.Warnings, "The two tones are in so simple a ratio that products fall on one another. They are told one by one, as if the tones knew nothing of each other's phase: shift one of them a little.")
	}
	listener := listen(m, p, a.net.Values)
	second, loudest := 0.0, 0.0
	pressure := func(l int) float64 { return cmplx.Abs(s.At(listener, l)) }
	side := map[int]float64{}
	for l := 1; l < len(p.Lines); l++ {
		line, v := p.Lines[l], pressure(l)
		loudest = math.Max(loudest, v)
		switch line.Second {
		case 1, -1: // a line below zero is told by its mirror
			order := line.First
			if order < 0 {
				order = -order
			}
			if order == 0 {
				second = v
			} else {
				side[order] += v
			}
		}
	}
	if second > 0 {
		x.SecondOrder, x.ThirdOrder = side[1]/second, side[2]/second
	}
	for l := 1; l < len(p.Lines); l++ {
		if v := pressure(l); v > 1e-5*loudest {
			x.Products = append(x.Products, Product{p.Lines[l].First, p.Lines[l].Second, p.Lines[l].Frequency, response.Level(complex(v, 0))})
		}
	}
	sort.SliceStable(x.Products, func(i, j int) bool { return x.Products[i].Level > x.Products[j].Level })
	wave := make([]complex128, len(p.Lines))
	for i, v := range m.Mounts {
		for l := range wave {
			wave[l] = s.Displacement(i, l)
		}
		offset := real(wave[0])
		top, bottom := p.Peaks(wave)
		x.Outward[v.Name], x.Inward[v.Name], x.Offset[v.Name] = (top+offset)*1000, -(bottom+offset)*1000, offset*1000
	}
	return x, nil
}

// coincide reports whether two lines have one frequency.
func coincide(lines []balance.Line) bool {
	f := make([]float64, len(lines))
	for i, l := range lines {
		f[i] = math.Abs(l.Frequency)
	}
	sort.Float64s(f)
	for i := range f[1:] {
		if f[i+1]-f[i] < 1e-9*f[len(f)-1] {
			return true
		}
	}
	return false
}

// pair finds the steady state of two tones.
func (a *assembled) pair(pair Pair) (*balance.State, *balance.Problem, error) {
	net := *a.net
	net.Sources = nil
	for _, source := range a.net.Sources {
		weight := source.Weight
		source.Weight = func(omega float64) complex128 {
			e := weight(omega)
			if omega == 2*math.Pi*pair.Second {
				e *= complex(pair.Ratio, 0)
			}
			return e
		}
		net.Sources = append(net.Sources, source)
	}
	p, err := net.Tones(pair.First, pair.Second, pair.Order)
	if err != nil {
		return nil, nil, err
	}
	for i := range net.Cones {
		if !pair.Cold {
			p.Heat(i, net.Cones[i].Large.Thermal.Rise(pair.Seconds), a.start[i])
		}
	}
	unit := cmplx.Abs(net.Sources[0].Weight(2 * math.Pi * pair.First))
	if !(unit > 0) {
		return nil, nil, fmt.Errorf("found no voltage at %g Hz at the first amplifier; wanted some", pair.First)
	}
	follow := p.Follow()
	s, err := follow.To(pair.Voltage / unit)
	if err != nil {
		below := 0.0
		if last := follow.Last(); last != nil {
			below = last.Drive * unit
		}
		return nil, nil, fmt.Errorf("found no steady state of %g and %g Hz at %g V, the highest was at %g V; wanted a lower drive", pair.First, pair.Second, pair.Voltage, below)
	}
	return s, p, nil
}

// listen prepares the reading of the sound pressure at the listener.
func listen(m *design.Model, p *balance.Problem, values []float64) *balance.Probe {
	l := m.Listener
	row := make([]complex128, len(l.Openings))
	return p.Probe(func(f float64) []balance.Term {
		if f == 0 {
			return nil
		}
		l.Row(&network.Point{Omega: 2 * math.Pi * f, Values: values}, row)
		terms := make([]balance.Term, len(row))
		for i, w := range row {
			terms[i] = balance.Term{Unknown: l.Openings[i].Flow, Weight: w}
		}
		return terms
	})
}
