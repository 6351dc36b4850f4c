package design

import (
	"fmt"
	"strings"

	"github.com/hashicorp/hcl/v2/hclwrite"
)

// printed writes a draft of a whole file afresh.
func (d draft) printed(form Form) []byte {
	if form == JSON {
		return []byte(d.jsonObject("") + "\n")
	}
	var out strings.Builder
	d.nativeBody(&out)
	return []byte(formatted(out.String()))
}

// nativeBody writes keys and blocks, unaligned. Blocks of the file itself that
// take several lines stand apart.
func (d draft) nativeBody(out *strings.Builder) {
	for _, k := range d.keys {
		fmt.Fprintf(out, "%s = %s\n", k.name, k.value.in(Native))
	}
	before := draft{}
	for i, b := range d.blocks {
		if d.kind == "" && (i > 0 || len(d.keys) > 0) && !(b.brief() && before.brief() && b.kind == before.kind) {
			out.WriteByte('\n')
		}
		b.native(out)
		before = b
	}
}

// brief reports whether a block fits one line: the native form allows one key.
func (d draft) brief() bool { return len(d.keys) < 2 && len(d.blocks) == 0 }

func (d draft) native(out *strings.Builder) {
	out.WriteString(d.kind)
	if d.labelled {
		out.WriteString(" " + text(d.label).in(Native))
	}
	switch {
	case len(d.keys)+len(d.blocks) == 0:
		out.WriteString(" {}\n")
	case d.brief():
		fmt.Fprintf(out, " { %s = %s }\n", d.keys[0].name, d.keys[0].value.in(Native))
	default:
		out.WriteString(" {\n")
		d.nativeBody(out)
		out.WriteString("}\n")
	}
}

// nativeText writes one block, aligned and indented.
func (d draft) nativeText(indent string) string {
	var out strings.Builder
	d.native(&out)
	return indented(formatted(out.String()), indent)
}

// formatted aligns and indents the native form.
func formatted(text string) string { return string(hclwrite.Format([]byte(text))) }

func indented(text, indent string) string {
	lines := strings.SplitAfter(text, "\n")
	for i, line := range lines {
		if strings.TrimSpace(line) != "" {
			lines[i] = indent + line
		}
	}
	return strings.Join(lines, "")
}

const jsonIndent = "  "

// jsonObject writes keys and blocks as an object. Blocks of one kind share a
// member: those with names an object of names, others a list where there are
// several.
func (d draft) jsonObject(indent string) string {
	deeper := indent + jsonIndent
	var members []string
	for _, k := range d.keys {
		members = append(members, jsonString(k.name)+": "+k.value.in(JSON))
	}
	done := map[string]bool{}
	for _, b := range d.blocks {
		if !done[b.kind] {
			done[b.kind] = true
			members = append(members, jsonString(b.kind)+": "+jsonBlocks(d.of(b.kind), deeper))
		}
	}
	return jsonMembers("{", members, "}", indent)
}

func (d draft) of(kind string) []draft {
	var found []draft
	for _, b := range d.blocks {
		if b.kind == kind {
			found = append(found, b)
		}
	}
	return found
}

func jsonBlocks(blocks []draft, indent string) string {
	var labelled, plain []string
	deeper := indent + jsonIndent
	named := 0
	for _, b := range blocks {
		if b.labelled {
			named++
		}
	}
	if named == len(blocks) {
		for _, b := range blocks {
			labelled = append(labelled, jsonString(b.label)+": "+b.jsonObject(deeper))
		}
		return jsonMembers("{", labelled, "}", indent)
	}
	if len(blocks) == 1 {
		return blocks[0].jsonObject(indent)
	}
	for _, b := range blocks {
		plain = append(plain, b.jsonItem(deeper))
	}
	return jsonMembers("[", plain, "]", indent)
}

// jsonItem writes a block as an item of a list.
func (d draft) jsonItem(indent string) string {
	if !d.labelled {
		return d.jsonObject(indent)
	}
	member := jsonString(d.label) + ": " + d.jsonObject(indent+jsonIndent)
	return jsonMembers("{", []string{member}, "}", indent)
}

func jsonMembers(open string, members []string, closing, indent string) string {
	if len(members) == 0 {
		return open + closing
	}
	between := "\n" + indent + jsonIndent
	return open + between + strings.Join(members, ","+between) + "\n" + indent + closing
}
