package design

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"

	"ocarina/quantity"

	"github.com/hashicorp/hcl/v2/hclwrite"
	"github.com/zclconf/go-cty/cty"
)

// A draft is a block as it is to be written, in either form.
type draft struct {
	kind     string
	label    string
	labelled bool
	keys     []draftKey
	blocks   []draft
}

type draftKey struct {
	name  string
	value literal
}

// literal is a value as it is to be written.
type literal struct {
	kind  valueKind // textValue, referenceValue, listValue, or numberValue for numbers and flags
	text  string    // unquoted
	items []literal
}

func text(s string) literal      { return literal{kind: textValue, text: s} }
func bare(s string) literal      { return literal{kind: numberValue, text: s} }
func pointing(s string) literal  { return literal{kind: referenceValue, text: s} }
func list(of ...literal) literal { return literal{kind: listValue, items: of} }

// in returns the literal as source text.
func (l literal) in(form Form) string {
	switch l.kind {
	case listValue:
		items := make([]string, len(l.items))
		for i, item := range l.items {
			items[i] = item.in(form)
		}
		return "[" + strings.Join(items, ", ") + "]"
	case textValue:
		if form == JSON {
			return jsonString(escapeTemplate(l.text))
		}
		return string(hclwrite.TokensForValue(cty.StringVal(l.text)).Bytes())
	case referenceValue:
		if form == JSON {
			return jsonString(l.text)
		}
	}
	return l.text
}

// escapeTemplate is the inverse of literalText.
func escapeTemplate(s string) string {
	return strings.NewReplacer("${", "$${", "%{", "%%{").Replace(s)
}

func jsonString(s string) string {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	if err := encoder.Encode(s); err != nil {
		panic(err) // a string always encodes
	}
	return strings.TrimSuffix(out.String(), "\n")
}

// literal returns a quantity as this key writes it.
func (s *spec) literal(q Quantity) literal {
	if s.Kind == Number || s.Dimension == quantity.Ratio && q.Unit == "" {
		return bare(strconv.FormatFloat(q.SI, 'g', -1, 64))
	}
	unit := q.Unit
	if unit == "" {
		unit = s.Unit
	}
	return text(s.Dimension.Format(q.SI, unit))
}

// written returns what a slot holds as this key writes it, and whether it is to
// be written at all: a standard value is not.
func (s *spec) written(slot any) (literal, bool) {
	switch slot := slot.(type) {
	case *Quantity:
		if !slot.Given {
			return literal{}, false
		}
		return s.literal(*slot), true
	case *[]Quantity:
		if len(*slot) == 0 {
			return literal{}, false
		}
		if s.Alone && len(*slot) == 1 {
			return s.literal((*slot)[0]), true
		}
		var items []literal
		for _, q := range *slot {
			items = append(items, s.literal(q))
		}
		return list(items...), true
	case *string:
		return text(*slot), *slot != ""
	case *bool:
		return bare("true"), *slot
	case choiceSlot:
		word, given := slot.get()
		return text(word), given
	case pairSlot:
		ends := slot.get()
		return list(text(s.Choices[ends[0]]), text(s.Choices[ends[1]])), ends != [2]int{}
	case *Place:
		return pointing(slot.String()), slot.Kind != Nowhere
	case nameSlot:
		return pointing(slot.root + "." + *slot.name), *slot.name != ""
	}
	panic("design: no such slot")
}

// same reports whether two literals are written alike.
func (l literal) same(other literal) bool {
	return l.kind == other.kind && l.in(Native) == other.in(Native)
}

// draftOf makes the draft of one block with all inside it.
func draftOf(kind *blockKind, owner any) draft {
	d := draft{kind: kind.name}
	if part, ok := owner.(interface{ identity() *Named }); ok && kind.label != labelNone {
		d.label = part.identity().Name
		d.labelled = kind.label == labelNeeded || d.label != ""
	}
	for i := range kind.keys {
		s := &kind.keys[i]
		if fromFile(owner) && s.Name != "file" {
			continue
		}
		if value, given := s.written(s.slot(owner)); given {
			d.keys = append(d.keys, draftKey{s.Name, value})
		}
	}
	if fromFile(owner) {
		return d
	}
	for _, name := range kind.order {
		inner := kind.inner[name]
		for _, one := range inner.list(owner) {
			d.blocks = append(d.blocks, draftOf(inner, one))
		}
	}
	return d
}

// fromFile reports whether an owner is a driver whose data are another file's.
func fromFile(owner any) bool {
	d, ok := owner.(*Driver)
	return ok && d.File != ""
}

// draft makes the draft of the whole design, in the order of the table with the
// drive and the listener before the tones.
func (d *Design) draft() draft {
	file := blockKinds[""]
	whole := draft{}
	for i := range file.keys {
		s := &file.keys[i]
		if value, given := s.written(s.slot(d)); given {
			whole.keys = append(whole.keys, draftKey{s.Name, value})
		}
	}
	for _, name := range file.order {
		kind := file.inner[name]
		if kind == toleranceKind {
			if t := d.toleranceDraft(); len(t.blocks) > 0 {
				whole.blocks = append(whole.blocks, t)
			}
			continue
		}
		for _, one := range kind.list(d) {
			made := draftOf(kind, one)
			if kind.many || len(made.keys) > 0 {
				whole.blocks = append(whole.blocks, made)
			}
		}
	}
	return whole
}

// toleranceDraft makes the draft of all tolerances in one block.
func (d *Design) toleranceDraft() draft {
	whole := draft{kind: toleranceKind.name}
	for _, t := range d.Tolerances {
		at := whole.child(t.Part, 0)
		key := t.Key
		for {
			kind, rest, nested := strings.Cut(key, ".")
			if !nested {
				break
			}
			n := 0
			if first, after, ok := strings.Cut(rest, "."); ok {
				n, _ = strconv.Atoi(first)
				n--
				rest = after
			}
			at, key = at.child(kind, n), rest
		}
		at.keys = append(at.keys, draftKey{key, d.toleranceLiteral(t)})
	}
	return whole
}

// child returns the nth block of a kind inside, made if need be.
func (d *draft) child(kind string, n int) *draft {
	for i := range d.blocks {
		if d.blocks[i].kind == kind {
			if n == 0 {
				return &d.blocks[i]
			}
			n--
		}
	}
	for range max(n, 0) + 1 {
		d.blocks = append(d.blocks, draft{kind: kind})
	}
	return &d.blocks[len(d.blocks)-1]
}

func (d *Design) toleranceLiteral(t Tolerance) literal {
	if t.Relative {
		return text(quantity.Ratio.Format(t.Amount.SI, "%"))
	}
	s, _, err := d.find(t.Part, t.Key)
	if err != nil {
		return text(strconv.FormatFloat(t.Amount.SI, 'g', -1, 64) + " " + t.Amount.Unit)
	}
	q := t.Amount
	if s.Dimension == quantity.Temperature {
		q.Unit = "K"
	}
	return s.literal(q)
}
