package design

import (
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
)

// jsonEditor changes a file in the JSON form: objects and lists whose members
// change are put together anew from the texts of their members, one a line.
type jsonEditor struct {
	source *Source
	root   *jsonNode
	at     map[int]*jsonNode // by first byte
}

// jsonNode is a value of the file.
type jsonNode struct {
	span     hcl.Range
	parent   *jsonNode
	open     byte // '{', '[' or 0
	members  []jsonMember
	changed  bool   // members were added or taken away
	replaced string // new text of a plain value, or ""
}

// jsonMember is a member of an object, or an item of a list.
type jsonMember struct {
	name  string // of an object's member, unquoted
	key   string // name as written
	value *jsonNode
	text  string  // of a new one, whole, in place of value
	added []draft // the blocks that text holds
}

func newJSONEditor(source *Source) *jsonEditor {
	root, _ := source.jsonRoot()
	j := &jsonEditor{source: source, at: map[int]*jsonNode{}}
	j.root = j.node(root, nil)
	return j
}

func (j *jsonEditor) node(e hcl.Expression, parent *jsonNode) *jsonNode {
	n := &jsonNode{span: e.Range(), parent: parent}
	j.at[n.span.Start.Byte] = n
	if pairs, diags := hcl.ExprMap(e); !diags.HasErrors() {
		n.open = '{'
		for _, p := range pairs {
			name, _ := p.Key.Value(nil)
			n.members = append(n.members, jsonMember{
				name: name.AsString(), key: j.source.text(p.Key.Range()), value: j.node(p.Value, n),
			})
		}
		return n
	}
	if items, diags := hcl.ExprList(e); !diags.HasErrors() {
		n.open = '['
		for _, item := range items {
			n.members = append(n.members, jsonMember{value: j.node(item, n)})
		}
	}
	return n
}

func (j *jsonEditor) bytes() []byte {
	return slices.Concat(
		j.source.Bytes[:j.root.span.Start.Byte],
		[]byte(j.print(j.root)),
		j.source.Bytes[j.root.span.End.Byte:])
}

func (j *jsonEditor) print(n *jsonNode) string {
	if n.replaced != "" {
		return n.replaced
	}
	if n.open == 0 {
		return j.source.text(n.span)
	}
	if n.changed {
		return j.printChanged(n)
	}
	var out strings.Builder
	at := n.span.Start.Byte
	for _, m := range n.members {
		out.Write(j.source.Bytes[at:m.value.span.Start.Byte])
		out.WriteString(j.print(m.value))
		at = m.value.span.End.Byte
	}
	out.Write(j.source.Bytes[at:n.span.End.Byte])
	return out.String()
}

func (j *jsonEditor) printChanged(n *jsonNode) string {
	closing := map[byte]string{'{': "}", '[': "]"}[n.open]
	if len(n.members) == 0 {
		return string(n.open) + closing
	}
	indent := j.indent(n)
	lead, tail := "\n"+indent+jsonIndent, "\n"+indent
	members := make([]string, len(n.members))
	for i, m := range n.members {
		switch {
		case m.value == nil:
			members[i] = m.text
		case n.open == '{':
			members[i] = m.key + ": " + j.print(m.value)
		default:
			members[i] = j.print(m.value)
		}
	}
	return string(n.open) + lead + strings.Join(members, ","+lead) + tail + closing
}

// indent returns what the line begins with on which a value begins.
func (j *jsonEditor) indent(n *jsonNode) string {
	before := string(j.source.Bytes[:n.span.Start.Byte])
	line := before[strings.LastIndexByte(before, '\n')+1:]
	return line[:len(line)-len(strings.TrimLeft(line, " \t"))]
}

func (j *jsonEditor) replace(at hcl.Range, with literal) {
	j.at[at.Start.Byte].replaced = with.in(JSON)
}

// object returns the object that a block is.
func (j *jsonEditor) object(b *block) *jsonNode {
	n := j.at[b.body.span.Start.Byte]
	if n.open == '[' && len(n.members) > 0 {
		// The whole file as a list of objects: its last takes what is new.
		return n.members[len(n.members)-1].value
	}
	return n
}

func (j *jsonEditor) rename(b *block, name string) {
	object := j.object(b)
	for holder := object.parent; holder != nil; holder = holder.parent {
		for i := range holder.members {
			m := &holder.members[i]
			if holder.open == '{' && m.name == b.label && m.value != nil && within(object, m.value) {
				m.key = jsonString(name)
				holder.changed = true
				return
			}
		}
	}
}

