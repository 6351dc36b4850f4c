package response

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"
	"strings"

	"ocarina/design"
	"ocarina/quantity"
)

// Nearest is the feature closest to a tone.
type Nearest struct {
	Kind      string  `json:"kind"`
	Frequency float64 `json:"frequency_hz"`
	Octaves   float64 `json:"octaves"` // of the tone above it, negative below
	Name      string  `json:"name"`    // "lower dip"
	Owner     string  `json:"owner"`
}

// Change is what a dimension does to a tone's level.
type Change struct {
	Part  string  `json:"part"`
	Key   string  `json:"key"`
	Index *int    `json:"index,omitempty"` // within a list such as size
	Slope float64 `json:"db_per_unit"`
	Unit  string  `json:"unit"`
}

// Tone is what one trial tone does at the design's drive, and how far the drive
// can be turned up.
type Tone struct {
	Frequency  float64            `json:"frequency_hz"`
	Level      *float64           `json:"level_db"` // null with nothing outside
	Excursion  float64            `json:"excursion_mm"`
	Excursions map[string]float64 `json:"excursions_mm"` // of each mount and passive
	Speeds     map[string]float64 `json:"air_speeds_m_s"`
	Impedance  float64            `json:"impedance_ohm"`
	Phase      float64            `json:"impedance_phase_deg"`
	Current    float64            `json:"current_a"`
	Voltage    float64            `json:"voltage_v"`
	Nearest    *Nearest           `json:"nearest"` // null without any feature
	Output     map[string]float64 `json:"output_share"`
	MaxVoltage *float64           `json:"max_voltage_v"` // null without any limit
	MaxLevel   *float64           `json:"max_level_db"`
	LimitedBy  string             `json:"limited_by"`
	Changes    []Change           `json:"changes"`
	Reading    string             `json:"reading"`
}

// Explanation is the whole box explained.
type Explanation struct {
	Features []Feature `json:"features"`
	Tones    []Tone    `json:"tones"`
	Warnings []string  `json:"warnings"`
}

// Explain finds the features of a model in a band [Hz] and reads its trial
// tones.
func Explain(m *design.Model, from, to float64) (*Explanation, error) {
	return NewBench(m).Explain(from, to)
}

// Explain finds the features of the bench in a band [Hz] and reads the design's
// trial tones.
func (b *Bench) Explain(from, to float64) (*Explanation, error) {
	e := &Explanation{Features: []Feature{}, Tones: []Tone{}}
	var err error
	if e.Features, err = b.Features(from, to); err != nil {
		return nil, err
	}
	if e.Features == nil {
		e.Features = []Feature{}
	}
	var band []float64
	for _, q := range b.Model.Design.Tones {
		t, err := b.Tone(q.SI, e.Features)
		if err != nil {
			return nil, err
		}
		e.Tones = append(e.Tones, *t)
		band = append(band, q.SI)
	}
	if len(band) == 0 {
		band = []float64{from, to}
	}
	e.Warnings = b.Warnings(band)
	return e, nil
}

// Limit is one thing that bounds the drive: how many times the present drive it
// allows.
type Limit struct {
	Name   string
	Factor float64
}

// DriveLimits lists, the tightest first, what bounds the drive at the last
// solve: cones and passives reaching xmax, drivers their power, air its speed,
// amplifiers their voltage and current.
func (b *Bench) DriveLimits() (list []Limit) {
	m := b.Model
	add := func(name string, limit, now float64) {
		if limit > 0 && now > 0 {
			list = append(list, Limit{name, limit / now})
		}
	}
	for _, v := range m.Mounts {
		add("excursion:"+v.Name, v.Xmax, cmplx.Abs(b.Excursion(v.Diaphragm)))
		i := cmplx.Abs(b.x[v.Coil.Current])
		if v.Power > 0 && i > 0 {
			list = append(list, Limit{"power:" + v.Name, math.Sqrt(v.Power / (i * i * b.Values[v.Coil.Resistance]))})
		}
	}
	for _, v := range m.Passives {
		add("excursion:"+v.Name, v.Xmax, cmplx.Abs(b.Excursion(v.Diaphragm)))
	}
	for _, v := range m.Ports {
		add("port:"+v.Name, v.SpeedLimit, cmplx.Abs(b.AirSpeed(v)))
	}
	for _, v := range m.Lines {
		add("port:"+v.Name, v.SpeedLimit, cmplx.Abs(b.AirSpeed(v)))
	}
	for i, d := range m.Drives {
		add("amplifier", d.MaxVoltage, cmplx.Abs(b.weight[i]))
		add("amplifier", d.MaxCurrent, cmplx.Abs(b.Current(i)))
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].Factor < list[j].Factor })
	return list
}

