package design

import (
	"fmt"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
)

// Bytes returns the design as a file.
//
// A design that was read comes back in its form with the comments, order, units
// and layout of its Source, byte for byte where nothing was changed; each changed
// value stands where the old one stood, a new key inside its block, a new part
// after the last of its kind. Whatever way the design was changed, by Set or in
// its fields, is found by comparison with the Source. Comments are lost only with
// the block or line they stand in, and inside tolerance blocks when one is added
// or taken away.
//
// A design made in memory is written in the native form, as is one whose Source
// had errors. Fields must hold finite numbers and units of their dimension.
func (d *Design) Bytes() []byte {
	if d.Source == nil || d.Source.Bytes == nil {
		return d.draft().printed(Native)
	}
	source := *d.Source
	source.beside, source.files = nil, nil
	base := parse(&source, d.Source.opener())
	if base.diags.HasErrors() {
		return d.draft().printed(source.Form)
	}
	var e editor = &nativeEditor{source: &source}
	if source.Form == JSON {
		e = newJSONEditor(&source)
	}
	w := rewriter{editor: e, base: base, design: d}
	w.whole()
	return e.bytes()
}

// Fresh returns the design as a new file in the given form, in a tidy order and
// without the comments of its Source.
func (d *Design) Fresh(form Form) []byte { return d.draft().printed(form) }

// Reread writes the design and reads that, which checks it as a whole after
// changes and brings places in the file up to date. Driver files are those read
// with the Source. A design made in memory gets the filename "design.hcl".
func (d *Design) Reread() (*Design, hcl.Diagnostics) {
	source := &Source{Filename: "design.hcl", Bytes: d.Bytes()}
	var open opener
	if d.Source != nil {
		source.Filename, source.Form = d.Source.Filename, d.Source.Form
		open = d.Source.opener()
	}
	r := parse(source, open)
	for i, one := range r.design.Drivers {
		if i < len(d.Drivers) {
			one.NotScaled = d.Drivers[i].NotScaled
		}
	}
	return r.design, r.diags
}

// opener opens the driver files that were read with the source.
func (s *Source) opener() opener {
	return func(name string) ([]byte, error) {
		if b, ok := s.files[name]; ok {
			return b, nil
		}
		return nil, fmt.Errorf("a file that was not read with the design")
	}
}

// editor changes the text of a file in one form. Changes are gathered and made at
// once by bytes.
type editor interface {
	replace(at hcl.Range, with literal)
	rename(b *block, name string)
	addKey(b *block, after *entry, k draftKey) // after nil: first
	removeKey(b *block, e *entry)
	addBlock(in *block, after *block, d draft) // after nil: wherever it fits
	removeBlock(in *block, b *block)
	renameKind(b *block, kind string)      // of a part's block in a tolerance block
	remark(b *block, e *entry, say string) // a comment at a key
	bytes() []byte
}

// rewriter finds how a design differs from its source and tells the editor.
type rewriter struct {
	editor editor
	base   *reader
	design *Design
}

func (w *rewriter) whole() {
	file := &block{body: *w.base.root}
	top := blockKinds[""]
	w.keys(top, w.base.design, w.design, file)
	w.inner(top, w.base.design, w.design, file)
	w.tolerances(file)
}

// keys brings a block's keys in line with an owner.
func (w *rewriter) keys(kind *blockKind, was, is any, b *block) {
	var last *entry // the key that a new one goes behind
	for i := range kind.keys {
		s := &kind.keys[i]
		e := b.key(s.Name)
		old, oldGiven := s.written(s.slot(was))
		value, given := s.written(s.slot(is))
		switch {
		case given == oldGiven && (!given || old.same(value)):
		case given && e != nil:
			w.value(e.value, old, value)
		case given:
			w.editor.addKey(b, last, draftKey{s.Name, value})
		case e != nil:
			w.editor.removeKey(b, e)
		}
		if e != nil && (last == nil || e.named.Start.Byte > last.named.Start.Byte) {
			last = e
		}
	}
}

// value replaces what changed of a value: in a list, single items.
func (w *rewriter) value(v value, old, value literal) {
	if v.kind == listValue && value.kind == listValue && len(v.list) == len(value.items) && len(old.items) == len(value.items) {
		for i := range v.list {
			if !old.items[i].same(value.items[i]) {
				w.editor.replace(v.list[i].at, value.items[i])
			}
		}
		return
	}
	w.editor.replace(v.at, value)
}

// inner brings the blocks inside a block in line with an owner.
func (w *rewriter) inner(kind *blockKind, was, is any, b *block) {
	for _, name := range kind.order {
		k := kind.inner[name]
		if k == toleranceKind {
			continue
		}
		w.blocksOf(k, k.list(was), k.list(is), b)
	}
}

