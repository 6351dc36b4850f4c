package design

import (
	"bytes"
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2"
)

// nativeEditor changes a file in the native form by replacing pieces of it.
type nativeEditor struct {
	source  *Source
	changes []change
	inline  map[*block]*inlineChange
	order   []*block // of inline
}

// change is a piece of text to be put in place of a span of bytes.
type change struct {
	from, to int
	text     string
}

// inlineChange is what is to stand in a block whose brace is followed by its only
// key on the same line, once more than that key's value changes.
type inlineChange struct {
	gone  bool // the key
	value string
	keys  []draftKey
	inner []draft
}

func (n *nativeEditor) change(from, to int, text string) {
	n.changes = append(n.changes, change{from, to, text})
}

func (n *nativeEditor) bytes() []byte {
	for _, b := range n.order {
		n.finishInline(b, n.inline[b])
	}
	slices.SortStableFunc(n.changes, func(a, b change) int {
		return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to))
	})
	var out bytes.Buffer
	at := 0
	line := "\n"
	if bytes.Contains(n.source.Bytes, []byte("\r\n")) {
		line = "\r\n"
	}
	for _, c := range n.changes {
		if c.from < at {
			continue // inside a piece that is replaced already
		}
		out.Write(n.source.Bytes[at:c.from])
		out.WriteString(strings.ReplaceAll(strings.ReplaceAll(c.text, "\r\n", "\n"), "\n", line))
		at = c.to
	}
	out.Write(n.source.Bytes[at:])
	return out.Bytes()
}

func (n *nativeEditor) replace(at hcl.Range, with literal) {
	n.change(at.Start.Byte, at.End.Byte, with.in(Native))
}

func (n *nativeEditor) rename(b *block, name string) {
	n.change(b.named.Start.Byte, b.named.End.Byte, text(name).in(Native))
}

func (n *nativeEditor) renameKind(b *block, kind string) {
	n.change(b.typed.Start.Byte, b.typed.End.Byte, kind)
}

// isInline reports whether a block's inside begins on the brace's line: then it
// is at most one key.
func (n *nativeEditor) isInline(b *block) bool {
	if b.kind == "" {
		return false
	}
	inside := n.source.Bytes[b.body.span.Start.Byte+1 : b.body.span.End.Byte]
	if len(b.keys) > 0 {
		return b.keys[0].named.Start.Line == b.body.span.Start.Line
	}
	return len(b.blocks) == 0 && bytes.IndexByte(inside, '\n') < 0
}

func (n *nativeEditor) inlineOf(b *block) *inlineChange {
	if n.inline == nil {
		n.inline = map[*block]*inlineChange{}
	}
	if n.inline[b] == nil {
		n.inline[b] = &inlineChange{}
		n.order = append(n.order, b)
	}
	return n.inline[b]
}

// finishInline writes a block's inside anew, over several lines.
func (n *nativeEditor) finishInline(b *block, c *inlineChange) {
	from, to := b.body.span.Start.Byte+1, b.body.span.End.Byte-1
	var kept []string
	comment := string(n.source.Bytes[from:to])
	if len(b.keys) == 1 {
		e := b.keys[0].span()
		comment = string(n.source.Bytes[from:e.Start.Byte]) + string(n.source.Bytes[e.End.Byte:to])
		if !c.gone {
			kept = append(kept, string(n.patched(e.Start.Byte, e.End.Byte)))
		}
	}
	kept = append(kept, strings.TrimSpace(comment))
	indent := n.indentAt(b.typed.Start.Byte)
	deeper := indent + "  "
	var fresh strings.Builder
	draft{kind: b.kind, keys: c.keys, blocks: c.inner}.nativeBody(&fresh)
	lines := append(kept, strings.Split(strings.TrimSuffix(fresh.String(), "\n"), "\n")...)
	lines = slices.DeleteFunc(lines, func(l string) bool { return l == "" })
	if len(lines) == 0 {
		n.change(from, to, "")
		return
	}
	n.change(from, to, "\n"+indented(formatted(strings.Join(lines, "\n")+"\n"), deeper)+indent)
}

// patched returns a span of the source with the changes inside it made.
func (n *nativeEditor) patched(from, to int) []byte {
	part := &nativeEditor{source: &Source{Bytes: n.source.Bytes[from:to]}}
	for _, c := range n.changes {
		if from <= c.from && c.to <= to {
			part.change(c.from-from, c.to-from, c.text)
		}
	}
	return part.bytes()
}

// lineStart returns where the line of a byte begins.
func (n *nativeEditor) lineStart(at int) int {
	return bytes.LastIndexByte(n.source.Bytes[:at], '\n') + 1
}

