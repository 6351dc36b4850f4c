// Package report puts a design on one page to print: what it is made of, its
// curves, what each peak and dip is, and what each tone does.
package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"ocarina/design"
	"ocarina/picture"
	"ocarina/plot"
	"ocarina/quantity"
	"ocarina/response"
)

// Page is everything a report says, in the words and digits it says it in.
type Page struct {
	Title, Author, Notes string
	Setting              string // drive, distance, space
	File                 string // name of the design's file, may be empty
	Parts                []Part
	Features             []Row
	Tones                []Row
	Warnings             []string
	Sheet                plot.Sheet
}

// Part is a part with what it joins and its dimensions.
type Part struct {
	Kind, Name, Joins string
	Values            []Value
}

// Value is one key of a part.
type Value struct{ Key, Text string }

// Row is a line of a table.
type Row []string

// Columns of the two tables.
var (
	FeatureColumns = Row{"Impedance", "Hz", "Ω", "Q", "Owner"}
	ToneColumns    = Row{"Tone, Hz", "dB", "Travel, mm", "Load, Ω", "First limit", "at, V", "dB there"}
)

// Of works a report out. The system of units holds for dimensions.
func Of(m *design.Model, system quantity.System) (*Page, error) {
	b := response.NewBench(m)
	d := m.Design
	frequency := response.LogSpaced(10, picture.Top(m), 500)
	e, err := b.Explain(response.DefaultFrom, response.DefaultTo)
	if err != nil {
		return nil, err
	}
	prediction, err := b.Predict(WithFeatures(frequency, e.Features))
	if err != nil {
		return nil, err
	}
	within, err := picture.Features(b, prediction)
	if err != nil {
		return nil, err
	}
	p := &Page{
		Title: d.Title, Author: d.Author, Notes: d.Notes, Setting: setting(d, system),
		Parts: parts(m, system), Warnings: warnings(e.Warnings, prediction.Warnings),
		Sheet: picture.Sheet(m, prediction, within),
	}
	if d.Source != nil {
		p.File = d.Source.Filename
	}
	if p.Title == "" {
		p.Title = p.File
	}
	p.Sheet.Title, p.Sheet.Subtitle, p.Sheet.Note = "", "", ""
	for _, f := range e.Features {
		p.Features = append(p.Features, Row{f.Kind, digits(f.Frequency, 4), digits(f.Impedance, 3), digits(f.Q, 3), f.Owner})
	}
	for _, t := range e.Tones {
		p.Tones = append(p.Tones, Row{
			digits(t.Frequency, 4), known(t.Level, 1), digits(t.Excursion, 2), digits(t.Impedance, 3),
			limit(t.LimitedBy), knownDigits(t.MaxVoltage), known(t.MaxLevel, 1),
		})
	}
	return p, nil
}

// WithFeatures adds points at and around each peak and dip to the frequencies of
// a sweep [Hz, ascending], so that a sharp one is not drawn shorter than it is.
func WithFeatures(frequency []float64, features []response.Feature) []float64 {
	low, high := frequency[0], frequency[len(frequency)-1]
	for _, f := range features {
		width := 0.02
		if f.Q > 25 {
			width = 0.5 / f.Q
		}
		for k := -4; k <= 4; k++ {
			if at := f.Frequency * (1 + width*float64(k)/4); at > low && at < high {
				frequency = append(frequency, at)
			}
		}
	}
	slices.Sort(frequency)
	return slices.Compact(frequency)
}

func setting(d *design.Design, system quantity.System) string {
	drive := "2.83 V"
	if len(d.Drives) > 0 {
		switch v := d.Drives[0]; {
		case v.Voltage.Given:
			drive = quantity.Show(v.Voltage.SI, quantity.Voltage, system, 4)
		case v.Power.Given:
			drive = quantity.Show(v.Power.SI, quantity.Power, system, 4)
		}
	}
	space := map[design.Space]string{
		design.FullSpace: "full space", design.HalfSpace: "half space",
		design.QuarterSpace: "quarter space", design.EighthSpace: "eighth space",
	}[d.Listen.Space]
	return fmt.Sprintf("%s, level at %s in %s", drive, quantity.Show(d.Listen.Distance.Or(1), quantity.Length, system, 3), space)
}

