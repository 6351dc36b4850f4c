package design

import (
	"bytes"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/json"
)

// jsonTree parses the JSON form. Which properties are blocks is known from the
// keys' table alone.
func (s *Source) jsonTree() (*body, hcl.Diagnostics) {
	root, diags := s.jsonRoot()
	tree := &body{span: root.Range()}
	if diags.HasErrors() {
		return tree, diags
	}
	w := jsonWalk{source: s}
	for _, object := range w.objects(root, "the whole file") {
		w.fill(tree, blockKinds[""], object)
	}
	return tree, append(diags, w.diags...)
}

// jsonRoot parses the JSON form. The mark that some editors put before UTF-8 text
// is left out.
func (s *Source) jsonRoot() (hcl.Expression, hcl.Diagnostics) {
	const mark = "\ufeff"
	start := hcl.InitialPos
	text, marked := bytes.CutPrefix(s.Bytes, []byte(mark))
	if marked {
		start.Byte = len(mark)
	}
	return json.ParseExpressionWithStartPos(text, s.Filename, start)
}

type jsonWalk struct {
	source *Source
	diags  hcl.Diagnostics
}

// property is one member of a JSON object.
type property struct {
	name  string
	named hcl.Range
	value hcl.Expression
}

// properties returns the members of an object, comments left out, and whether it
// is an object.
func properties(e hcl.Expression) ([]property, bool) {
	pairs, diags := hcl.ExprMap(e)
	if diags.HasErrors() {
		return nil, false
	}
	list := []property{}
	for _, pair := range pairs {
		name, _ := pair.Key.Value(nil)
		if text := name.AsString(); text != "//" {
			list = append(list, property{text, pair.Key.Range(), pair.Value})
		}
	}
	return list, true
}

// objects returns e if it is an object, or its items if it is a list of objects:
// both are ways to write blocks.
func (w *jsonWalk) objects(e hcl.Expression, what string) []hcl.Expression {
	list, diags := hcl.ExprList(e)
	if diags.HasErrors() {
		list = []hcl.Expression{e}
	}
	var found []hcl.Expression
	for _, item := range list {
		if _, ok := properties(item); !ok {
			w.diags = w.diags.Append(wrong("Wrong value", item.Range(),
				"Found %s; wanted an object in braces for %s.", w.source.describe(w.value(item)), what))
			continue
		}
		found = append(found, item)
	}
	return found
}

// fill adds an object's members to a body of the given kind.
func (w *jsonWalk) fill(b *body, kind *blockKind, object hcl.Expression) {
	members, _ := properties(object)
	for _, p := range members {
		inner, rule := kind.within(p)
		if inner == nil {
			if known := b.key(p.name); known != nil {
				w.diags = w.diags.Append(wrong("Key given twice", p.named,
					"Found a second %s; the first is at line %d. Wanted one.", quote(p.name), known.named.Start.Line))
				continue
			}
			b.keys = append(b.keys, &entry{name: p.name, named: p.named, value: w.value(p.value)})
			continue
		}
		what := "a block of kind " + p.name
		if rule == labelNeeded {
			what = "the names of " + p.name + " blocks"
		}
		for _, object := range w.objects(p.value, what) {
			if rule == labelNone || rule == labelOptional && !labelsOnly(object, inner) {
				w.block(b, inner, p, p.name, p.named, object)
				continue
			}
			labels, _ := properties(object)
			for _, one := range labels {
				for _, object := range w.objects(one.value, "a block of kind "+p.name) {
					w.block(b, inner, one, p.name, p.named, object)
				}
			}
		}
	}
}

// block adds the block that one object is; the member with its name is its label,
// unless it is the kind itself.
func (w *jsonWalk) block(b *body, kind *blockKind, p property, name string, typed hcl.Range, object hcl.Expression) {
	made := &block{kind: name, typed: typed, header: p.named}
	if p.named != typed {
		made.label, made.labelled, made.named = p.name, true, p.named
	}
	if _, listed := properties(p.value); !listed {
		made.header = object.StartRange() // one of several under one name
	}
	made.body.span = object.Range()
	w.fill(&made.body, kind, object)
	b.blocks = append(b.blocks, made)
}

// labelsOnly tells {"left": {"voltage": …}} from {"voltage": …}: every member is
// an object or a list of objects and none is a block inside.
func labelsOnly(e hcl.Expression, kind *blockKind) bool {
	members, ok := properties(e)
	for _, p := range members {
		if kind.inner[p.name] != nil || kind.find(p.name) != nil {
			return false
		}
		if _, ok := properties(p.value); ok {
			continue
		}
		list, diags := hcl.ExprList(p.value)
		if diags.HasErrors() || len(list) == 0 {
			return false
		}
		if _, ok := properties(list[0]); !ok {
			return false
		}
	}
	return ok && len(members) > 0
}

func (w *jsonWalk) value(e hcl.Expression) value {
	v := value{at: e.Range()}
	if _, ok := properties(e); ok {
		v.kind = objectValue
		return v
	}
	if list, diags := hcl.ExprList(e); !diags.HasErrors() {
		v.kind = listValue
		for _, item := range list {
			v.list = append(v.list, w.value(item))
		}
		return v
	}
	plain, diags := e.Value(nil)
	if diags.HasErrors() || !plain.IsKnown() {
		return v
	}
	v.setLiteral(plain, w.source.text(v.at))
	if v.kind == textValue {
		text, ok := literalText(v.text)
		if !ok {
			return value{at: v.at}
		}
		v.text = text
	}
	return v
}

// literalText undoes the escapes that the JSON form has for "${" and "%{", and
// reports false where one stands unescaped: that would be an expression.
func literalText(text string) (string, bool) {
	if !strings.Contains(text, "{") {
		return text, true
	}
	text = hideEscapes.Replace(text)
	if strings.Contains(text, "${") || strings.Contains(text, "%{") {
		return "", false
	}
	return showEscapes.Replace(text), true
}

var (
	hideEscapes = strings.NewReplacer("$${", "\x00$", "%%{", "\x00%")
	showEscapes = strings.NewReplacer("\x00$", "${", "\x00%", "%{")
)
