package web

import (
	"math"
	"slices"

	"ocarina/design"
	"ocarina/quantity"
	"ocarina/response"
)

// Outline is a design as the page draws it.
type Outline struct {
	Title      string      `json:"title"`
	Notes      string      `json:"notes"`
	Setting    string      `json:"setting" doc:"drive, distance and space in a few words"`
	Tones      []float64   `json:"tones_hz" nullable:"false"`
	Parts      []Part      `json:"parts" nullable:"false"`
	Drivers    []string    `json:"drivers" nullable:"false"`
	Dimensions []Dimension `json:"dimensions" nullable:"false"`
	Warnings   []string    `json:"warnings" nullable:"false"`
}

// Part is one thing of the box and what it joins. Places are written as a
// design writes them: "chamber.near", "outside".
type Part struct {
	Kind     string    `json:"kind" enum:"chamber,junction,port,line,leak,mount,passive"`
	Name     string    `json:"name"`
	From     string    `json:"from,omitempty" doc:"of a mount or passive: its rear"`
	To       string    `json:"to,omitempty" doc:"of a mount or passive: its front"`
	Driver   string    `json:"driver,omitempty"`
	Count    float64   `json:"count,omitempty"`
	Volume   float64   `json:"volume_m3,omitempty" doc:"net"`
	Shown    string    `json:"shown,omitempty" doc:"the volume or size for people"`
	Area     float64   `json:"area_m2,omitempty" doc:"of one"`
	Length   float64   `json:"length_m,omitempty"`
	Pieces   []Piece   `json:"pieces,omitempty" doc:"of a line"`
	Limit    float64   `json:"limit,omitempty" doc:"air speed in m/s of a duct, travel in mm of a cone; 0: none"`
	Reversed bool      `json:"reversed,omitempty"`
	Fill     float64   `json:"fill,omitempty" doc:"0 to 1"`
	Slot     []float64 `json:"slot_m,omitempty" doc:"sides of a rectangular port"`
}

// Piece is one section of a line.
type Piece struct {
	Length float64 `json:"length_m"`
	Area   float64 `json:"area_m2"`
	ToArea float64 `json:"to_area_m2"`
	Bent   bool    `json:"bent" doc:"grows by equal factors"`
}

// Dimension is a number of the design that can be changed.
type Dimension struct {
	Part  string  `json:"part"`
	Kind  string  `json:"kind" doc:"of block the part is"`
	Key   string  `json:"key"`
	Index int     `json:"index"`
	Of    int     `json:"of" doc:"how many values the key has; 0: it is no list"`
	Doc   string  `json:"doc"`
	Value float64 `json:"value" doc:"in the unit"`
	Unit  string  `json:"unit" doc:"as shown; empty for a plain number"`
	Text  string  `json:"text" doc:"as the file has it"`
	Shown string  `json:"shown" doc:"for people, in their units"`
	Min   float64 `json:"min" doc:"in the unit"`
	Max   float64 `json:"max"`
	Step  float64 `json:"step" doc:"in the unit: the finest change worth making"`
	Whole bool    `json:"whole,omitempty"`
}

func outlineOf(r *reading, b *response.Bench, system quantity.System) *Outline {
	d, m := r.design, r.model
	o := &Outline{
		Title: d.Title, Notes: d.Notes, Setting: setting(d, system),
		Tones: []float64{}, Parts: parts(m, b, system), Drivers: []string{}, Dimensions: dimensions(d, m, system),
		Warnings: append([]string{}, m.Warnings...),
	}
	for _, t := range d.Tones {
		o.Tones = append(o.Tones, t.SI)
	}
	for _, v := range d.Drivers {
		o.Drivers = append(o.Drivers, v.Name)
	}
	return o
}

var spaceWords = map[design.Space]string{
	design.FullSpace: "full space", design.HalfSpace: "half space",
	design.QuarterSpace: "quarter space", design.EighthSpace: "eighth space",
}

