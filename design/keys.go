package design

import (
	"slices"

	"ocarina/quantity"

	"github.com/hashicorp/hcl/v2"
)

// KeyKind says how a key's value is written.
type KeyKind int

const (
	Measure   KeyKind = iota // number and unit in quotes: "30 mm"; a Ratio also as a plain number
	Number                   // a plain number
	Text                     // free text in quotes
	Flag                     // true or false
	Choice                   // one word of a list, in quotes
	Reference                // a place, driver or drive by name: chamber.near, outside
)

// KeyInfo describes one key of a design file.
type KeyInfo struct {
	Name      string
	Doc       string
	Kind      KeyKind
	Dimension quantity.Dimension // of a Measure
	Unit      string             // of a Measure: the unit a new value is written in
	Min, Max  float64            // of a Measure [SI] or Number, both allowed
	Whole     bool               // of a Number: no fractions
	Choices   []string           // of a Choice
	Roots     []string           // of a Reference: what may stand before the dot, and bare words
	Count     int                // 0: one value; n: a list of n; -1: a list of any length
	Alone     bool               // one value may stand in place of the list
	Required  bool
	Scale     float64 // power of N by which a 1:N model's value differs; see Design.Scaled
	Unscaled  bool    // a model's value does not follow from the full size: measure it
}

// BlockInfo describes one kind of block of a design file.
type BlockInfo struct {
	Name     string
	Doc      string
	Labelled bool     // has a name, or may have one
	Optional bool     // the name may be left out
	Many     bool     // may stand more than once
	Inner    []string // kinds of block inside
}

// Keys returns the keys of a kind of block in the order they are written, of the
// file itself for "", and nil for an unknown kind. Kinds inside others have names
// of their own: "coil", "section", "filter".
func Keys(block string) []KeyInfo {
	kind := blockKinds[block]
	if kind == nil {
		return nil
	}
	list := make([]KeyInfo, len(kind.keys))
	for i, s := range kind.keys {
		list[i] = s.KeyInfo
	}
	return list
}

// Block describes a kind of block; "" is the file itself.
func Block(name string) (info BlockInfo, ok bool) {
	kind := blockKinds[name]
	if kind == nil {
		return BlockInfo{}, false
	}
	return BlockInfo{
		Name:     kind.name,
		Doc:      kind.doc,
		Labelled: kind.label != labelNone,
		Optional: kind.label == labelOptional,
		Many:     kind.many,
		Inner:    slices.Clone(kind.order),
	}, true
}

// spec is a key and where its value is kept.
type spec struct {
	KeyInfo
	slot func(owner any) any // one of the slot types below, for an owner of the kind
}

// What a slot may be, besides *Quantity, *[]Quantity, *string, *bool and *Place.
type (
	// choiceSlot is a value with a word for it.
	choiceSlot struct {
		get   func() (word string, given bool) // not given: it is the default
		set   func(word string)
		reset func() // to the default
	}
	// nameSlot is the name of a driver or drive.
	nameSlot struct {
		root string
		name *string
		at   *hcl.Range
	}
	// pairSlot is a word for each of a port's ends, as indices of the choices; the
	// first is standard.
	pairSlot struct {
		get func() [2]int
		set func([2]int)
		at  *hcl.Range
	}
)

// blockKind is a kind of block: its keys and how the design keeps it.
type blockKind struct {
	name  string
	doc   string
	label labelRule
	many  bool
	keys  []spec
	order []string // kinds of block inside
	inner map[string]*blockKind

	list func(parent any) []any       // what the parent has of this kind
	add  func(parent any) (owner any) // a new one, already in the parent
	drop func(parent any, i int)      // removes the ith
	free bool                         // blocks inside are named by the user (tolerance)
}

// headed is what every block of a design has.
type headed interface{ header() *hcl.Range }

func (n *Named) header() *hcl.Range   { return &n.Range }
func (n *Named) identity() *Named     { return n }
func (a *Air) header() *hcl.Range     { return &a.Range }
func (l *Listen) header() *hcl.Range  { return &l.Range }
func (c *Coil) header() *hcl.Range    { return &c.Range }
func (l *Large) header() *hcl.Range   { return &l.Range }
func (s *Section) header() *hcl.Range { return &s.Range }
func (f *Filter) header() *hcl.Range  { return &f.Range }

func (k *blockKind) find(key string) *spec {
	for i := range k.keys {
		if k.keys[i].Name == key {
			return &k.keys[i]
		}
	}
	return nil
}