// lineEnd returns where the line of a byte ends, line end included. A byte that
// begins a line is taken as the end of the one before.
func (n *nativeEditor) lineEnd(at int) int {
	if at > 0 && n.source.Bytes[at-1] == '\n' {
		return at
	}
	if i := bytes.IndexByte(n.source.Bytes[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(n.source.Bytes)
}

func (n *nativeEditor) indentAt(at int) string {
	start := n.lineStart(at)
	line := n.source.Bytes[start:at]
	return string(line[:len(line)-len(bytes.TrimLeft(line, " \t"))])
}

// newLine returns a line end if the text before is the file's last and has none.
func (n *nativeEditor) newLine(at int) string {
	if at > 0 && n.source.Bytes[at-1] != '\n' {
		return "\n"
	}
	return ""
}

func (n *nativeEditor) addKey(b *block, after *entry, k draftKey) {
	if n.isInline(b) {
		c := n.inlineOf(b)
		c.keys = append(c.keys, k)
		return
	}
	indent, name, at := "", k.name, 0
	switch {
	case after != nil:
		at = n.lineEnd(after.span().End.Byte)
		indent = n.indentAt(after.named.Start.Byte)
		name = n.aligned(name, after)
	case b.kind != "":
		at = n.lineEnd(b.body.span.Start.Byte + 1)
		indent = n.indentAt(b.typed.Start.Byte) + "  "
		if len(b.keys) > 0 {
			name = n.aligned(name, b.keys[0])
		}
	default:
		at = n.afterHeadComments()
	}
	n.change(at, at, n.newLine(at)+indent+name+" = "+k.value.in(Native)+"\n")
}

// afterHeadComments returns where a file's first key goes: behind the comment
// that the file begins with, if it stands apart.
func (n *nativeEditor) afterHeadComments() int {
	at := 0
	for at < len(n.source.Bytes) {
		end := n.lineEnd(at + 1)
		line := bytes.TrimSpace(n.source.Bytes[at:end])
		if len(line) == 0 {
			return end
		}
		if line[0] != '#' && !bytes.HasPrefix(line, []byte("//")) {
			break
		}
		at = end
	}
	return 0
}

// aligned pads a name so that its equals sign stands under that of a neighbour.
func (n *nativeEditor) aligned(name string, neighbour *entry) string {
	between := string(n.source.Bytes[neighbour.named.End.Byte:neighbour.value.at.Start.Byte])
	spaces := strings.IndexByte(between, '=') - 1
	wide := utf8.RuneCountInString(neighbour.name) + max(0, spaces)
	return name + strings.Repeat(" ", max(0, wide-len(name)))
}

func (n *nativeEditor) removeKey(b *block, e *entry) {
	if n.isInline(b) {
		n.inlineOf(b).gone = true
		return
	}
	n.change(n.lineStart(e.named.Start.Byte), n.lineEnd(e.value.at.End.Byte), "")
}

func (n *nativeEditor) addBlock(in, after *block, d draft) {
	if n.isInline(in) {
		c := n.inlineOf(in)
		c.inner = append(c.inner, d)
		return
	}
	if in.kind != "" {
		indent := n.indentAt(in.typed.Start.Byte) + "  "
		at := n.lineStart(in.body.span.End.Byte - 1)
		if after != nil {
			at = n.lineEnd(after.whole.End.Byte)
		}
		n.change(at, at, n.newLine(at)+d.nativeText(indent))
		return
	}
	if after == nil && len(in.blocks) > 0 {
		after = in.blocks[len(in.blocks)-1]
	}
	at := len(n.source.Bytes)
	if after != nil {
		at = n.lineEnd(after.whole.End.Byte)
	}
	space := "\n"
	if at == 0 || after != nil && d.brief() && after.kind == d.kind && n.isInline(after) {
		space = ""
	}
	n.change(at, at, n.newLine(at)+space+d.nativeText(""))
}

func (n *nativeEditor) removeBlock(_, b *block) {
	from, to := n.lineStart(b.typed.Start.Byte), n.lineEnd(b.whole.End.Byte)
	src := n.source.Bytes
	blank := func(from, to int) bool { return from < to && len(bytes.TrimSpace(src[from:to])) == 0 }
	before := n.lineStart(max(0, from-1))
	if blank(before, from) && (to == len(src) || blank(to, n.lineEnd(to+1))) {
		from = before // of two empty lines that would meet, one stays
	}
	n.change(from, to, "")
}

func (n *nativeEditor) remark(_ *block, e *entry, say string) {
	at := e.value.at.End.Byte
	end := n.lineEnd(at)
	if end > at && n.source.Bytes[end-1] == '\n' {
		end--
	}
	rest := strings.TrimSpace(string(n.source.Bytes[at:end]))
	switch {
	case strings.Contains(rest, say):
	case rest == "":
		n.change(at, at, " # "+say)
	case strings.HasPrefix(rest, "#") || strings.HasPrefix(rest, "//"):
		n.change(end, end, "; "+say)
	}
}