func within(n, outer *jsonNode) bool {
	for ; n != nil; n = n.parent {
		if n == outer {
			return true
		}
	}
	return false
}

func (j *jsonEditor) renameKind(b *block, kind string) {
	object := j.object(b)
	for holder := object.parent; holder != nil; holder = holder.parent {
		for i := range holder.members {
			m := &holder.members[i]
			if holder.open == '{' && m.name == b.kind && m.value != nil && within(object, m.value) {
				m.key = jsonString(kind)
				holder.changed = true
				return
			}
		}
	}
}

func (j *jsonEditor) addKey(b *block, after *entry, k draftKey) {
	object := j.object(b)
	at := 0
	if after != nil {
		// The key may stand in another object, where the file is a list of them.
		object = j.at[after.value.at.Start.Byte].parent
		at = slices.IndexFunc(object.members, func(m jsonMember) bool { return m.name == after.name && m.value != nil }) + 1
		for at < len(object.members) && object.members[at].value == nil {
			at++ // behind the new ones
		}
	} else {
		for at < len(object.members) && (object.members[at].name == "//" || object.members[at].value == nil) {
			at++
		}
	}
	object.insert(at, jsonString(k.name)+": "+k.value.in(JSON), "")
}

func (n *jsonNode) insert(at int, text, name string) {
	n.members = slices.Insert(n.members, at, jsonMember{text: text, name: name})
	n.changed = true
}

func (j *jsonEditor) removeKey(_ *block, e *entry) {
	j.remove(j.at[e.value.at.Start.Byte])
}

// remove takes a value out of what holds it, and that too if it is then empty.
func (j *jsonEditor) remove(n *jsonNode) {
	holder := n.parent
	if holder == nil {
		return
	}
	holder.members = slices.DeleteFunc(holder.members, func(m jsonMember) bool { return m.value == n })
	holder.changed = true
}

func (j *jsonEditor) removeBlock(in, b *block) {
	n := j.object(b)
	j.remove(n)
	outer := j.object(in)
	for holder := n.parent; holder != nil && holder != outer && holder != j.root && len(holder.members) == 0; holder = holder.parent {
		j.remove(holder)
	}
}

func (j *jsonEditor) addBlock(in, after *block, d draft) {
	outer := j.object(in)
	indent := j.indent(outer) + jsonIndent
	i := slices.IndexFunc(outer.members, func(m jsonMember) bool { return m.name == d.kind })
	if i < 0 {
		i = len(outer.members)
		outer.insert(i, "", d.kind)
	}
	m := &outer.members[i]
	if m.value == nil {
		m.added = append(m.added, d)
		m.text = jsonString(m.name) + ": " + jsonBlocks(m.added, indent)
		return
	}
	holder := m.value
	item := d.jsonItem(indent + jsonIndent)
	switch {
	case holder.open == '[':
		at := len(holder.members)
		if after != nil {
			if k := slices.IndexFunc(holder.members, func(m jsonMember) bool { return m.value != nil && within(j.object(after), m.value) }); k >= 0 {
				at = k + 1
				for at < len(holder.members) && holder.members[at].value == nil {
					at++
				}
			}
		}
		holder.insert(at, item, "")
	case d.labelled && (blockKinds[""].inner[d.kind].label == labelNeeded || j.holdsLabels(holder, d.kind)):
		holder.insert(len(holder.members), jsonString(d.label)+": "+d.jsonObject(indent+jsonIndent), d.label)
	default:
		// One block as an object becomes the first of a list.
		outer.members[i] = jsonMember{name: d.kind, key: m.key, value: &jsonNode{
			span: holder.span, parent: outer, open: '[', changed: true,
			members: []jsonMember{{value: holder}, {text: item}},
		}}
		holder.parent = outer.members[i].value
	}
}

// holdsLabels reports whether an object holds blocks by name.
func (j *jsonEditor) holdsLabels(n *jsonNode, kind string) bool {
	return !slices.ContainsFunc(n.members, func(m jsonMember) bool {
		inner := blockKinds[kind].inner[m.name] != nil
		return m.value != nil && m.name != "//" && (inner || m.value.open != '{')
	})
}

// remark adds a comment to the object, as JSON has none at a value.
func (j *jsonEditor) remark(b *block, e *entry, say string) {
	object := j.object(b)
	if slices.ContainsFunc(object.members, func(m jsonMember) bool { return m.name == "//" }) {
		return
	}
	object.insert(0, jsonString("//")+": "+jsonString(e.name+" "+say), "//")
}
