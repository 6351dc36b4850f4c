package design

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ocarina/quantity"

	"github.com/hashicorp/hcl/v2"
)

// find returns the key at an address in a part, and its slot.
//
// A part is meant by its name; air, listen and a drive without a name by their
// block's, the file itself by "". A key inside an inner block is "coil.k", or
// "section.2.area" where there may be several, counted from 1.
func (d *Design) find(part, key string) (*spec, any, error) {
	kind, owner := d.part(part)
	if owner == nil {
		return nil, nil, fmt.Errorf("found no part named %s", quote(part))
	}
	whole := key
	for {
		name, rest, nested := strings.Cut(key, ".")
		if !nested {
			break
		}
		inner := kind.inner[name]
		if inner == nil {
			return nil, nil, fmt.Errorf("found no block %s in %s; wanted %s", quote(name), quote(part), or(append(kind.order, "a key")))
		}
		owners, n := inner.list(owner), 1
		if inner.many {
			number, after, _ := strings.Cut(rest, ".")
			var err error
			if n, err = strconv.Atoi(number); err != nil {
				return nil, nil, fmt.Errorf("found %s; wanted a key such as %s", quote(whole), quote(name+".1."+inner.keys[0].Name))
			}
			rest = after
		}
		if n < 1 || n > len(owners) {
			return nil, nil, fmt.Errorf("found %s, but %s has %d %s blocks", quote(whole), quote(part), len(owners), name)
		}
		kind, owner, key = inner, owners[n-1], rest
	}
	s := kind.find(key)
	if s == nil {
		return nil, nil, fmt.Errorf("found no key %s in %s; wanted %s", quote(whole), quote(part), kind.known())
	}
	return s, s.slot(owner), nil
}

// part returns the part of that name and its kind.
func (d *Design) part(name string) (*blockKind, any) {
	if name == "" {
		return blockKinds[""], d
	}
	for _, k := range blockKinds[""].order {
		kind := blockKinds[k]
		for _, one := range kind.list(d) {
			if part, ok := one.(interface{ identity() *Named }); ok && part.identity().Name == name {
				return kind, one
			}
		}
	}
	return d.unnamed(name)
}

// Info returns what is known about a key of a part, addressed as for Set.
func (d *Design) Info(part, key string) (KeyInfo, error) {
	s, _, err := d.find(part, key)
	if err != nil {
		return KeyInfo{}, err
	}
	return s.KeyInfo, nil
}

// Value returns a number of the design, addressed as for Set. A key that is not
// given has no value and is no error.
func (d *Design) Value(part, key string, index int) (Quantity, error) {
	s, slot, err := d.find(part, key)
	if err != nil {
		return Quantity{}, err
	}
	switch slot := slot.(type) {
	case *Quantity:
		if index == 0 {
			return *slot, nil
		}
	case *[]Quantity:
		if 0 <= index && index < len(*slot) {
			return (*slot)[index], nil
		}
	default:
		return Quantity{}, fmt.Errorf("%s of %s is no number", s.Name, quote(part))
	}
	return Quantity{}, fmt.Errorf("%s of %s has no value %d", s.Name, quote(part), index)
}

// Set changes a number, or gives one that was not given. The index counts from 0
// in a list and is 0 for a single value; one beyond the end of the tones adds
// one. A value written so far keeps its unit, a new one gets the key's.
//
// Parts are named as in the file; air, listen and a drive without a name by their
// block, the file itself by "". A key inside an inner block is "coil.k", or
// "section.2.area" where there may be several, counted from 1. A driver that was
// read from another file has data of its own afterwards.
//
// The error says what is wrong with part, key, index or value; nothing is changed
// then. Whether values go together is not looked at: see Reread.
func (d *Design) Set(part, key string, index int, si float64) error {
	s, slot, err := d.find(part, key)
	if err != nil {
		return err
	}
	if problem := s.refuses(si); problem != "" && (s.Kind == Measure || s.Kind == Number) {
		return fmt.Errorf("found %s for %s of %s; wanted %s", strconv.FormatFloat(si, 'g', -1, 64), key, quote(part), problem)
	}
	switch slot := slot.(type) {
	case *Quantity:
		if index != 0 {
			return fmt.Errorf("%s of %s is one value and has no index %d", key, quote(part), index)
		}
		s.put(slot, si)
	case *[]Quantity:
		if index == len(*slot) && s.Count < 0 {
			*slot = append(*slot, Quantity{})
		}
		if index < 0 || index >= len(*slot) {
			return fmt.Errorf("%s of %s has %d values and none at index %d", key, quote(part), len(*slot), index)
		}
		s.put(&(*slot)[index], si)
	default:
		return fmt.Errorf("%s of %s is no number", key, quote(part))
	}
	d.own(part)
	return nil
}

