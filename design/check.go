package design

import (
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
)

// resolve looks up every name that was used.
func (r *reader) resolve() {
	for _, then := range r.later {
		then()
	}
	for _, use := range r.places {
		r.lookUp(use.kind, use.place.Name, use.place.Range)
	}
	for _, use := range r.references {
		r.lookUp(use.slot.root, *use.slot.name, *use.slot.at)
	}
}

// lookUp notes a name that points nowhere.
func (r *reader) lookUp(kind, name string, at hcl.Range) {
	found := r.names[name]
	if found != nil && found.kind.name == kind {
		r.used[name] = true
		return
	}
	if found != nil {
		r.unsure = true
		r.add("Name points nowhere", at, "Found %s.%s, but %s is a %s; wanted a %s.", kind, name, quote(name), found.kind.name, kind)
		return
	}
	var names []string
	for n, b := range r.names {
		if b.kind.name == kind {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	if len(names) == 0 {
		if r.unsure {
			return
		}
		r.add("Name points nowhere", at, "Found %s.%s; wanted the name of a %s, and the design has none.", kind, name, kind)
		return
	}
	hint := ""
	if m := meant(name, names); m != "" {
		r.used[m] = true
		hint = " Did you mean " + kind + "." + m + "?"
	} else {
		r.unsure = true
	}
	if len(names) > 8 {
		names = append(names[:8], "…")
	}
	r.add("Name points nowhere", at, "Found %s.%s; wanted the name of a %s: %s.%s", kind, name, kind, or(names), hint)
}

// check looks for what is missing, contradictory or impossible.
func (r *reader) check() {
	d := r.design
	for _, one := range d.Drivers {
		r.checkDriver(one)
	}
	for _, one := range d.Chambers {
		r.checkChamber(one)
	}
	for _, one := range d.Ports {
		b := r.blocks[one]
		r.oneOf(b, "diameter", "size", "area")
		r.apart(b, "from", one.From, "to", one.To)
		if slices.Contains(one.Ends[:], Slot) && b.key("size") == nil {
			r.add("Contradiction", one.EndsRange, "Found a slot end on a round port; wanted size, whose first side lies on the wall.")
		}
	}
	for _, one := range d.Ports {
		shaped := one.Edges != [2]Edge{}
		if b := r.blocks[one]; shaped && !b.has("edge_radius") {
			r.missing(b, "edge_radius", portKind.find("edge_radius").wanted()+", as an edge is not sharp")
		} else if !shaped && !b.slips["edges"] && b.key("edges") == nil {
			r.forbid(b, "without edges, which says which rim it belongs to", "edge_radius")
		}
	}
	for _, one := range d.Lines {
		r.checkLine(one)
	}
	for _, one := range d.Mounts {
		r.apart(r.blocks[one], "front", one.Front, "rear", one.Rear)
		r.checkMountDrive(one)
	}
	for _, one := range d.Passives {
		r.apart(r.blocks[one], "front", one.Front, "rear", one.Rear)
	}
	for _, one := range d.Leaks {
		r.apart(r.blocks[one], "from", one.From, "to", one.To)
	}
	for _, one := range d.Drives {
		r.checkDrive(one)
	}
	r.checkWhole()
}

// oneOf checks that exactly one of several keys is given.
func (r *reader) oneOf(b *block, keys ...string) {
	var given []string
	for _, k := range keys {
		if b.key(k) != nil {
			given = append(given, k)
		}
	}
	slipped := slices.ContainsFunc(keys, func(k string) bool { return b.slips[k] })
	switch {
	case len(given) == 0 && slipped:
	case len(given) == 0:
		r.missing(b, or(keys), "one of them")
	case len(given) > 1:
		r.add("Contradiction", b.key(given[1]).named, "Found %s in %s; wanted one of them.", and(given), b.title())
	}
}

// together checks that of two keys both or none are given.
func (r *reader) together(b *block, one, other string) {
	for _, k := range [][2]string{{one, other}, {other, one}} {
		if b.key(k[0]) != nil && !b.has(k[1]) {
			r.add("Missing key", b.key(k[0]).named, "Found %s without %s in %s; wanted both or none.", k[0], k[1], b.title())
		}
	}
}

// forbid notes keys that make no sense for a reason.
func (r *reader) forbid(b *block, reason string, keys ...string) {
	for _, k := range keys {
		if e := b.key(k); e != nil {
			r.add("Contradiction", e.named, "Found %s in %s; wanted none %s.", k, b.title(), reason)
		}
	}
}

// apart checks that a part lies between two different places.
func (r *reader) apart(b *block, one string, a Place, other string, c Place) {
	if a.Kind == Nowhere || a.Kind != c.Kind || a.Name != c.Name {
		return
	}
	r.add("Contradiction", c.Range, "Found %s and %s of %s both at %s; wanted two different places.", one, other, b.title(), a)
}

func (r *reader) checkDriver(d *Driver) {
	b := r.blocks[d]
	if d.File != "" && b.key("file") != nil {
		return
	}
	for _, key := range []string{"re", "sd"} {
		if !b.has(key) && !b.has("file") {
			r.missing(b, key, driverKind.find(key).wanted())
		}
	}
	if d.Large != nil {
		r.checkLarge(d)
	}
	if d.Coil == nil {
		return
	}
	r.forbid(b, "beside a coil block, which says it all", "le")
	coil := r.blocks[d.Coil]
	power := coil.key("k") != nil || coil.key("n") != nil
	parts := coil.key("le") != nil || coil.key("l2") != nil || coil.key("r2") != nil
	switch {
	case power && parts:
		r.add("Contradiction", coil.header, "Found both k, n and le, l2, r2 in a coil; wanted k and n, or le, l2 and r2.")
	case power:
		r.together(coil, "k", "n")
	case parts:
		for _, key := range []string{"le", "l2", "r2"} {
			if !coil.has(key) {
				r.missing(coil, key, blockKinds["coil"].find(key).wanted())
			}
		}
	case coil.slips == nil:
		r.missing(coil, "k and n, or le, l2 and r2", "one of these sets")
	}
}

// checkLarge checks that tables fit their displacements and are given once.
func (r *reader) checkLarge(d *Driver) {
	b, l := r.blocks[d.Large], d.Large
	ascending := func(key string, list []Quantity) {
		for i := 1; i < len(list); i++ {
			if list[i].Given && list[i-1].Given && list[i].SI <= list[i-1].SI {
				r.add("Wrong order", list[i].Range, "Found a value in %s that is not above the one before it; wanted them ascending.", key)
				return
			}
		}
		if e := b.key(key); e != nil && (len(list) < 2 || list[0].SI > 0 || list[len(list)-1].SI < 0) {
			r.add("Out of range", e.value.at, "Found %s without values at both sides of rest; wanted at least two, from zero or below to zero or above.", key)
		}
	}
	fits := func(key string, list []Quantity, at string, places []Quantity, shape string) {
		e := b.key(key)
		if e == nil {
			return
		}
		if !b.has(at) {
			r.missing(b, at, blockKinds["large"].find(at).wanted())
		} else if b.key(at) != nil && len(list) != len(places) {
			r.add("Wrong value", e.value.at, "Found %d values in %s and %d in %s; wanted as many.", len(list), key, len(places), at)
		}
		if shape != "" && b.key(shape) != nil {
			r.add("Contradiction", b.key(shape).named, "Found %s and %s in %s; wanted one of them.", key, shape, b.title())
		}
	}
	ascending("x", l.X)
	ascending("i", l.I)
	fits("bl", l.Bl, "x", l.X, "bl_shape")
	fits("cms", l.Cms, "x", l.X, "kms_shape")
	fits("le", l.Le, "x", l.X, "le_shape")
	fits("le_at_i", l.LeAtI, "i", l.I, "")
	r.together(b, "coil_thermal", "coil_time")
	r.together(b, "magnet_thermal", "magnet_time")
	for _, key := range []string{"bl_shape", "kms_shape", "le_shape"} {
		if b.key(key) != nil && !r.blocks[d].has("xmax") {
			r.missing(r.blocks[d], "xmax", driverKind.find("xmax").wanted()+", as "+key+" counts in it")
		}
	}
}

func (r *reader) checkChamber(c *Chamber) {
	b := r.blocks[c]
	r.oneOf(b, "volume", "size")
	r.together(b, "leak_q", "leak_at")
	if !r.unsure && !r.used[c.Name] {
		r.add("Joined to nothing", b.header, "Found %s, which no mount, port, line, passive or leak opens to; wanted at least one.", b.title())
	}
}

func (r *reader) checkLine(l *Line) {
	b := r.blocks[l]
	r.apart(b, "from", l.From, "to", l.To)
	if len(l.Sections) == 0 && !r.unsure {
		r.missing(b, "a section", "at least one section block")
	}
	for _, s := range l.Sections {
		sb := r.blocks[s]
		r.oneOf(sb, "area", "diameter", "size")
		stated := sb.key("shape") != nil
		switch {
		case !stated:
			s.Shape = standardShape(s)
		case s.Shape == Straight && s.ToArea.Given && !sameArea(s):
			r.add("Contradiction", sb.where("shape"), "Found a straight section with another to_area; wanted \"conical\" or \"exponential\", or no to_area.")
		case s.Shape != Straight && !sb.has("to_area"):
			r.missing(sb, "to_area", "the area at its other end, as its shape is not straight")
		}
	}
}

// sameArea reports whether a section's to_area is what it begins with.
func sameArea(s *Section) bool {
	a := s.StartArea()
	return a > 0 && s.ToArea.SI > a*(1-1e-9) && s.ToArea.SI < a*(1+1e-9)
}

func (r *reader) checkMountDrive(m *Mount) {
	if m.Drive != "" || len(r.design.Drives) < 2 || r.blocks[m].has("drive") {
		return
	}
	var names []string
	for _, d := range r.design.Drives {
		if d.Name == "" {
			return
		}
		names = append(names, "drive."+d.Name)
	}
	r.missing(r.blocks[m], "drive", "one of "+or(names))
}

func (r *reader) checkDrive(d *Drive) {
	b := r.blocks[d]
	if b.key("voltage") != nil && b.key("power") != nil {
		r.add("Contradiction", b.key("power").named, "Found voltage and power in %s; wanted one of them.", b.title())
	}
	for _, f := range d.Filters {
		r.checkFilter(f)
	}
}

func (r *reader) checkFilter(f *Filter) {
	b := r.blocks[f]
	kind := b.key("kind")
	if kind == nil || kind.value.kind != textValue {
		return
	}
	need := func(keys ...string) {
		for _, k := range keys {
			if !b.has(k) {
				r.missing(b, k, blockKinds["filter"].find(k).wanted())
			}
		}
	}
	reason := "in a " + kind.value.text + " filter"
	parts := []string{"resistance", "inductance", "capacitance"}
	switch kind.value.text {
	case "high-pass", "low-pass":
		need("frequency")
		r.forbid(b, reason, append(parts, "gain")...)
		if f.Order.Given && f.Order.SI != 2 {
			r.forbid(b, "as only order 2 has a q of its own", "q")
		}
	case "low-shelf", "high-shelf", "bell":
		need("frequency", "gain")
		r.forbid(b, reason, append(parts, "order")...)
	case "series", "shunt":
		r.forbid(b, reason, "frequency", "q", "order", "gain")
		if !slices.ContainsFunc(parts, b.has) {
			r.missing(b, or(parts), "at least one of them")
		}
	}
}

// checkWhole looks at the design as one.
func (r *reader) checkWhole() {
	if r.unsure {
		return
	}
	d := r.design
	for _, j := range d.Junctions {
		if !r.used[j.Name] {
			r.add("Joined to nothing", j.Range, "Found junction %s, which nothing meets at; wanted at least one part.", quote(j.Name))
		}
	}
	var none []string
	if len(d.Drivers) == 0 {
		none = append(none, "driver")
	}
	if len(d.Mounts) == 0 {
		none = append(none, "mount")
	}
	if none != nil {
		r.add("No "+strings.Join(none, ", no "), r.source.start(), "Found a design without a %s; wanted at least one, so that something moves.", or(none))
	}
}