func setting(d *design.Design, system quantity.System) string {
	text := ""
	for i, v := range d.Drives {
		switch {
		case i > 0:
			text += " and "
		}
		if v.Voltage.Given {
			text += quantity.Show(v.Voltage.SI, quantity.Voltage, system, 4)
		} else if v.Power.Given {
			text += quantity.Show(v.Power.SI, quantity.Power, system, 4)
		} else {
			text += "2.83 V"
		}
	}
	if text == "" {
		text = "2.83 V"
	}
	return text + " · " + quantity.Show(d.Listen.Distance.Or(1), quantity.Length, system, 3) + " · " + spaceWords[d.Listen.Space]
}

func parts(m *design.Model, b *response.Bench, system quantity.System) []Part {
	d := m.Design
	list := []Part{}
	for i, c := range m.Chambers {
		v := b.Values[c.Volume]
		list = append(list, Part{Kind: "chamber", Name: c.Name, Volume: v,
			Shown: quantity.Show(v, quantity.Volume, system, 3), Fill: d.Chambers[i].Fill.Or(0)})
	}
	for _, j := range d.Junctions {
		list = append(list, Part{Kind: "junction", Name: j.Name})
	}
	for _, v := range m.Mounts {
		area := b.Values[v.Area]
		list = append(list, Part{Kind: "mount", Name: v.Name, From: v.Rear.String(), To: v.Front.String(),
			Driver: v.Driver.Name, Count: v.Count, Area: area, Limit: 1e3 * v.Xmax,
			Shown: quantity.Show(area, quantity.Area, system, 3), Reversed: reversed(d, v.Name)})
	}
	for _, v := range m.Passives {
		area := b.Values[v.Area]
		list = append(list, Part{Kind: "passive", Name: v.Name, From: v.Rear.String(), To: v.Front.String(),
			Count: v.Count, Area: area, Limit: 1e3 * v.Xmax, Shown: quantity.Show(area, quantity.Area, system, 3)})
	}
	for i, v := range m.Ports {
		p := duct("port", v, b, system)
		for _, side := range d.Ports[i].Size {
			p.Slot = append(p.Slot, side.SI)
		}
		list = append(list, p)
	}
	for i, v := range m.Lines {
		p := duct("line", v, b, system)
		p.Fill = d.Lines[i].Fill.Or(0)
		for k, s := range d.Lines[i].Sections {
			element := v.Sections[sectionAt(v, k)]
			one := Piece{Length: b.Values[element.Length], Area: s.StartArea(), ToArea: s.StartArea(), Bent: s.Shape == design.Exponential}
			if s.ToArea.Given {
				one.ToArea = s.ToArea.SI
			}
			p.Pieces = append(p.Pieces, one)
		}
		list = append(list, p)
	}
	for _, v := range d.Leaks {
		list = append(list, Part{Kind: "leak", Name: v.Name, From: v.From.String(), To: v.To.String()})
	}
	return list
}

func sectionAt(v *design.DuctModel, k int) int {
	if v.Turned {
		k = len(v.Sections) - 1 - k
	}
	return min(max(k, 0), len(v.Sections)-1)
}

func reversed(d *design.Design, name string) bool {
	i := slices.IndexFunc(d.Mounts, func(m *design.Mount) bool { return m.Name == name })
	return i >= 0 && d.Mounts[i].Reversed
}

func duct(kind string, v *design.DuctModel, b *response.Bench, system quantity.System) Part {
	p := Part{Kind: kind, Name: v.Name, From: v.From.String(), To: v.To.String(), Count: v.Count,
		Area: b.Values[v.Area], Limit: v.SpeedLimit}
	for _, s := range v.Sections {
		p.Length += b.Values[s.Length]
	}
	p.Shown = quantity.Show(p.Area, quantity.Area, system, 3) + ", " + quantity.Show(p.Length, quantity.Length, system, 3)
	return p
}

func dimensions(d *design.Design, m *design.Model, system quantity.System) []Dimension {
	list := make([]Dimension, 0, len(m.Dimensions))
	kinds := kindsOf(d)
	for i := range m.Dimensions {
		v := &m.Dimensions[i]
		kind := kinds[v.Part]
		info, ok := keyOf(kind, v.Key)
		if !ok {
			continue
		}
		list = append(list, dimension(d, v, kind, info, system))
	}
	return list
}