// OutputShares returns what part of the sound pressure each opening
// contributes: Re(p_k·p*)/|p|². They sum to one and may be negative.
func (b *Bench) OutputShares() map[string]float64 {
	shares := map[string]float64{}
	l := b.Model.Listener
	if l == nil {
		return shares
	}
	p := b.Pressure()
	e := real(p)*real(p) + imag(p)*imag(p)
	l.Row(b.work.Point(), b.row)
	for i := range l.Openings {
		one := b.row[i] * b.x[l.Openings[i].Flow]
		k := 0.0
		if e > 0 {
			k = real(one*cmplx.Conj(p)) / e
		}
		shares[b.Model.Openings[i].Part] += k
	}
	return shares
}

// Tone reads a trial tone [Hz], given the features of the impedance.
func (b *Bench) Tone(frequency float64, features []Feature) (*Tone, error) {
	if err := b.Solve(frequency); err != nil {
		return nil, err
	}
	m := b.Model
	z := b.Impedance(0)
	t := &Tone{Frequency: frequency, Impedance: cmplx.Abs(z), Phase: Degrees(z), Current: cmplx.Abs(b.Current(0)),
		Voltage: cmplx.Abs(b.weight[0]), Excursions: map[string]float64{}, Speeds: map[string]float64{}, Output: b.OutputShares()}
	for _, v := range m.Mounts {
		x := cmplx.Abs(b.Excursion(v.Diaphragm)) * 1000
		t.Excursions[v.Name] = x
		t.Excursion = math.Max(t.Excursion, x)
	}
	for _, v := range m.Passives {
		t.Excursions[v.Name] = cmplx.Abs(b.Excursion(v.Diaphragm)) * 1000
	}
	for _, list := range [][]*design.DuctModel{m.Ports, m.Lines} {
		for _, v := range list {
			t.Speeds[v.Name] = cmplx.Abs(b.AirSpeed(v))
		}
	}
	if m.Listener != nil {
		level := Level(b.Pressure())
		t.Level = &level
	}
	t.LimitedBy = "none"
	if limits := b.DriveLimits(); len(limits) > 0 {
		t.LimitedBy = limits[0].Name
		v := t.Voltage * limits[0].Factor
		t.MaxVoltage = &v
		if t.Level != nil {
			level := *t.Level + 20*math.Log10(limits[0].Factor)
			t.MaxLevel = &level
		}
	}
	t.Nearest = nearest(frequency, features)
	moving, _, _ := b.Shares()
	part := b.coneShare(moving)
	var err error
	if t.Changes, err = b.Changes(frequency); err != nil {
		return nil, err
	}
	t.Reading = b.toneReading(t, part)
	return t, nil
}

func nearest(frequency float64, features []Feature) *Nearest {
	best := -1
	for i := range features {
		if best < 0 || math.Abs(math.Log2(frequency/features[i].Frequency)) < math.Abs(math.Log2(frequency/features[best].Frequency)) {
			best = i
		}
	}
	if best < 0 {
		return nil
	}
	f := &features[best]
	return &Nearest{Kind: f.Kind, Frequency: f.Frequency, Octaves: math.Log2(frequency / f.Frequency), Name: Rank(features, best), Owner: f.Owner}
}

// listed is how many changes are told for a tone.
const listed = 6

// cut says in which unit a builder would change a dimension, and how many SI
// units that is; ok is false for what cannot be cut.
func cut(d *design.Dimension) (unit string, si float64, ok bool) {
	if d.Quantity.Unit == "" || d.Key == "position" {
		return "", 0, false
	}
	_, _, kind, known := quantity.Factor(d.Quantity.Unit)
	if !known {
		return "", 0, false
	}
	switch kind {
	case quantity.Length:
		return "mm", 1e-3, true
	case quantity.Volume:
		return "L", 1e-3, true
	case quantity.Area:
		return "cm2", 1e-4, true
	}
	return "", 0, false
}

// Changes returns the dimensions of chambers, ports and lines whose change moves
// a tone's level most, in proportion to their size: dB per mm, per litre, per
// cm².
func (b *Bench) Changes(frequency float64) ([]Change, error) {
	list := []Change{}
	if b.Model.Listener == nil {
		return list, nil
	}
	if err := b.Solve(frequency); err != nil {
		return nil, err
	}
	p := b.Pressure()
	if p == 0 {
		return list, nil
	}
	g := b.PressureGradient()
	type ranked struct {
		Change
		weight float64
	}
	var all []ranked
	for i := range b.Model.Dimensions {
		d := &b.Model.Dimensions[i]
		if !b.built(d.Part) {
			continue
		}
		unit, si, ok := cut(d)
		if !ok {
			continue
		}
		slope := decibelsPer * real(g.Values[d.Ref]/p)
		c := Change{Part: d.Part, Key: d.Key, Slope: slope * si, Unit: unit}
		if b.Model.Find(d.Part, d.Key, 1) >= 0 {
			index := d.Index
			c.Index = &index
		}
		all = append(all, ranked{c, math.Abs(slope * b.Values[d.Ref])})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].weight > all[j].weight })
	for i := 0; i < len(all) && i < listed; i++ {
		list = append(list, all[i].Change)
	}
	return list, nil
}

