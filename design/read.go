package design

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
)

// Parse reads a design file. The form follows from the filename, see FormOf;
// otherwise the name serves for messages alone. A driver block that refers to
// another file is an error here: ReadFile and ParseIn can look beside the design.
//
// All problems are returned at once, in the order of the file. With errors the
// design is incomplete and serves for nothing but its Source, which is always
// there.
//
// What the file leaves out stays not Given, except Listen.Radiation, which is
// then true, and Section.Shape, which is conical where the section has a to_area.
func Parse(src []byte, filename string) (*Design, hcl.Diagnostics) {
	r := parse(&Source{Filename: filename, Form: FormOf(filename), Bytes: src}, nil)
	return r.design, r.diags
}

// ParseIn reads a design file's text as Parse does, and the driver files it names
// from a folder.
func ParseIn(folder fs.FS, src []byte, filename string) (*Design, hcl.Diagnostics) {
	r := parse(&Source{Filename: filename, Form: FormOf(filename), Bytes: src}, func(name string) ([]byte, error) { return readBeside(folder, name) })
	return r.design, r.diags
}

// ReadFile reads the design file at path as Parse does, and the driver files it
// names in the same folder.
func ReadFile(path string) (*Design, hcl.Diagnostics) {
	source := &Source{Filename: path, Form: FormOf(path)}
	unread := func(err error) (*Design, hcl.Diagnostics) {
		return &Design{Source: source}, hcl.Diagnostics{wrong("File not read", source.start(),
			"Found %s; wanted a design file that can be read.", reason(err))}
	}
	file, err := os.Open(path)
	if err != nil {
		return unread(err)
	}
	defer file.Close()
	if source.Bytes, err = readLimited(file); err != nil {
		return unread(err)
	}
	root, err := os.OpenRoot(filepath.Dir(path))
	if err != nil {
		return unread(err)
	}
	defer root.Close()
	r := parse(source, func(name string) ([]byte, error) { return readBeside(root.FS(), name) })
	return r.design, r.diags
}

// readBeside reads a driver file in the folder.
func readBeside(folder fs.FS, name string) ([]byte, error) {
	info, err := fs.Stat(folder, name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("no regular file")
	}
	file, err := folder.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return readLimited(file)
}

// readLimited reads a file up to one byte more than a design file may have.
func readLimited(file fs.File) ([]byte, error) {
	if info, err := file.Stat(); err == nil && info.IsDir() {
		return nil, fmt.Errorf("a folder")
	}
	return io.ReadAll(io.LimitReader(file, MaxFileSize+1))
}

// reason is an error without the path, which the message shows already.
func reason(err error) string {
	if e, ok := err.(*fs.PathError); ok {
		return e.Err.Error()
	}
	return err.Error()
}

// reader turns a tree into a design.
type reader struct {
	source *Source
	open   opener // how driver files are read, or nil
	design *Design
	diags  hcl.Diagnostics
	// unsure is set once something was not understood: what seems to be missing
	// may only be unread.
	unsure bool
	broken bool            // the parser had errors
	syntax hcl.Diagnostics // what the parser told

	root       *body
	blocks     map[any]*block // by what they were read into
	names      map[string]*namedBlock
	used       map[string]bool // chambers and junctions something joins
	places     []placeUse
	references []nameUse
	tolerances []*block
	later      []func() // work that needs all names
	sections   int
	filters    int
}

type namedBlock struct {
	block *block
	kind  *blockKind
	owner any
}

// placeUse is a place read, to be looked up once all names are known.
type placeUse struct {
	place *Place
	kind  string // "chamber" or "junction"
}

type nameUse struct {
	slot nameSlot
}

// opener returns the bytes of a file beside the design.
type opener func(name string) ([]byte, error)

// parse returns the reader with the design and all problems in order.
func parse(source *Source, open opener) *reader {
	r := &reader{
		source: source,
		open:   open,
		design: &Design{Source: source, Listen: Listen{Radiation: true}},
		blocks: map[any]*block{},
		names:  map[string]*namedBlock{},
		used:   map[string]bool{},
	}
	if r.root = r.tree(source); r.root != nil {
		r.top(r.root)
		r.resolve()
		r.check()
		r.readTolerances()
	}
	r.diags = inOrder(r.all(), source.Filename)
	return r
}

