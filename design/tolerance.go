package design

import (
	"strconv"
	"strings"

	"ocarina/quantity"
)

// readTolerances reads the tolerance blocks, once all parts are known.
func (r *reader) readTolerances() {
	for _, b := range r.tolerances {
		for _, e := range b.body.keys {
			r.add("Wrong value", e.named, "Found the key %s; wanted a block with a part's name, as in %s { length = \"1 mm\" }.", quote(e.name), clip(e.name))
		}
		for _, part := range b.blocks {
			if part.labelled {
				r.add("Name not wanted", part.named, "Found the name %s; wanted a part's name alone.", quote(part.label))
				continue
			}
			kind, owner := r.part(part.kind)
			if owner == nil {
				if !r.unsure {
					r.add("Name points nowhere", part.header, "Found %s; wanted the name of a part.%s", quote(part.kind), didYouMean(part.kind, r.allNames()))
				}
				continue
			}
			r.tolerancesOf(kind, owner, part.kind, "", part)
		}
	}
}

// part returns the part of that name, or the block that has none and is meant by
// its kind.
func (r *reader) part(name string) (*blockKind, any) {
	if found := r.names[name]; found != nil {
		return found.kind, found.owner
	}
	return r.design.unnamed(name)
}

// unnamed returns a block that is meant by its kind: air, listen, a drive without
// a name.
func (d *Design) unnamed(name string) (*blockKind, any) {
	switch name {
	case airKind.name:
		return airKind, &d.Air
	case listenKind.name:
		return listenKind, &d.Listen
	case driveKind.name:
		for _, one := range d.Drives {
			if one.Name == "" {
				return driveKind, one
			}
		}
	}
	return nil, nil
}

func (r *reader) allNames() []string {
	var names []string
	for _, kind := range blockKinds[""].order {
		for _, one := range blockKinds[kind].list(r.design) {
			if part, ok := one.(interface{ identity() *Named }); ok && part.identity().Name != "" {
				names = append(names, part.identity().Name)
			}
		}
	}
	return names
}

// tolerancesOf reads the amounts for one part, or for one block inside it whose
// keys go by the prefix.
func (r *reader) tolerancesOf(kind *blockKind, owner any, part, prefix string, b *block) {
	for _, e := range b.body.keys {
		s := kind.find(e.name)
		if s == nil {
			r.unknownKey(kind, b, e)
			continue
		}
		r.tolerance(s, s.slot(owner), part, prefix+s.Name, e)
	}
	count := map[string]int{}
	for _, inner := range b.blocks {
		k := kind.inner[inner.kind]
		if k == nil {
			r.unknownBlock(kind, b, inner)
			continue
		}
		i := count[inner.kind]
		count[inner.kind]++
		owners := k.list(owner)
		if i >= len(owners) {
			r.add("Name points nowhere", inner.header, "Found %s block %d; wanted at most %d, as many as %s has.", inner.kind, i+1, len(owners), quote(part))
			continue
		}
		address := inner.kind + "."
		if k.many {
			address += strconv.Itoa(i+1) + "."
		}
		r.tolerancesOf(k, owners[i], part, prefix+address, inner)
	}
}

func (r *reader) tolerance(s *spec, slot any, part, key string, e *entry) {
	given := false
	switch slot := slot.(type) {
	case *Quantity:
		given = slot.Given
	case *[]Quantity:
		given = len(*slot) > 0
	}
	if s.Kind != Measure && s.Kind != Number || s.Whole {
		r.add("Wrong value", e.named, "Found %s, which is not measured; wanted a key with a number that may be off.", s.Name)
		return
	}
	if !given {
		r.add("Name points nowhere", e.named, "Found a tolerance for %s of %s, which has none; wanted a key that is given.", key, quote(part))
		return
	}
	for _, t := range r.design.Tolerances {
		if t.Part == part && t.Key == key {
			r.add("Key given twice", e.named, "Found a second tolerance for %s of %s; wanted one.", key, quote(part))
			return
		}
	}
	t := Tolerance{Part: part, Key: key}
	amount, ok := r.amount(s, e.value, &t.Relative)
	if ok {
		t.Amount = amount
		r.design.Tolerances = append(r.design.Tolerances, t)
	}
}

// amount reads "2 %" as relative and anything else as in the key's own dimension.
// Where that is a ratio, only a plain number is absolute.
func (r *reader) amount(s *spec, v value, relative *bool) (Quantity, bool) {
	q := Quantity{Given: true, Range: v.at}
	var err error
	switch {
	case v.kind == textValue && strings.HasSuffix(v.text, "%"):
		*relative = true
		q.SI, q.Unit, err = quantity.Parse(v.text, quantity.Ratio)
	case v.kind == numberValue && (s.Kind == Number || s.Dimension == quantity.Ratio):
		q.SI = v.number
	case s.Kind == Measure && (v.kind == textValue || v.kind == numberValue):
		q.SI, q.Unit, err = quantity.Parse(v.text, s.Dimension)
		if err == nil && s.Dimension == quantity.Temperature && q.Unit != "K" {
			r.add("Wrong unit", v.at, "Found %s; wanted a difference in K.", quote(v.text))
			return q, false
		}
	default:
		r.add("Wrong value", v.at, "Found %s for the tolerance of %s; wanted %s, or a share such as \"2 %%\".", r.source.describe(v), s.Name, s.wantedOne())
		return q, false
	}
	if err != nil {
		r.unread(err, v.at)
		return q, false
	}
	if limit := map[bool]float64{true: 1, false: s.Max - s.Min}[*relative]; !(q.SI > 0 && q.SI <= limit) {
		r.add("Out of range", v.at, "Found %s for the tolerance of %s; wanted more than nothing and at most all of it.", r.source.describe(v), s.Name)
		return q, false
	}
	return q, true
}
