package design

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2"
	"github.com/mitchellh/go-wordwrap"
	"golang.org/x/text/width"
)

// WriteDiagnostics writes problems for people to read: file, line and column, the
// source line with the place marked, what was found and what is wanted.
//
//	box.hcl:3:22: error: Wrong dimension
//	  3 | chamber "near" { volume = "5 kg" }
//	    |                           ^^^^^^
//	  Found that "5 kg" is a mass; wanted is a volume in L, …
//
// The texts are the files by the names the problems use, as Source.Texts returns
// them; without one the source line is left out. Text is wrapped and source lines
// are cut at columns, unless that is zero. Control characters and what else a
// terminal may act on are shown as signs, never passed on.
func WriteDiagnostics(w io.Writer, diags hcl.Diagnostics, texts map[string][]byte, columns uint, color bool) error {
	var out strings.Builder
	for i, d := range diags {
		if i > 0 {
			out.WriteByte('\n')
		}
		writeOne(&out, d, texts, int(columns), color)
	}
	_, err := io.WriteString(w, out.String())
	return err
}

func writeOne(out *strings.Builder, d *hcl.Diagnostic, texts map[string][]byte, columns int, color bool) {
	severity, paint, plain := "error", "", ""
	if d.Severity == hcl.DiagWarning {
		severity = "warning"
	}
	if color {
		plain = "\x1b[0m"
		paint = "\x1b[1;31m"
		if d.Severity == hcl.DiagWarning {
			paint = "\x1b[1;33m"
		}
	}
	if at := d.Subject; at != nil {
		fmt.Fprintf(out, "%s:%d:%d: ", harmless(at.Filename), at.Start.Line, at.Start.Column)
	}
	fmt.Fprintf(out, "%s%s%s: %s\n", paint, severity, plain, harmless(d.Summary))
	if d.Subject != nil {
		if text, ok := texts[d.Subject.Filename]; ok {
			writeSource(out, text, *d.Subject, columns, paint, plain)
		}
	}
	if d.Detail == "" {
		return
	}
	detail := harmlessLines(d.Detail)
	if columns > 20 {
		detail = wordwrap.WrapString(detail, uint(columns-2))
	}
	for line := range strings.SplitSeq(detail, "\n") {
		fmt.Fprintf(out, "  %s\n", line)
	}
}

// writeSource writes the first line of a range and marks the range under it.
func writeSource(out *strings.Builder, text []byte, at hcl.Range, columns int, paint, plain string) {
	from := min(max(at.Start.Byte, 0), len(text))
	to := min(max(at.End.Byte, from), len(text))
	start := bytes.LastIndexByte(text[:from], '\n') + 1
	end := len(text)
	if i := bytes.IndexByte(text[from:], '\n'); i >= 0 {
		end = from + i
	}
	to = min(to, end)
	before := harmless(string(text[start:from]))
	marked := harmless(string(text[from:to]))
	after := harmless(strings.TrimSuffix(string(text[to:end]), "\r"))
	if before+marked+after == "" {
		return
	}
	number := fmt.Sprintf("%3d | ", at.Start.Line)
	if columns > 0 {
		before, marked, after = window(before, marked, after, max(20, columns-len(number)))
	}
	fmt.Fprintf(out, "%s%s%s%s%s%s\n", number, before, paint, marked, plain, after)
	fmt.Fprintf(out, "%*s | %s%s%s%s\n", len(number)-3, "", strings.Repeat(" ", cells(before)),
		paint, strings.Repeat("^", max(1, cells(marked))), plain)
}

// window cuts a line so that the marked part shows.
func window(before, marked, after string, room int) (string, string, string) {
	const gap = "…"
	if cells(before+marked+after) <= room {
		return before, marked, after
	}
	if cells(marked) > room/2 {
		marked = head(marked, room/2-1) + gap
	}
	lead := max((room-cells(marked))/2, room-cells(marked+after))
	if cells(before) > lead {
		before = gap + tail(before, lead-1)
	}
	if rest := room - cells(before+marked); cells(after) > rest {
		after = head(after, rest-1) + gap
	}
	return before, marked, after
}

// head returns as much of the start of text as fits.
func head(text string, room int) string {
	used := 0
	for i, r := range text {
		if used += cellsOf(r); used > room {
			return text[:i]
		}
	}
	return text
}

// tail returns as much of the end of text as fits.
func tail(text string, room int) string {
	used, i := 0, len(text)
	for i > 0 {
		r, n := utf8.DecodeLastRuneInString(text[:i])
		if used += cellsOf(r); used > room {
			break
		}
		i -= n
	}
	return text[i:]
}

// cells returns how many columns of a terminal text takes.
func cells(text string) int {
	n := 0
	for _, r := range text {
		n += cellsOf(r)
	}
	return n
}

func cellsOf(r rune) int {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me):
		return 0
	case r < 0x1100:
		return 1
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// harmless replaces what a terminal may act on or not show: a tab by a space, a
// control character by its sign, anything else without a picture of its own by
// the replacement character.
func harmless(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\u00a0':
			return ' '
		case r < ' ':
			return '\u2400' + r
		case r == 0x7f:
			return '\u2421'
		case !unicode.IsGraphic(r):
			return utf8.RuneError
		}
		return r
	}, text)
}

// harmlessLines is harmless and keeps line ends.
func harmlessLines(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = harmless(lines[i])
	}
	return strings.Join(lines, "\n")
}
