package web

import (
	"strconv"
	"strings"

	"ocarina/design"
	"ocarina/quantity"
)

// keyOf finds what is known of a key of a block: "length", "section.2.area",
// "coil.k".
func keyOf(kind, key string) (design.KeyInfo, bool) {
	if steps := strings.Split(key, "."); len(steps) > 1 {
		kind, key = steps[0], steps[len(steps)-1]
	}
	for _, info := range design.Keys(kind) {
		if info.Name == key {
			return info, true
		}
	}
	return design.KeyInfo{}, false
}

// short writes a number with as many digits as read back the same.
func short(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// edited does changes to a text, all or none. Where it cannot, it says why.
func (a *api) edited(t Text, edits []Edit) (text, refused string) {
	d, diags := a.parse(t)
	if diags.HasErrors() {
		return t.Text, "The text has errors; mend it there first."
	}
	for _, e := range edits {
		if err := apply(d, e); err != nil {
			return t.Text, err.Error()
		}
	}
	return string(d.Bytes()), ""
}

func apply(d *design.Design, e Edit) error {
	switch e.Op {
	case "set":
		return set(d, e)
	case "join":
		return d.SetText(e.Part, e.Key, e.Value)
	case "rename":
		return d.Rename(e.Part, e.Value)
	case "remove":
		return remove(d, e.Part)
	}
	return add(d, e)
}

// set changes one value. A number without a unit is taken in the file's.
func set(d *design.Design, e Edit) error {
	info, err := d.Info(e.Part, e.Key)
	if err != nil {
		return err
	}
	value := strings.TrimSpace(e.Value)
	if info.Kind != design.Measure || value == "" {
		return d.SetText(e.Part, e.Key, value)
	}
	if _, err := strconv.ParseFloat(value, 64); err == nil && info.Dimension != quantity.Ratio {
		unit := info.Unit
		if now, err := d.Value(e.Part, e.Key, e.Index); err == nil && now.Given {
			unit = now.Unit
		}
		value += " " + unit
	}
	if info.Count == 0 {
		return d.SetText(e.Part, e.Key, value)
	}
	si, _, err := quantity.Parse(value, info.Dimension)
	if err != nil {
		return err
	}
	return d.Set(e.Part, e.Key, e.Index, si)
}

// remove takes a part away. What was joined to it opens to the outside; what
// then would lead from outside to outside goes with it.
func remove(d *design.Design, name string) error {
	if err := d.RemoveBlock(name); err != nil {
		return err
	}
	for again := true; again; {
		again = false
		for _, j := range joints(d) {
			if j.a.Name != name && j.b.Name != name {
				continue
			}
			again = true
			other := j.b
			key := j.keyA
			if j.a.Name != name {
				other, key = j.a, j.keyB
			}
			var err error
			if other.Kind == design.Outside || other.Kind == design.Closed || other.Name == name {
				err = d.RemoveBlock(j.part)
			} else {
				err = d.SetText(j.part, key, "outside")
			}
			if err != nil {
				return err
			}
			break
		}
	}
	for i := len(d.Mounts) - 1; i >= 0; i-- {
		if d.Mounts[i].Driver == name {
			if err := d.RemoveBlock(d.Mounts[i].Name); err != nil {
				return err
			}
		}
	}
	return nil
}

// joint is a part with two ends.
type joint struct {
	part       string
	a, b       design.Place
	keyA, keyB string
}

func joints(d *design.Design) (list []joint) {
	for _, v := range d.Ports {
		list = append(list, joint{v.Name, v.From, v.To, "from", "to"})
	}
	for _, v := range d.Lines {
		list = append(list, joint{v.Name, v.From, v.To, "from", "to"})
	}
	for _, v := range d.Leaks {
		list = append(list, joint{v.Name, v.From, v.To, "from", "to"})
	}
	for _, v := range d.Mounts {
		list = append(list, joint{v.Name, v.Rear, v.Front, "rear", "front"})
	}
	for _, v := range d.Passives {
		list = append(list, joint{v.Name, v.Rear, v.Front, "rear", "front"})
	}
	return list
}

// What a new part begins as: middling sizes, to be changed at once.
var fresh = map[string][][2]string{
	"chamber": {{"volume", "10 L"}},
	"port":    {{"diameter", "70 mm"}, {"length", "120 mm"}},
	"leak":    {{"resistance", "100000 Pa*s/m3"}},
	"passive": {{"sd", "210 cm2"}, {"mms", "60 g"}, {"cms", "0.6 mm/N"}, {"rms", "1.5 N*s/m"}},
	"driver": {{"re", "5.6 ohm"}, {"le", "0.6 mH"}, {"sd", "210 cm2"}, {"fs", "38 Hz"}, {"qms", "5"}, {"qes", "0.45"},
		{"vas", "40 L"}, {"xmax", "6 mm"}, {"power", "80 W"}},
}

// add makes a new part between two places.
func add(d *design.Design, e Edit) error {
	if err := d.AddBlock(e.Key, e.Part); err != nil {
		return err
	}
	values := fresh[e.Key]
	switch e.Key {
	case "port", "leak", "line":
		values = append([][2]string{{"from", e.Value}, {"to", e.Other}}, values...)
	case "mount", "passive":
		values = append([][2]string{{"rear", e.Value}, {"front", e.Other}}, values...)
	}
	if e.Key == "mount" {
		if len(d.Drivers) == 0 {
			if err := add(d, Edit{Key: "driver", Part: e.Part + "-driver"}); err != nil {
				return err
			}
		}
		values = append([][2]string{{"driver", "driver." + d.Drivers[0].Name}}, values...)
	}
	for _, v := range values {
		if err := d.SetText(e.Part, v[0], v[1]); err != nil {
			return err
		}
	}
	if e.Key != "line" {
		return nil
	}
	if err := d.AddInside(e.Part, "section"); err != nil {
		return err
	}
	if err := d.SetText(e.Part, "section.1.length", "1 m"); err != nil {
		return err
	}
	return d.SetText(e.Part, "section.1.area", "100 cm2")
}