// put gives a quantity a value, in its unit if it has one.
func (s *spec) put(q *Quantity, si float64) {
	if !q.Given && s.Kind == Measure && q.Unit == "" {
		q.Unit = s.Unit
	}
	q.SI, q.Given = si, true
}

// own makes a driver's data its own, when they are changed.
func (d *Design) own(part string) {
	if _, owner := d.part(part); fromFile(owner) {
		owner.(*Driver).File = ""
	}
}

// SetText changes any key from text as a person writes it: "30 mm", "4.2",
// "true", "slot", "chamber.near", for a list its values with commas between them.
// An empty text takes the key away, as does the standard value of a word or flag.
// It is otherwise like Set.
func (d *Design) SetText(part, key, text string) error {
	s, slot, err := d.find(part, key)
	if err != nil {
		return err
	}
	if strings.TrimSpace(text) == "" {
		clearSlot(s, slot)
		d.own(part)
		return nil
	}
	source := &Source{Filename: part, Form: JSON, Bytes: []byte(text)}
	r := &reader{source: source, design: d, names: map[string]*namedBlock{}}
	restore := keepSlot(slot)
	r.value(s, slot, &entry{name: s.Name, value: s.typed(text, source.span(0, len(text)))})
	if r.diags.HasErrors() {
		restore()
		return fmt.Errorf("%s", r.diags[0].Detail)
	}
	if s.Name != "file" {
		d.own(part)
	}
	return nil
}

// typed makes a value of what a person typed for a key.
func (s *spec) typed(typed string, at hcl.Range) value {
	if s.Count != 0 && !(s.Alone && !strings.Contains(typed, ",")) {
		one := *s
		one.Count = 0
		whole := value{kind: listValue, at: at}
		for item := range strings.SplitSeq(typed, ",") {
			whole.list = append(whole.list, one.typed(item, at))
		}
		return whole
	}
	if s.Kind != Text {
		typed = strings.TrimSpace(typed)
	}
	v := value{kind: textValue, text: typed, at: at}
	switch number, err := strconv.ParseFloat(typed, 64); {
	case s.Kind == Flag && (typed == "true" || typed == "false"):
		v.kind, v.flag = flagValue, typed == "true"
	case err == nil && (s.Kind == Number || s.Kind == Measure && s.Dimension == quantity.Ratio):
		v.kind, v.number = numberValue, number
	}
	return v
}

// keepSlot returns what puts a slot back to what it is now.
func keepSlot(slot any) (restore func()) {
	switch slot := slot.(type) {
	case *[]Quantity:
		before := *slot
		return func() { *slot = before }
	case pairSlot:
		before := slot.get()
		return func() { slot.set(before) }
	}
	return func() {} // others are written only when all is well
}

// clearSlot takes a value away.
func clearSlot(s *spec, slot any) {
	switch slot := slot.(type) {
	case *Quantity:
		*slot = Quantity{}
	case *[]Quantity:
		*slot = nil
	case *string:
		*slot = ""
	case *bool:
		*slot = false
	case choiceSlot:
		slot.reset()
	case pairSlot:
		slot.set([2]int{})
	case *Place:
		*slot = Place{}
	case nameSlot:
		*slot.name = ""
	}
}

// AddBlock adds an empty part of a kind, to be filled with Set and SetText. The
// name is "" only for a drive without one.
func (d *Design) AddBlock(kind, name string) error {
	k := blockKinds[""].inner[kind]
	if k == nil || !k.many {
		return fmt.Errorf("found no kind of part named %s", quote(kind))
	}
	if name != "" || k.label == labelNeeded {
		if err := d.free(name); err != nil {
			return err
		}
	} else if _, there := d.unnamed(kind); there != nil {
		return fmt.Errorf("found a %s without a name already", kind)
	}
	k.add(d).(interface{ identity() *Named }).identity().Name = name
	return nil
}

