package design

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"
)

// nativeTree parses the native form. With errors the tree holds what could be
// read.
func (s *Source) nativeTree() (*body, hcl.Diagnostics) {
	file, diags := hclsyntax.ParseConfig(s.Bytes, s.Filename, hcl.InitialPos)
	top, ok := file.Body.(*hclsyntax.Body)
	if !ok {
		return &body{span: s.span(0, len(s.Bytes))}, diags
	}
	tree := s.nativeBody(top)
	tree.span = s.span(0, len(s.Bytes))
	return &tree, diags
}

func (s *Source) nativeBody(from *hclsyntax.Body) body {
	b := body{span: from.SrcRange}
	attributes := slices.SortedFunc(maps.Values(from.Attributes), func(a, b *hclsyntax.Attribute) int {
		return cmp.Compare(a.NameRange.Start.Byte, b.NameRange.Start.Byte)
	})
	for _, a := range attributes {
		b.keys = append(b.keys, &entry{name: a.Name, named: a.NameRange, value: s.nativeValue(a.Expr)})
	}
	for _, inner := range from.Blocks {
		made := &block{
			kind:   inner.Type,
			typed:  inner.TypeRange,
			header: inner.DefRange(),
			body:   s.nativeBody(inner.Body),
		}
		made.body.span = hcl.RangeBetween(inner.OpenBraceRange, inner.CloseBraceRange)
		made.whole = hcl.RangeBetween(inner.TypeRange, inner.CloseBraceRange)
		if len(inner.Labels) > 0 {
			made.label, made.labelled, made.named = inner.Labels[0], true, inner.LabelRanges[0]
			made.extra = inner.LabelRanges[1:]
		}
		b.blocks = append(b.blocks, made)
	}
	return b
}

func (s *Source) nativeValue(e hclsyntax.Expression) value {
	v := value{at: e.Range()}
	switch e := e.(type) {
	case *hclsyntax.TemplateExpr:
		var text strings.Builder
		for _, part := range e.Parts {
			literal, ok := part.(*hclsyntax.LiteralValueExpr)
			if !ok || literal.Val.IsNull() || literal.Val.Type() != cty.String {
				return v
			}
			text.WriteString(literal.Val.AsString())
		}
		v.kind, v.text = textValue, text.String()

	case *hclsyntax.LiteralValueExpr:
		v.setLiteral(e.Val, s.text(v.at))

	case *hclsyntax.UnaryOpExpr:
		literal, ok := e.Val.(*hclsyntax.LiteralValueExpr)
		if ok && e.Op == hclsyntax.OpNegate && !literal.Val.IsNull() && literal.Val.Type() == cty.Number {
			v.setLiteral(literal.Val, s.text(v.at))
			v.number = -v.number
		}

	case *hclsyntax.ScopeTraversalExpr:
		v.kind = referenceValue
		for i, step := range e.Traversal {
			switch step := step.(type) {
			case hcl.TraverseRoot:
				v.text = step.Name
			case hcl.TraverseAttr:
				v.text += "." + step.Name
			default:
				return value{at: e.Traversal[:i+1].SourceRange()}
			}
		}

	case *hclsyntax.TupleConsExpr:
		v.kind = listValue
		for _, item := range e.Exprs {
			v.list = append(v.list, s.nativeValue(item))
		}

	case *hclsyntax.ObjectConsExpr:
		v.kind = objectValue
	}
	return v
}

func (v *value) setLiteral(from cty.Value, written string) {
	switch {
	case from.IsNull():
		v.kind = nullValue
	case from.Type() == cty.Number:
		v.kind, v.text = numberValue, written
		v.number, _ = from.AsBigFloat().Float64()
	case from.Type() == cty.Bool:
		v.kind, v.flag = flagValue, from.True()
	case from.Type() == cty.String:
		v.kind, v.text = textValue, from.AsString()
	}
}
