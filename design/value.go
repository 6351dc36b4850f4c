package design

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"ocarina/quantity"

	"github.com/hashicorp/hcl/v2"
)

const longestText = 20000 // characters

// wanted says what a key takes.
func (s *spec) wanted() string {
	one := s.wantedOne()
	switch {
	case s.Alone:
		return one + ", or a list of " + strconv.Itoa(s.Count)
	case s.Count > 0:
		return "a list of " + strconv.Itoa(s.Count) + ", each " + one
	case s.Count < 0:
		return "a list, each " + one
	}
	return one
}

func (s *spec) wantedOne() string {
	switch s.Kind {
	case Measure:
		if s.Dimension == quantity.Ratio {
			return "a plain number or a share in %"
		}
		return article(s.Dimension.String()) + " in " + or(s.Dimension.Units())
	case Number:
		if s.Whole {
			return "a whole number, without quotes"
		}
		return "a plain number, without quotes"
	case Text:
		return "text in quotes"
	case Flag:
		return "true or false"
	case Choice:
		var quoted []string
		for _, c := range s.Choices {
			quoted = append(quoted, strconv.Quote(c))
		}
		return or(quoted)
	}
	return s.wantedPlace()
}

func (s *spec) wantedPlace() string {
	var forms []string
	for _, root := range s.Roots {
		if root != "outside" && root != "closed" {
			root += ".NAME"
		}
		forms = append(forms, root)
	}
	return or(forms)
}

// value reads one key's value into its slot.
func (r *reader) value(s *spec, slot any, e *entry) {
	v := e.value
	switch slot := slot.(type) {
	case *Quantity:
		r.quantity(s, slot, v)
	case *[]Quantity:
		r.quantities(s, slot, v)
	case *string:
		r.words(s, slot, v)
	case *bool:
		if v.kind != flagValue {
			r.unlike(s, v)
			return
		}
		*slot = v.flag
	case choiceSlot:
		if i := r.choice(s, v); i >= 0 {
			slot.set(s.Choices[i])
		}
	case pairSlot:
		if v.kind != listValue || len(v.list) != 2 {
			r.unlike(s, v)
			return
		}
		*slot.at = v.at
		chosen := slot.get()
		for i, item := range v.list {
			if c := r.choice(s, item); c >= 0 {
				chosen[i] = c
			}
		}
		slot.set(chosen)
	case *Place:
		r.place(s, slot, v)
	case nameSlot:
		r.reference(s, slot, v)
	}
}

// unlike notes a value of the wrong kind.
func (r *reader) unlike(s *spec, v value) {
	if r.broken && v.kind == otherValue {
		return // the parser has told already
	}
	r.add("Wrong value", v.at, "Found %s for %s; wanted %s.", r.source.describe(v), s.Name, s.wanted())
}

func (r *reader) choice(s *spec, v value) int {
	if v.kind != textValue {
		r.unlike(s, v)
		return -1
	}
	i := slices.Index(s.Choices, v.text)
	if i < 0 {
		r.add("Unknown word", v.at, "Found %s for %s; wanted %s.%s", quote(v.text), s.Name, s.wantedOne(), didYouMean(v.text, s.Choices))
	}
	return i
}

func (r *reader) words(s *spec, slot *string, v value) {
	if v.kind != textValue {
		r.unlike(s, v)
		return
	}
	if n := utf8.RuneCountInString(v.text); n > longestText {
		r.add("Out of range", v.at, "Found %d characters for %s; wanted at most %d.", n, s.Name, longestText)
		return
	}
	for _, c := range v.text {
		lineEnd := (c == '\n' || c == '\t') && s.Name == "notes"
		if unicode.IsControl(c) && !lineEnd {
			r.add("Wrong value", v.at, "Found a control character (%U) in %s; wanted plain text.", c, s.Name)
			return
		}
	}
	*slot = v.text
}

func (r *reader) quantities(s *spec, slot *[]Quantity, v value) {
	if v.kind != listValue {
		if !s.Alone {
			r.unlike(s, v)
			return
		}
		var q Quantity
		r.quantity(s, &q, v)
		*slot = []Quantity{q}
		return
	}
	if s.Count > 0 && len(v.list) != s.Count {
		r.unlike(s, v)
		return
	}
	if len(v.list) > MaxTones {
		r.add("Out of range", v.at, "Found %d values for %s; wanted at most %d.", len(v.list), s.Name, MaxTones)
		return
	}
	list := make([]Quantity, len(v.list))
	for i, item := range v.list {
		r.quantity(s, &list[i], item)
	}
	*slot = list
}

