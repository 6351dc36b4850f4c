package design

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/agext/levenshtein"
	"github.com/hashicorp/hcl/v2"
)

// mostMessages is how many problems of one file are told.
const mostMessages = 100

// quote shows a piece of a user's text on one line, cut where it is overlong.
func quote(text string) string {
	const most = 40
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most]) + "…"
	}
	return strconv.QuoteToGraphic(text)
}

// describe says what a value is.
func (s *Source) describe(v value) string {
	switch v.kind {
	case textValue:
		return quote(v.text)
	case numberValue, flagValue:
		return "the plain " + map[valueKind]string{numberValue: "number", flagValue: "word"}[v.kind] + " " + clip(s.text(v.at))
	case listValue:
		return "a list of " + strconv.Itoa(len(v.list))
	case referenceValue:
		return "the name " + clip(v.text)
	case objectValue:
		return "an object in braces"
	case nullValue:
		return "null"
	}
	return "the expression " + clip(s.text(v.at))
}

// clip cuts overlong source text and makes it one line.
func clip(text string) string {
	const most = 40
	text = strings.Join(strings.Fields(text), " ")
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return text
}

// meant returns the candidate that text is probably a slip of, or "".
func meant(text string, candidates []string) string {
	best, least := "", 1000
	for _, c := range candidates {
		if strings.EqualFold(c, text) {
			return c
		}
		d := levenshtein.Distance(strings.ToLower(text), strings.ToLower(c), nil)
		if d <= max(1, min(3, len(c)/3)) && d < least {
			best, least = c, d
		}
	}
	return best
}

// didYouMean is the sentence for meant, with a leading space, or "".
func didYouMean(text string, candidates []string) string {
	if m := meant(text, candidates); m != "" {
		return " Did you mean " + m + "?"
	}
	return ""
}

func article(noun string) string {
	if strings.IndexByte("aeiou", noun[0]) >= 0 {
		return "an " + noun
	}
	return "a " + noun
}

func or(list []string) string  { return joined(list, " or ") }
func and(list []string) string { return joined(list, " and ") }

func joined(list []string, last string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	n := len(list) - 1
	return strings.Join(list[:n], ", ") + last + list[n]
}

// title names a block as a message does: port "inner", air.
func (b *block) title() string {
	if b.labelled {
		return b.kind + " " + quote(b.label)
	}
	return b.kind
}

// inOrder sorts problems by their place, those of the given file first, and cuts
// an endless list short.
func inOrder(diags hcl.Diagnostics, filename string) hcl.Diagnostics {
	slices.SortStableFunc(diags, func(a, b *hcl.Diagnostic) int {
		if a.Subject == nil || b.Subject == nil {
			return 0
		}
		if a.Subject.Filename != b.Subject.Filename {
			switch filename {
			case a.Subject.Filename:
				return -1
			case b.Subject.Filename:
				return 1
			}
			return cmp.Compare(a.Subject.Filename, b.Subject.Filename)
		}
		return cmp.Compare(a.Subject.Start.Byte, b.Subject.Start.Byte)
	})
	if len(diags) > mostMessages {
		rest := len(diags) - mostMessages
		severity := hcl.DiagWarning
		if diags[mostMessages:].HasErrors() {
			severity = hcl.DiagError
		}
		diags = append(slices.Clip(diags[:mostMessages]), &hcl.Diagnostic{
			Severity: severity,
			Summary:  "Too many problems",
			Detail:   fmt.Sprintf("Found %d more; wanted none.", rest),
			Subject:  diags[mostMessages].Subject,
		})
	}
	return diags
}