func dimension(d *design.Design, v *design.Dimension, kind string, info design.KeyInfo, system quantity.System) Dimension {
	one := Dimension{Part: v.Part, Kind: kind, Key: v.Key, Index: v.Index, Doc: info.Doc, Whole: info.Whole}
	if info.Count != 0 {
		one.Of = max(info.Count, 1)
	}
	if info.Kind == design.Number {
		one.Value, one.Min, one.Max = v.Quantity.SI, info.Min, info.Max
		one.Shown, one.Text = short(v.Quantity.SI), short(v.Quantity.SI)
	} else {
		q := info.Dimension
		one.Text = q.Format(v.Quantity.SI, v.Quantity.Unit)
		one.Shown = quantity.Show(v.Quantity.SI, q, system, 4)
		one.Unit = shownUnit(v.Quantity, q, system)
		one.Value = inUnit(v.Quantity.SI, q, one.Unit)
		one.Min, one.Max = inUnit(info.Min, q, one.Unit), inUnit(info.Max, q, one.Unit)
		one.Shown = q.Format(v.Quantity.SI, one.Unit)
		if one.Unit != v.Quantity.Unit {
			one.Shown = quantity.Show(v.Quantity.SI, q, system, 4)
		}
	}
	one.Step = step(one.Value)
	if info.Whole {
		one.Step = 1
	}
	for _, t := range d.Tolerances {
		if t.Part == v.Part && t.Key == v.Key && t.Amount.SI > 0 && info.Kind == design.Measure {
			amount := t.Amount.SI
			if t.Relative {
				amount *= v.Quantity.SI
			}
			one.Step = round(inUnit(v.Quantity.SI+amount, info.Dimension, one.Unit) - one.Value)
		}
	}
	return one
}

// shownUnit is the unit a value is changed in: the file's own in metric, the
// one it is shown in otherwise.
func shownUnit(v design.Quantity, q quantity.Dimension, system quantity.System) string {
	if system == quantity.Metric {
		return v.Unit
	}
	if _, unit, err := quantity.Parse(quantity.Show(v.SI, q, system, 4), q); err == nil {
		return unit
	}
	return v.Unit
}

// inUnit is a value as a number of the unit.
func inUnit(si float64, q quantity.Dimension, unit string) float64 {
	if unit == "F" && q == quantity.Temperature {
		return si*9/5 - 459.67
	}
	scale, offset, _, ok := quantity.Factor(unit)
	if !ok {
		return si
	}
	return (si - offset) / scale
}

// step is about a hundredth of a value, as a round number.
func step(value float64) float64 {
	size := math.Abs(value) / 100
	if size == 0 || math.IsInf(size, 0) || math.IsNaN(size) {
		return 0.1
	}
	return round(size)
}

// round gives the nearest of 1, 2 and 5 times a power of ten.
func round(size float64) float64 {
	if !(size > 0) || math.IsInf(size, 0) {
		return 0.1
	}
	power := math.Pow(10, math.Floor(math.Log10(size)))
	for _, n := range []float64{1, 2, 5} {
		if size/power < n*1.5 {
			return n * power
		}
	}
	return 10 * power
}

func kindsOf(d *design.Design) map[string]string {
	kinds := map[string]string{"air": "air", "listen": "listen", "drive": "drive"}
	for _, v := range d.Drivers {
		kinds[v.Name] = "driver"
	}
	for _, v := range d.Chambers {
		kinds[v.Name] = "chamber"
	}
	for _, v := range d.Ports {
		kinds[v.Name] = "port"
	}
	for _, v := range d.Lines {
		kinds[v.Name] = "line"
	}
	for _, v := range d.Mounts {
		kinds[v.Name] = "mount"
	}
	for _, v := range d.Passives {
		kinds[v.Name] = "passive"
	}
	for _, v := range d.Leaks {
		kinds[v.Name] = "leak"
	}
	for _, v := range d.Drives {
		if v.Name != "" {
			kinds[v.Name] = "drive"
		}
	}
	return kinds
}