// built reports whether a part is of the box rather than bought or set.
func (b *Bench) built(part string) bool {
	k := b.kindOf(part)
	if k != design.ChamberPart && k != design.DuctPart {
		return false
	}
	return true
}

func (b *Bench) toneReading(t *Tone, part float64) string {
	s := fmt.Sprintf("%s Hz: ", hertz(t.Frequency))
	if t.Level != nil {
		s += fmt.Sprintf("%.1f dB at %s V", *t.Level, figures(t.Voltage))
	} else {
		s += "nothing reaches the outside"
	}
	if n := t.Nearest; n != nil {
		switch {
		case math.Abs(n.Octaves) < 0.005:
			s += fmt.Sprintf(", on the %s", n.Name)
		case n.Octaves > 0:
			s += fmt.Sprintf(", %.2f octave above the %s (%s Hz)", n.Octaves, n.Name, hertz(n.Frequency))
		default:
			s += fmt.Sprintf(", %.2f octave below the %s (%s Hz)", -n.Octaves, n.Name, hertz(n.Frequency))
		}
	}
	s += ". "
	if part < still {
		s += fmt.Sprintf("The air load holds %s almost still (%s mm)", b.cones(), figures(t.Excursion))
	} else {
		s += fmt.Sprintf("%s %s %s mm", capital(b.cones()), verb(len(b.Model.Mounts), "travels", "travel up to"), figures(t.Excursion))
	}
	s += b.outputWords(t.Output) + "."
	if t.MaxVoltage != nil {
		s += fmt.Sprintf(" %s, at %s V", capital(b.limitWords(t.LimitedBy)), figures(*t.MaxVoltage))
		if t.MaxLevel != nil {
			s += fmt.Sprintf(": %.1f dB", *t.MaxLevel)
		}
		s += "."
	}
	return s
}

// outputWords says where the sound comes from.
func (b *Bench) outputWords(shares map[string]float64) string {
	if len(shares) < 2 {
		return ""
	}
	list := leading(shares)
	text := "; the sound comes from " + join(names(list))
	for i := range list {
		if i == 0 {
			text += fmt.Sprintf(" (%.0f %%", 100*list[i].part)
			continue
		}
		text += fmt.Sprintf(", %.0f %%", 100*list[i].part)
	}
	text += ")"
	var against []string
	for k, v := range shares {
		if v < -0.05 {
			against = append(against, k)
		}
	}
	sort.Strings(against)
	if len(against) > 0 {
		text += ", " + join(against) + " " + verb(len(against), "works", "work") + " against it"
	}
	return text
}

func (b *Bench) limitWords(limit string) string {
	kind, name, _ := strings.Cut(limit, ":")
	switch kind {
	case "excursion":
		return b.body(name) + " reaches its travel first"
	case "power":
		return b.body(name) + " reaches its power first"
	case "port":
		return "the air in " + name + " reaches its speed limit first"
	}
	return "the amplifier reaches its limit first"
}

// figures writes a number with three digits.
func figures(v float64) string {
	switch a := math.Abs(v); {
	case a == 0:
		return "0"
	case a < 0.01:
		return fmt.Sprintf("%.1g", v)
	case a < 10:
		return fmt.Sprintf("%.2f", v)
	case a < 100:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.0f", v)
}

// State is the box at any frequency in a sentence.
type State struct {
	Frequency float64             `json:"frequency_hz"`
	Level     *float64            `json:"level_db"`
	Impedance float64             `json:"impedance_ohm"`
	Kinetic   map[string]float64  `json:"kinetic_share"`
	Potential map[string]float64  `json:"potential_share"`
	Pressures map[string]Relative `json:"pressures"`
	LimitedBy string              `json:"limited_by"`
	Reading   string              `json:"reading"`
}

// State says what the box does at a frequency [Hz], in full where that is a
// feature's.
func (b *Bench) State(frequency float64, features []Feature) (*State, error) {
	if err := b.Solve(frequency); err != nil {
		return nil, err
	}
	s := &State{Frequency: frequency, Impedance: cmplx.Abs(b.Impedance(0)), LimitedBy: "none", Pressures: b.pressures()}
	s.Kinetic, s.Potential, _ = b.Shares()
	if b.Model.Listener != nil {
		level := Level(b.Pressure())
		s.Level = &level
	}
	if l := b.DriveLimits(); len(l) > 0 {
		s.LimitedBy = l[0].Name
	}
	for i := range features {
		if math.Abs(features[i].Frequency/frequency-1) < 1e-3 {
			s.Reading = features[i].Reading
			return s, nil
		}
	}
	part := b.coneShare(s.Kinetic)
	movers, springs := leading(s.Kinetic), leading(s.Potential)
	s.Reading = hertz(frequency) + " Hz: "
	if part < still {
		s.Reading += capital(b.cones()) + " " + verb(len(b.Model.Mounts), "is", "are") + " almost still. "
	}
	if len(movers) > 0 && len(springs) > 0 {
		s.Reading += b.swing(movers, "moves", "move") + " most, against " + b.springs(springs, s.Pressures) + "."
	}
	return s, nil
}