// within returns the kind of block that a JSON property is, or nil for a key.
func (k *blockKind) within(p property) (*blockKind, labelRule) {
	if k.free {
		if _, ok := properties(p.value); ok {
			return k, labelNone
		}
		if k.find(p.name) == nil {
			if list, diags := hcl.ExprList(p.value); !diags.HasErrors() && len(list) > 0 {
				if _, ok := properties(list[0]); ok {
					return k, labelNone
				}
			}
		}
		return nil, labelNone
	}
	inner := k.inner[p.name]
	if inner == nil {
		return nil, labelNone
	}
	return inner, inner.label
}

// with adds kinds of block inside this one.
func (k *blockKind) with(inner ...*blockKind) *blockKind {
	k.inner = map[string]*blockKind{}
	for _, b := range inner {
		k.inner[b.name] = b
		k.order = append(k.order, b.name)
	}
	return k
}

// several is a kind of block of which a parent keeps a list.
func several[P, T any](name string, label labelRule, doc string, at func(*P) *[]*T, keys ...spec) *blockKind {
	return &blockKind{
		name: name, doc: doc, label: label, many: true, keys: keys,
		list: func(parent any) []any {
			var list []any
			for _, one := range *at(parent.(*P)) {
				list = append(list, one)
			}
			return list
		},
		add: func(parent any) any {
			one, all := new(T), at(parent.(*P))
			*all = append(*all, one)
			return one
		},
		drop: func(parent any, i int) {
			all := at(parent.(*P))
			*all = slices.Delete(*all, i, i+1)
		},
	}
}

// single is a kind of block that a parent has once, always there.
func single[P, T any](name, doc string, at func(*P) *T, keys ...spec) *blockKind {
	return &blockKind{
		name: name, doc: doc, keys: keys,
		list: func(parent any) []any { return []any{at(parent.(*P))} },
		add:  func(parent any) any { return at(parent.(*P)) },
	}
}

// optional is a kind of block that a parent has once or not.
func optional[P, T any](name, doc string, at func(*P) **T, keys ...spec) *blockKind {
	return &blockKind{
		name: name, doc: doc, keys: keys,
		list: func(parent any) []any {
			if one := *at(parent.(*P)); one != nil {
				return []any{one}
			}
			return nil
		},
		add: func(parent any) any {
			*at(parent.(*P)) = new(T)
			return *at(parent.(*P))
		},
		drop: func(parent any, _ int) { *at(parent.(*P)) = nil },
	}
}

func slot[T any](at func(*T) any) func(any) any {
	return func(owner any) any { return at(owner.(*T)) }
}

// measure is a key with a dimension; range and unit are the dimension's.
func measure[T any](name string, d quantity.Dimension, at func(*T) *Quantity, doc string) spec {
	u := usual[d]
	return spec{
		KeyInfo{Name: name, Doc: doc, Kind: Measure, Dimension: d, Unit: u.unit, Min: u.min, Max: u.max, Scale: u.scale},
		slot(func(o *T) any { return at(o) }),
	}
}

// measures is a list of n values with a dimension.
func measures[T any](name string, n int, d quantity.Dimension, at func(*T) *[]Quantity, doc string) spec {
	s := measure[T](name, d, nil, doc)
	s.Count = n
	s.slot = slot(func(o *T) any { return at(o) })
	return s
}

func number[T any](name string, min, max float64, at func(*T) *Quantity, doc string) spec {
	return spec{
		KeyInfo{Name: name, Doc: doc, Kind: Number, Min: min, Max: max},
		slot(func(o *T) any { return at(o) }),
	}
}

// numbers is a list of plain numbers of any length.
func numbers[T any](name string, min, max float64, at func(*T) *[]Quantity, doc string) spec {
	s := number[T](name, min, max, nil, doc)
	s.Count = -1
	s.slot = slot(func(o *T) any { return at(o) })
	return s
}

func words[T any](name string, at func(*T) *string, doc string) spec {
	return spec{KeyInfo{Name: name, Doc: doc, Kind: Text}, slot(func(o *T) any { return at(o) })}
}

func toggle[T any](name string, at func(*T) *bool, doc string) spec {
	return spec{KeyInfo{Name: name, Doc: doc, Kind: Flag}, slot(func(o *T) any { return at(o) })}
}

func place[T any](name string, at func(*T) *Place, doc string, roots ...string) spec {
	return spec{KeyInfo{Name: name, Doc: doc, Kind: Reference, Roots: roots}, slot(func(o *T) any { return at(o) })}
}