// AddInside adds an empty block inside a part: a section to a line, a filter to a
// drive, a coil to a driver. A coil is added once.
func (d *Design) AddInside(part, kind string) error {
	outer, owner := d.part(part)
	if owner == nil {
		return fmt.Errorf("found no part named %s", quote(part))
	}
	k := outer.inner[kind]
	switch {
	case k == nil || part == "":
		return fmt.Errorf("found no block %s in %s", quote(kind), quote(part))
	case !k.many && len(k.list(owner)) > 0:
		return fmt.Errorf("found a %s in %s already", kind, quote(part))
	}
	k.add(owner)
	d.own(part)
	return nil
}

// RemoveInside takes the nth block of a kind out of a part, counted from 1, and
// its tolerances.
func (d *Design) RemoveInside(part, kind string, n int) error {
	outer, owner := d.part(part)
	if owner == nil || part == "" || outer.inner[kind] == nil {
		return fmt.Errorf("found no block %s in %s", quote(kind), quote(part))
	}
	k := outer.inner[kind]
	if count := len(k.list(owner)); n < 1 || n > count {
		return fmt.Errorf("found %d %s blocks in %s, and no number %d", count, kind, quote(part), n)
	}
	k.drop(owner, n-1)
	d.own(part)
	d.Tolerances = slices.DeleteFunc(d.Tolerances, func(t Tolerance) bool {
		return t.Part == part && strings.HasPrefix(t.Key, k.address(n))
	})
	for i := range d.Tolerances {
		t := &d.Tolerances[i]
		if t.Part != part || !k.many || !strings.HasPrefix(t.Key, kind+".") {
			continue
		}
		number, key, _ := strings.Cut(strings.TrimPrefix(t.Key, kind+"."), ".")
		if at, err := strconv.Atoi(number); err == nil && at > n {
			t.Key = k.address(at-1) + key
		}
	}
	return nil
}

// address is what stands before the keys of the nth block of a kind.
func (k *blockKind) address(n int) string {
	if !k.many {
		return k.name + "."
	}
	return k.name + "." + strconv.Itoa(n) + "."
}

// RemoveBlock takes a part away, and its tolerances. What refers to it is left as
// it is and points nowhere then: Reread tells. Air and listen go back to their
// standard.
func (d *Design) RemoveBlock(name string) error {
	kind, owner := d.part(name)
	if owner == nil || name == "" {
		return fmt.Errorf("found no part named %s", quote(name))
	}
	if kind.drop == nil {
		for i := range kind.keys {
			clearSlot(&kind.keys[i], kind.keys[i].slot(owner))
		}
	} else {
		kind.drop(d, slices.Index(kind.list(d), owner))
	}
	d.Tolerances = slices.DeleteFunc(d.Tolerances, func(t Tolerance) bool { return t.Part == name })
	return nil
}

// Rename gives a part another name, everywhere.
func (d *Design) Rename(old, name string) error {
	kind, owner := d.part(old)
	part, ok := owner.(interface{ identity() *Named })
	if !ok || old == "" {
		return fmt.Errorf("found no part named %s", quote(old))
	}
	if old == name {
		return nil
	}
	if err := d.free(name); err != nil {
		return err
	}
	before := part.identity().Name
	part.identity().Name = name
	for _, k := range blockKinds[""].order {
		for _, one := range blockKinds[k].list(d) {
			for i := range blockKinds[k].keys {
				s := &blockKinds[k].keys[i]
				switch slot := s.slot(one).(type) {
				case *Place:
					if slot.Name == before && (slot.Kind == InChamber && kind == chamberKind || slot.Kind == AtJunction && kind == junctionKind) {
						slot.Name = name
					}
				case nameSlot:
					if *slot.name == before && before != "" && slot.root == kind.name {
						*slot.name = name
					}
				}
			}
		}
	}
	for i := range d.Tolerances {
		if d.Tolerances[i].Part == old {
			d.Tolerances[i].Part = name
		}
	}
	return nil
}

// free returns an error if a part may not have that name.
func (d *Design) free(name string) error {
	switch _, there := d.part(name); {
	case name == "outside" || name == "closed":
		return fmt.Errorf("found the name %s, which stands for a place of its own; wanted another", quote(name))
	case !namePattern.MatchString(name) || len(name) > longestName:
		return fmt.Errorf("found the name %s; wanted a letter followed by letters, digits, _ or -, at most %d", quote(name), longestName)
	case there != nil:
		if part, ok := there.(interface{ identity() *Named }); ok && part.identity().Name == name {
			return fmt.Errorf("found the name %s in use; wanted another, as names are shared by all parts", quote(name))
		}
	}
	return nil
}