// quantity reads one number, with its unit if the key has a dimension.
func (r *reader) quantity(s *spec, slot *Quantity, v value) {
	q := Quantity{Given: true, Range: v.at}
	switch {
	case s.Kind == Number || s.Dimension == quantity.Ratio && v.kind == numberValue:
		if v.kind != numberValue {
			r.unlike(s, v)
			return
		}
		q.SI = v.number
	case v.kind == textValue || v.kind == numberValue:
		var err error
		if q.SI, q.Unit, err = quantity.Parse(v.text, s.Dimension); err != nil {
			r.unread(err, v.at)
			return
		}
	default:
		r.unlike(s, v)
		return
	}
	if r.outside(s, q.SI, v) {
		return
	}
	*slot = q
}

// unread notes what the quantity parser has against a value.
func (r *reader) unread(err error, at hcl.Range) {
	summary := "Wrong value"
	var e *quantity.Error
	if errors.As(err, &e) {
		switch e.Kind {
		case quantity.MissingUnit:
			summary = "Missing unit"
		case quantity.UnknownUnit:
			summary = "Unknown unit"
		case quantity.WrongDimension:
			summary = "Wrong dimension"
		case quantity.TooLarge, quantity.TooSmall:
			summary = "Out of range"
		}
	}
	detail := "Found that " + err.Error()
	if !strings.HasSuffix(detail, "?") {
		detail += "."
	}
	r.add(summary, at, "%s", detail)
}

// outside notes a number out of its key's range.
func (r *reader) outside(s *spec, si float64, v value) bool {
	problem := s.refuses(si)
	if problem == "" {
		return false
	}
	r.add("Out of range", v.at, "Found %s for %s; wanted %s.", r.source.describe(v), s.Name, problem)
	return true
}

// refuses returns what is wanted in place of a number that is not allowed, or "".
func (s *spec) refuses(si float64) string {
	switch {
	case math.IsNaN(si) || si < s.Min || si > s.Max:
	case s.Whole && si != math.Trunc(si):
	default:
		return ""
	}
	if s.Kind == Number {
		kind := ""
		if s.Whole {
			kind = "a whole number "
		}
		return kind + "from " + strconv.FormatFloat(s.Min, 'g', -1, 64) + " to " + strconv.FormatFloat(s.Max, 'g', -1, 64)
	}
	return "from " + quantity.Show(s.Min, s.Dimension, quantity.Metric, 4) +
		" to " + quantity.Show(s.Max, s.Dimension, quantity.Metric, 4)
}

// referenceText returns a reference as "root.name" or one bare word.
func (r *reader) referenceText(s *spec, v value) (root, name string, ok bool) {
	switch {
	case v.kind == referenceValue:
	case v.kind == textValue && r.source.Form == JSON:
	case v.kind == textValue:
		r.add("Wrong value", v.at, "Found %s in quotes for %s; wanted %s, without quotes.", quote(v.text), s.Name, s.wantedPlace())
		r.unsure = true
		return "", "", false
	default:
		r.unlike(s, v)
		r.unsure = true
		return "", "", false
	}
	root, name, dotted := strings.Cut(v.text, ".")
	if !namePattern.MatchString(root) || dotted && !namePattern.MatchString(name) {
		r.unlike(s, v)
		r.unsure = true
		return "", "", false
	}
	return root, name, true
}

func (r *reader) place(s *spec, slot *Place, v value) {
	root, name, ok := r.referenceText(s, v)
	if !ok {
		return
	}
	p := Place{Name: name, Range: v.at}
	switch {
	case !slices.Contains(s.Roots, root) || (name == "") != (root == "outside" || root == "closed"):
		r.notAPlace(s, v, root, name)
		return
	case root == "outside":
		p.Kind = Outside
	case root == "closed":
		p.Kind = Closed
	case root == "chamber":
		p.Kind = InChamber
	case root == "junction":
		p.Kind = AtJunction
	}
	*slot = p
	if name != "" {
		r.places = append(r.places, placeUse{slot, root})
	}
}

// notAPlace notes a reference to something of the wrong kind. What it may have
// meant is looked for among the names of the whole file, so it waits for them.
func (r *reader) notAPlace(s *spec, v value, root, name string) {
	r.unsure = true
	d := wrong("Wrong value", v.at, "Found %s for %s; wanted %s.", clip(v.text), s.Name, s.wantedPlace())
	r.diags = r.diags.Append(d)
	r.later = append(r.later, func() {
		for _, one := range []string{name, root} {
			if n := r.names[one]; n != nil && slices.Contains(s.Roots, n.kind.name) {
				d.Detail += " Did you mean " + n.kind.name + "." + one + "?"
				return
			}
		}
		if name == "" {
			d.Detail += didYouMean(root, s.Roots)
		} else if m := meant(root, s.Roots); m != "" {
			d.Detail += " Did you mean " + m + "." + name + "?"
		}
	})
}

func (r *reader) reference(s *spec, slot nameSlot, v value) {
	root, name, ok := r.referenceText(s, v)
	if !ok {
		return
	}
	if root != slot.root || name == "" {
		r.notAPlace(s, v, root, name)
		return
	}
	*slot.name, *slot.at = name, v.at
	r.references = append(r.references, nameUse{slot})
}