func reference[T any](name, root string, at func(*T) (*string, *hcl.Range), doc string) spec {
	return spec{
		KeyInfo{Name: name, Doc: doc, Kind: Reference, Roots: []string{root}},
		slot(func(o *T) any {
			name, rng := at(o)
			return nameSlot{root, name, rng}
		}),
	}
}

// word is one choice of a value.
type word[E comparable] struct {
	text  string
	value E
}

// choice is a key with a word for its value; standard is the value when the key
// is left out.
func choice[T any, E comparable](name string, standard func(*T) E, at func(*T) *E, doc string, choices ...word[E]) spec {
	info := KeyInfo{Name: name, Doc: doc, Kind: Choice}
	for _, c := range choices {
		info.Choices = append(info.Choices, c.text)
	}
	return spec{info, slot(func(o *T) any {
		return choiceSlot{
			get: func() (string, bool) {
				i := slices.IndexFunc(choices, func(c word[E]) bool { return c.value == *at(o) })
				if i < 0 || *at(o) == standard(o) {
					return "", false
				}
				return choices[i].text, true
			},
			set: func(text string) {
				i := slices.IndexFunc(choices, func(c word[E]) bool { return c.text == text })
				*at(o) = choices[i].value
			},
			reset: func() { *at(o) = standard(o) },
		}
	})}
}

// pair is a word for each of two ends; the values count as the choices do.
func pair[T any, E ~int](name string, at func(*T) (*[2]E, *hcl.Range), doc string, choices ...string) spec {
	return spec{
		KeyInfo{Name: name, Doc: doc, Kind: Choice, Count: 2, Choices: choices},
		slot(func(o *T) any {
			ends, rng := at(o)
			return pairSlot{
				get: func() [2]int { return [2]int{int(ends[0]), int(ends[1])} },
				set: func(c [2]int) { *ends = [2]E{E(c[0]), E(c[1])} },
				at:  rng,
			}
		}),
	}
}

// always is the standard of a choice with a fixed one.
func always[T, E any](value E) func(*T) E { return func(*T) E { return value } }

func (s spec) required() spec { s.Required = true; return s }
func (s spec) whole() spec    { s.Whole = true; return s }
func (s spec) alone() spec    { s.Alone = true; return s }

func (s spec) in(unit string) spec { s.Unit = unit; return s }

func (s spec) within(min, max float64) spec { s.Min, s.Max = min, max; return s }

// scales says by which power of N the value differs in a 1:N model.
func (s spec) scales(power float64) spec { s.Scale = power; return s }

// unscaled marks a value that does not follow from the full size.
func (s spec) unscaled() spec { s.Scale, s.Unscaled = 0, true; return s }

// usual is what holds for most keys of a dimension: range in SI units, unit, and
// power of N in a 1:N model. The ranges are wide: they catch slips of the unit,
// not bold designs.
var usual = map[quantity.Dimension]struct {
	unit     string
	min, max float64
	scale    float64
}{
	quantity.Length:               {"mm", 1e-6, 100, -1},
	quantity.Area:                 {"cm2", 1e-10, 1000, -2},
	quantity.Volume:               {"L", 1e-12, 1e4, -3},
	quantity.Mass:                 {"g", 1e-9, 1e3, -3},
	quantity.Time:                 {"ms", 0, 10, -1},
	quantity.Frequency:            {"Hz", 0.01, 1e6, 1},
	quantity.Voltage:              {"V", 1e-6, 1e4, -1},
	quantity.Current:              {"A", 1e-6, 1e4, -1},
	quantity.Resistance:           {"ohm", 1e-6, 1e6, 0},
	quantity.Inductance:           {"mH", 1e-9, 100, -1},
	quantity.Capacitance:          {"uF", 1e-12, 10, -1},
	quantity.Power:                {"W", 1e-9, 1e6, -2},
	quantity.ForceFactor:          {"T*m", 1e-4, 1e3, -1},
	quantity.Compliance:           {"mm/N", 1e-8, 10, 1},
	quantity.MechanicalResistance: {"N*s/m", 1e-9, 1e5, -2},
	quantity.AcousticResistance:   {"Pa*s/m3", 1e-6, 1e15, 2},
	quantity.FlowResistivity:      {"Pa*s/m2", 1e-3, 1e9, 1},
	quantity.Pressure:             {"kPa", 10e3, 200e3, 0},
	quantity.Temperature:          {"C", 223.15, 353.15, 0},
	quantity.Density:              {"kg/m3", 0.01, 100, 0},
	quantity.Speed:                {"m/s", 10, 5000, 0},
	quantity.Viscosity:            {"Pa*s", 1e-7, 1e-3, 0},
	quantity.Ratio:                {"%", 0, 1, 0},
}