// parts lists what has dimensions, in the order of the design's kinds.
func parts(m *design.Model, system quantity.System) []Part {
	d := m.Design
	var list []Part
	at := map[string]int{}
	add := func(kind, name, joins string) {
		at[name] = len(list)
		list = append(list, Part{Kind: kind, Name: name, Joins: joins})
	}
	for _, v := range d.Chambers {
		add("chamber", v.Name, "")
	}
	for _, v := range d.Ports {
		add("port", v.Name, place(v.From)+" to "+place(v.To))
	}
	for _, v := range d.Lines {
		add("line", v.Name, place(v.From)+" to "+place(v.To))
	}
	for _, v := range d.Mounts {
		add("mount", v.Name, fmt.Sprintf("%s, front %s, rear %s", v.Driver, place(v.Front), place(v.Rear)))
	}
	for _, v := range d.Passives {
		add("passive", v.Name, fmt.Sprintf("front %s, rear %s", place(v.Front), place(v.Rear)))
	}
	for _, v := range d.Leaks {
		add("leak", v.Name, place(v.From)+" to "+place(v.To))
	}
	for _, v := range d.Drivers {
		add("driver", v.Name, "")
	}
	for _, v := range m.Dimensions {
		i, ok := at[v.Part]
		if !ok {
			continue
		}
		values := &list[i].Values
		text := show(d, v, system)
		if n := len(*values); n > 0 && v.Index > 0 && (*values)[n-1].Key == v.Key {
			(*values)[n-1].Text += " × " + text
			continue
		}
		*values = append(*values, Value{v.Key, text})
	}
	return list
}

func place(p design.Place) string {
	_, name, found := strings.Cut(p.String(), ".")
	if !found {
		return p.String()
	}
	return name
}

func show(d *design.Design, v design.Dimension, system quantity.System) string {
	info, err := d.Info(v.Part, v.Key)
	if err != nil || info.Kind != design.Measure {
		return digits(v.Quantity.SI, 4)
	}
	if system == quantity.Metric && v.Quantity.Unit != "" {
		return pretty(info.Dimension.Format(v.Quantity.SI, v.Quantity.Unit))
	}
	return pretty(quantity.Show(v.Quantity.SI, info.Dimension, system, 4))
}

// pretty spells units as people write them.
func pretty(text string) string {
	number, unit, found := strings.Cut(text, " ")
	if !found {
		return text
	}
	return number + " " + strings.NewReplacer("ohm", "Ω", "2", "²", "3", "³", "*", "·", "um", "µm", "uH", "µH", "uF", "µF").Replace(unit)
}

func limit(name string) string {
	what, part, found := strings.Cut(name, ":")
	if !found {
		return name
	}
	switch what {
	case "excursion":
		return "travel of " + part
	case "port":
		return "air speed in " + part
	case "power":
		return "power of " + part
	}
	return name
}

func warnings(lists ...[]string) (all []string) {
	seen := map[string]bool{}
	for _, list := range lists {
		for _, w := range list {
			if !seen[w] {
				seen[w] = true
				all = append(all, w)
			}
		}
	}
	return all
}

// digits writes a number with as many significant digits, and no exponent where
// people would not write one.
func digits(v float64, n int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	if v == 0 {
		return "0"
	}
	size := int(math.Floor(math.Log10(math.Abs(v))))
	if size < -4 || size > 5 {
		return fmt.Sprintf("%.*e", n-1, v)
	}
	return fmt.Sprintf("%.*f", max(0, n-1-size), v)
}

func known(v *float64, decimals int) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%.*f", decimals, *v)
}

func knownDigits(v *float64) string {
	if v == nil {
		return "–"
	}
	return digits(*v, 3)
}
