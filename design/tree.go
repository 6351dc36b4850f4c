package design

import (
	"github.com/hashicorp/hcl/v2"
)

// A file in either form is first turned into one tree, in the order written, so
// that everything after it is written once.

// body is what stands between a block's braces, or the whole file.
type body struct {
	keys   []*entry
	blocks []*block
	span   hcl.Range // braces included
}

// entry is one key and its value.
type entry struct {
	name  string
	named hcl.Range // where the name stands
	value value
}

func (e *entry) span() hcl.Range { return hcl.RangeBetween(e.named, e.value.at) }

// block is one block with the label it may have.
type block struct {
	kind     string
	label    string
	labelled bool
	extra    []hcl.Range     // labels beyond the first
	typed    hcl.Range       // where the kind stands
	named    hcl.Range       // where the label stands, quotes included
	header   hcl.Range       // kind and label, what a message about the whole points at
	whole    hcl.Range       // kind to closing brace, native form only
	slips    map[string]bool // keys that unknown ones were probably meant to be
	body
}

// has reports whether a key is given, be it misspelt.
func (b *block) has(name string) bool { return b.key(name) != nil || b.slips[name] }

func (b *block) slip(name string) {
	if b.slips == nil {
		b.slips = map[string]bool{}
	}
	b.slips[name] = true
}

func (b *body) key(name string) *entry {
	for _, e := range b.keys {
		if e.name == name {
			return e
		}
	}
	return nil
}

// inside returns the first block of a kind inside, or nil.
func (b *block) inside(kind string) *block {
	for _, inner := range b.blocks {
		if inner.kind == kind {
			return inner
		}
	}
	return nil
}

// where returns the place of a key's value, or of the header if it is absent.
func (b *block) where(name string) hcl.Range {
	if e := b.key(name); e != nil {
		return e.value.at
	}
	return b.header
}

type valueKind int

const (
	otherValue valueKind = iota // an expression
	textValue
	numberValue
	flagValue
	listValue
	referenceValue // chamber.near, native form only
	objectValue
	nullValue
)

// value is what stands behind a key.
type value struct {
	kind   valueKind
	text   string  // of a text, unquoted; of a reference; of a number as written
	number float64 // may be infinite
	flag   bool
	list   []value
	at     hcl.Range
}

// labelRule says whether a kind of block has a label.
type labelRule int

const (
	labelNone labelRule = iota
	labelNeeded
	labelOptional
)
