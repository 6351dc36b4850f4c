package design

import (
	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
)

// The parsers recurse once for each level of nesting and have no limit, and a
// stack that overflows ends the program: so levels are counted in the tokens,
// before anything is parsed.

// level is one bracket, quote or template that is open in the native form.
type level struct {
	until     hclsyntax.TokenType // what closes it
	operators int                 // read in it since the last item ended; each may nest
	lines     bool                // whether a line's end ends an item
}

var closers = map[hclsyntax.TokenType]hclsyntax.TokenType{
	hclsyntax.TokenOBrace:          hclsyntax.TokenCBrace,
	hclsyntax.TokenOBrack:          hclsyntax.TokenCBrack,
	hclsyntax.TokenOParen:          hclsyntax.TokenCParen,
	hclsyntax.TokenOQuote:          hclsyntax.TokenCQuote,
	hclsyntax.TokenOHeredoc:        hclsyntax.TokenCHeredoc,
	hclsyntax.TokenTemplateInterp:  hclsyntax.TokenTemplateSeqEnd,
	hclsyntax.TokenTemplateControl: hclsyntax.TokenTemplateSeqEnd,
}

// deepNative returns an error where the native form nests too deeply. Operators
// count, as "!!!!x" and "a ? b : c ? d : e" recurse like brackets; so do the
// directives of a template, which stay open after their brace, and splats.
func (s *Source) deepNative() *hcl.Diagnostic {
	tokens, _ := hclsyntax.LexConfig(s.Bytes, s.Filename, hcl.InitialPos)
	open := []level{{lines: true}}
	depth := 0
	var last hclsyntax.TokenType
	for _, token := range tokens {
		top := &open[len(open)-1]
		switch token.Type {
		case hclsyntax.TokenOBrace, hclsyntax.TokenOBrack, hclsyntax.TokenOParen,
			hclsyntax.TokenOQuote, hclsyntax.TokenOHeredoc,
			hclsyntax.TokenTemplateInterp, hclsyntax.TokenTemplateControl:
			if token.Type == hclsyntax.TokenTemplateControl {
				top.operators++
				depth++
			}
			open = append(open, level{
				until: closers[token.Type],
				lines: token.Type == hclsyntax.TokenOBrace,
			})
			depth++

		case hclsyntax.TokenCBrace, hclsyntax.TokenCBrack, hclsyntax.TokenCParen,
			hclsyntax.TokenCQuote, hclsyntax.TokenCHeredoc, hclsyntax.TokenTemplateSeqEnd:
			// A bracket that closes nothing is left to the parser to report. One
			// that closes the wrong level closes none here, which counts too
			// many levels rather than too few.
			if top.until != token.Type {
				break
			}
			depth -= 1 + top.operators
			open = open[:len(open)-1]
			if last == hclsyntax.TokenStar {
				open[len(open)-1].operators++
				depth++
			}

		case hclsyntax.TokenNewline:
			if top.lines {
				depth -= top.operators
				top.operators = 0
			}

		case hclsyntax.TokenComma:
			depth -= top.operators
			top.operators = 0

		case hclsyntax.TokenMinus, hclsyntax.TokenBang, hclsyntax.TokenQuestion,
			hclsyntax.TokenStar, hclsyntax.TokenSlash, hclsyntax.TokenPercent, hclsyntax.TokenPlus,
			hclsyntax.TokenAnd, hclsyntax.TokenOr, hclsyntax.TokenEqualOp, hclsyntax.TokenNotEqual,
			hclsyntax.TokenLessThan, hclsyntax.TokenLessThanEq,
			hclsyntax.TokenGreaterThan, hclsyntax.TokenGreaterThanEq:
			top.operators++
			depth++
		}
		if depth > MaxNesting {
			return tooDeep(token.Range)
		}
		last = token.Type
	}
	return nil
}

// deepJSON returns an error where the JSON form nests too deeply. It reads
// strings as the parser does, which ends one at a control character.
func (s *Source) deepJSON() *hcl.Diagnostic {
	var open []byte // what closes each open level
	quoted, escaped := false, false
	for i, b := range s.Bytes {
		switch {
		case quoted && b == '\\':
			escaped = !escaped
		case quoted && b == '"' && !escaped, quoted && b < ' ':
			quoted, escaped = false, false
		case quoted:
			escaped = false
		case b == '"':
			quoted = true
		case b == '{':
			open = append(open, '}')
		case b == '[':
			open = append(open, ']')
		case len(open) > 0 && b == open[len(open)-1]:
			open = open[:len(open)-1]
		}
		if len(open) > MaxNesting {
			return tooDeep(s.span(i, i+1))
		}
	}
	return nil
}