func (w *rewriter) blocksOf(k *blockKind, was, is []any, in *block) {
	match := matching(was, is)
	if !k.many && len(was) == 1 && len(is) == 1 {
		match[is[0]] = was[0]
	}
	if !inSameOrder(was, is, match) {
		match = map[any]any{}
	}
	kept := map[any]bool{}
	for _, old := range match {
		kept[old] = true
	}
	for _, old := range was {
		if b := w.base.blocks[old]; b != nil && !kept[old] {
			w.editor.removeBlock(in, b)
		}
	}
	var after *block
	if len(match) == 0 {
		// All are new: behind the last one there was.
		for _, old := range was {
			if b := w.base.blocks[old]; b != nil {
				after = b
			}
		}
	}
	for _, one := range is {
		old := match[one]
		b := w.base.blocks[old]
		if old == nil || b == nil {
			made := draftOf(k, one)
			if k.many || k.drop != nil || len(made.keys) > 0 {
				w.editor.addBlock(in, after, made)
			}
			continue
		}
		after = b
		if k.drop == nil && draftOf(k, one).empty() && !draftOf(k, old).empty() {
			w.editor.removeBlock(in, b)
			continue
		}
		w.block(k, old, one, b)
	}
}

func (w *rewriter) block(k *blockKind, was, is any, b *block) {
	if part, ok := is.(interface{ identity() *Named }); ok && part.identity().Name != b.label {
		w.editor.rename(b, part.identity().Name)
	}
	switch {
	case fromFile(is) && fromFile(was):
		if draftOf(k, own(is)).same(draftOf(k, own(was))) {
			w.keys(k, &Driver{File: was.(*Driver).File}, &Driver{File: is.(*Driver).File}, b)
			return
		}
		is = own(is)
	case fromFile(is):
		is = &Driver{File: is.(*Driver).File}
	}
	if fromFile(was) {
		was = &Driver{File: was.(*Driver).File} // its data stand in another file
	}
	w.keys(k, was, is, b)
	w.inner(k, was, is, b)
	if d, ok := is.(*Driver); ok {
		for _, key := range d.NotScaled {
			at := b
			if kind, rest, nested := strings.Cut(key, "."); nested {
				at, key = b.inside(kind), rest
			}
			if at == nil {
				continue
			}
			if e := at.key(key); e != nil {
				w.editor.remark(at, e, notScaled)
			}
		}
	}
}

// own returns a driver as if its data were its own.
func own(driver any) *Driver {
	d := *driver.(*Driver)
	d.File = ""
	return &d
}

func (d draft) empty() bool { return len(d.keys)+len(d.blocks) == 0 }

func (d draft) same(other draft) bool {
	form := func(d draft) string {
		d.label = ""
		return d.jsonObject("")
	}
	return form(d) == form(other)
}

// matching pairs the blocks of a design with those of its source, by the place
// they were read from.
func matching(was, is []any) map[any]any {
	match := map[any]any{}
	left := slices.Clone(was)
	for _, one := range is {
		at := *one.(headed).header()
		for i, old := range left {
			if old != nil && at == *old.(headed).header() && at.Filename != "" && named(one) == named(old) {
				match[one], left[i] = old, nil
				break
			}
		}
	}
	return match
}

// named reports whether an owner has a name: with and without are written
// differently.
func named(owner any) bool {
	part, ok := owner.(interface{ identity() *Named })
	return ok && part.identity().Name != ""
}

func inSameOrder(was, is []any, match map[any]any) bool {
	last := -1
	for _, one := range is {
		if old := match[one]; old != nil {
			i := slices.Index(was, old)
			if i < last {
				return false
			}
			last = i
		}
	}
	return true
}

// tolerances brings the tolerance blocks in line. As long as the same keys have
// one, only amounts and names are changed.
func (w *rewriter) tolerances(file *block) {
	was, is := w.base.design.Tolerances, w.design.Tolerances
	renamed := w.renamed()
	same := len(was) == len(is)
	for i := range was {
		same = same && is[i].Key == was[i].Key && is[i].Part == renamed(was[i].Part)
	}
	if !same {
		var after *block
		for _, b := range w.base.tolerances {
			w.editor.removeBlock(file, b)
			after = b
		}
		if d := w.design.toleranceDraft(); len(d.blocks) > 0 {
			w.editor.addBlock(file, after, d)
		}
		return
	}
	for i := range was {
		old, value := w.base.design.toleranceLiteral(was[i]), w.design.toleranceLiteral(is[i])
		if !old.same(value) {
			w.editor.replace(was[i].Amount.Range, value)
		}
	}
	for _, b := range w.base.tolerances {
		for _, part := range b.blocks {
			if name := renamed(part.kind); name != part.kind {
				w.editor.renameKind(part, name)
			}
		}
	}
}

// renamed returns what a part of the source is called now.
func (w *rewriter) renamed() func(string) string {
	names := map[string]string{}
	for _, k := range blockKinds[""].order {
		kind := blockKinds[k]
		for one, old := range matching(kind.list(w.base.design), kind.list(w.design)) {
			if part, ok := one.(interface{ identity() *Named }); ok {
				before := old.(interface{ identity() *Named }).identity().Name
				if before == "" {
					before = kind.name
				}
				if now := part.identity().Name; now != "" {
					names[before] = now
				}
			}
		}
	}
	return func(name string) string {
		if now, ok := names[name]; ok {
			return now
		}
		return name
	}
}