// all returns what the parser and the reader told. What the reader finds wrong
// with a line that the parser did not understand is left out.
func (r *reader) all() hcl.Diagnostics {
	lines := map[int]bool{}
	for _, d := range r.syntax {
		if d.Subject != nil && d.Severity == hcl.DiagError {
			lines[d.Subject.Start.Line] = true
		}
	}
	diags := r.syntax
	for _, d := range r.diags {
		if d.Subject.Filename != r.source.Filename || !lines[d.Subject.Start.Line] {
			diags = append(diags, d)
		}
	}
	return diags
}

// withoutRepeats leaves out what the parser tells again: a quote not closed is
// found on each line to the end.
func withoutRepeats(diags hcl.Diagnostics) hcl.Diagnostics {
	told := map[string]bool{}
	return slices.DeleteFunc(diags, func(d *hcl.Diagnostic) bool {
		text := d.Summary + d.Detail
		repeated := told[text]
		told[text] = true
		return repeated
	})
}

// tree parses a source in its form, or returns nil with an error noted.
func (r *reader) tree(source *Source) (tree *body) {
	if refused := source.refused(); refused != nil {
		r.diags = r.diags.Append(refused)
		return nil
	}
	// The parsers are others' work; should one panic, that is an error about the
	// file and not the end of the program.
	defer func() {
		if caught := recover(); caught != nil {
			r.add("File not understood", source.start(), "Found text that the parser fails on (%v); wanted a design file.", caught)
			tree = nil
		}
	}()
	var diags hcl.Diagnostics
	if source.Form == JSON {
		tree, diags = source.jsonTree()
	} else {
		tree, diags = source.nativeTree()
	}
	r.syntax = withoutRepeats(diags)
	r.broken = diags.HasErrors()
	r.unsure = r.unsure || r.broken
	return tree
}

func (r *reader) add(summary string, at hcl.Range, detail string, args ...any) {
	r.diags = r.diags.Append(wrong(summary, at, detail, args...))
}

// top reads the whole file.
func (r *reader) top(tree *body) {
	file := &block{body: *tree, header: r.source.start()}
	r.keys(blockKinds[""], r.design, file)
	defer r.required(blockKinds[""], file)
	parts := 0
	once := map[string]*block{}
	for _, b := range tree.blocks {
		if b.labelled {
			if parts++; parts == MaxParts+1 {
				r.add("Too many parts", b.header, "Found more than %d parts; wanted at most %d.", MaxParts, MaxParts)
			}
			if parts > MaxParts {
				r.unsure = true
				continue
			}
		}
		kind := blockKinds[""].inner[b.kind]
		switch {
		case kind == nil:
			r.unknownBlock(blockKinds[""], file, b)
			continue
		case kind == toleranceKind:
			r.labels(kind, b)
			r.tolerances = append(r.tolerances, b)
			continue
		case !kind.many || !b.labelled && kind.label == labelOptional:
			if first := once[b.kind]; first != nil {
				r.add("Block given twice", b.header, "Found a second %s block; the first is at line %d. Wanted one.", b.kind, first.header.Start.Line)
				continue
			}
			once[b.kind] = b
		}
		owner := kind.add(r.design)
		r.labels(kind, b)
		r.name(kind, owner, b)
		r.body(kind, owner, b)
	}
}

// labels checks that a block has a name where it needs one.
func (r *reader) labels(kind *blockKind, b *block) {
	switch {
	case kind.label == labelNeeded && !b.labelled:
		r.add("Missing name", b.header, "Found a %s without a name; wanted one, as in %s \"name\".", b.kind, b.kind)
		r.unsure = true
	case kind.label == labelNone && b.labelled:
		r.add("Name not wanted", b.named, "Found the name %s; wanted %s without one.", quote(b.label), b.kind)
	case len(b.extra) > 0:
		r.add("Name not wanted", b.extra[0], "Found a second name; wanted one.")
	}
}

var namePattern = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]*$`)

const longestName = 64

// name notes a part's name and checks it.
func (r *reader) name(kind *blockKind, owner any, b *block) {
	part, ok := owner.(interface{ identity() *Named })
	if !ok || !b.labelled || kind.label == labelNone {
		return
	}
	part.identity().Name = b.label
	defer func() {
		if r.names[b.label] == nil || r.names[b.label].owner != owner {
			r.used[b.label] = true // no part can refer to it: one message is enough
		}
	}()
	switch first := r.names[b.label]; {
	case b.label == "outside" || b.label == "closed":
		r.add("Reserved name", b.named, "Found the name %s, which stands for a place of its own; wanted another.", quote(b.label))
	case !namePattern.MatchString(b.label):
		r.add("Wrong name", b.named, "Found the name %s; wanted a letter followed by letters, digits, _ or -.", quote(b.label))
	case len(b.label) > longestName:
		r.add("Wrong name", b.named, "Found a name of %d letters; wanted at most %d.", len(b.label), longestName)
	case first != nil:
		r.add("Name used twice", b.named, "Found %s, but %s at line %d has that name already; wanted one of its own, as names are shared by all parts.",
			b.title(), first.block.title(), first.block.header.Start.Line)
	default:
		r.names[b.label] = &namedBlock{b, kind, owner}
	}
}

// body reads a block's keys and the blocks inside.
func (r *reader) body(kind *blockKind, owner any, b *block) {
	r.blocks[owner] = b
	*owner.(headed).header() = b.header
	r.keys(kind, owner, b)
	seen := map[string]*block{}
	for _, inner := range b.blocks {
		k := kind.inner[inner.kind]
		if k == nil {
			r.unknownBlock(kind, b, inner)
			continue
		}
		r.labels(k, inner)
		if first := seen[inner.kind]; first != nil && !k.many {
			r.add("Block given twice", inner.header, "Found a second %s block in %s; the first is at line %d. Wanted one.", inner.kind, b.title(), first.header.Start.Line)
			continue
		}
		seen[inner.kind] = inner
		if r.tooMany(inner) {
			continue
		}
		r.body(k, k.add(owner), inner)
	}
	r.required(kind, b)
	if d, ok := owner.(*Driver); ok && d.File != "" {
		r.driverFile(d, b)
	}
}

func (r *reader) tooMany(b *block) bool {
	count := &r.sections
	if b.kind == filterKindName {
		count = &r.filters
	}
	if *count++; *count == MaxParts+1 {
		r.add("Too many parts", b.header, "Found more than %d %s blocks; wanted at most %d.", MaxParts, b.kind, MaxParts)
	}
	return *count > MaxParts
}

const filterKindName = "filter"

// keys reads a block's keys.
func (r *reader) keys(kind *blockKind, owner any, b *block) {
	for _, e := range b.body.keys {
		s := kind.find(e.name)
		if s == nil {
			r.unknownKey(kind, b, e)
			continue
		}
		r.value(s, s.slot(owner), e)
	}
}

// required checks that a block has the keys it needs.
func (r *reader) required(kind *blockKind, b *block) {
	for i := range kind.keys {
		s := &kind.keys[i]
		if s.Required && !b.has(s.Name) {
			r.missing(b, s.Name, s.wanted())
			if s.Kind == Reference {
				r.unsure = true
			}
		}
	}
}

// missing notes a key that a block needs.
func (r *reader) missing(b *block, key, wanted string) {
	r.add("Missing key", b.header, "Found %s without %s; wanted %s.", b.title(), key, wanted)
}

func (r *reader) unknownKey(kind *blockKind, b *block, e *entry) {
	r.unsure = true
	if kind.inner[e.name] != nil {
		r.add("Wrong value", e.named, "Found %s as a key; wanted a block, as in %s.", e.name, example(kind.inner[e.name]))
		return
	}
	var unused []string
	for _, s := range kind.keys {
		if b.key(s.Name) == nil {
			unused = append(unused, s.Name)
		}
	}
	unused = append(unused, kind.order...)
	b.slip(meant(e.name, unused))
	r.add("Unknown key", e.named, "Found %s; wanted %s.%s", quote(e.name), kind.known(), didYouMean(e.name, unused))
}

func (r *reader) unknownBlock(kind *blockKind, b, inner *block) {
	r.unsure = true
	if kind.find(inner.kind) != nil {
		b.slip(inner.kind)
		r.add("Wrong value", inner.header, "Found %s as a block; wanted a key, as in %s = …", inner.kind, inner.kind)
		return
	}
	if kind != blockKinds[""] && len(kind.order) == 0 {
		r.add("Unknown block", inner.header, "Found the block %s; wanted %s without blocks inside.", quote(inner.kind), b.title())
		return
	}
	r.add("Unknown block", inner.header, "Found the block %s; wanted %s.%s", quote(inner.kind), or(kind.order), didYouMean(inner.kind, kind.order))
}

// known lists the keys of a kind.
func (k *blockKind) known() string {
	var names []string
	for _, s := range k.keys {
		names = append(names, s.Name)
	}
	switch {
	case len(names) == 0:
		return "no key at all"
	case len(k.order) > 0:
		return or(names) + ", or a block: " + or(k.order)
	}
	return or(names)
}

func example(k *blockKind) string {
	if k.label == labelNone {
		return k.name + " { … }"
	}
	return k.name + " \"name\" { … }"
}

// driverFile reads a driver's data from another design file in the folder.
func (r *reader) driverFile(d *Driver, b *block) {
	e := b.key("file")
	if len(b.body.keys) > 1 || len(b.blocks) > 0 {
		r.add("Contradiction", e.value.at, "Found a file beside other data in %s; wanted one or the other.", b.title())
		return
	}
	refuse := func(found string) {
		r.add("File not read", e.value.at, "Found %s; wanted the name of a design file in the same folder.", found)
	}
	switch {
	case strings.ContainsAny(d.File, `/\`+"\x00") || d.File == "." || d.File == "..":
		refuse(quote(d.File))
		return
	case r.open == nil:
		refuse(quote(d.File) + " in a design that was not read from a folder")
		return
	}
	other := &Source{Filename: filepath.Join(filepath.Dir(r.source.Filename), d.File), Form: FormOf(d.File)}
	var err error
	if other.Bytes, err = r.open(d.File); err != nil {
		refuse(quote(d.File) + ": " + reason(err))
		return
	}
	r.source.keep(d.File, other)
	r.driverFrom(d, other, e)
}

// driverFrom takes a driver out of another file: the one of the same name, or the
// only one.
func (r *reader) driverFrom(d *Driver, other *Source, e *entry) {
	inner := &reader{source: other, design: &Design{}, blocks: map[any]*block{}, names: map[string]*namedBlock{}}
	tree := inner.tree(other)
	defer func() { r.diags = append(r.diags, inner.all()...) }()
	if tree == nil || inner.broken {
		return
	}
	var found []*block
	for _, b := range tree.blocks {
		if b.kind == driverKind.name {
			if b.label == d.Name {
				found = []*block{b}
				break
			}
			found = append(found, b)
		}
	}
	if len(found) != 1 {
		r.add("Name points nowhere", e.value.at, "Found %d drivers in %s, none named %s; wanted one of that name, or a single one.", len(found), quote(d.File), quote(d.Name))
		return
	}
	if within := found[0].key("file"); within != nil {
		inner.add("File not read", within.named, "Found a driver that is itself in another file; wanted its data.")
		return
	}
	name, rng, file := d.Name, d.Range, d.File
	d.File = "" // what follows is the data themselves
	inner.body(driverKind, d, found[0])
	inner.checkDriver(d)
	d.Name, d.Range, d.File = name, rng, file
}

// keep notes a driver file that was read.
func (s *Source) keep(name string, other *Source) {
	if s.beside == nil {
		s.beside, s.files = map[string][]byte{}, map[string][]byte{}
	}
	s.beside[other.Filename] = other.Bytes
	s.files[name] = other.Bytes
}
