package sweep

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// A Fault is one thing wrong in a file.
type Fault struct {
	Name   string // file
	Line   int    // from 1; 0: the file as a whole
	Column int    // from 1, in characters; 0: the whole line
	Source string // the line itself
	Found  string
	Wanted string
}

func (f *Fault) Error() string {
	var s strings.Builder
	s.WriteString(f.Name)
	if f.Line > 0 {
		fmt.Fprintf(&s, ":%d", f.Line)
	}
	if f.Column > 0 {
		fmt.Fprintf(&s, ":%d", f.Column)
	}
	fmt.Fprintf(&s, ": %s", f.Found)
	if f.Wanted != "" {
		fmt.Fprintf(&s, "; wanted %s", f.Wanted)
	}
	if f.Source != "" {
		fmt.Fprintf(&s, "\n    %s", shorten(f.Source, 76))
	}
	return s.String()
}

// Faults are all faults of a file, in the file's order.
type Faults []*Fault

// shown is the number of faults an error message spells out.
const shown = 10

func (fs Faults) Error() string {
	var s strings.Builder
	for i, f := range fs {
		if i == shown {
			fmt.Fprintf(&s, "\n%s: %d more faults", f.Name, len(fs)-shown)
			break
		}
		if i > 0 {
			s.WriteByte('\n')
		}
		s.WriteString(f.Error())
	}
	return s.String()
}

// whole is a fault of a file as a whole.
func whole(name, found, wanted string) error {
	return Faults{{Name: name, Found: found, Wanted: wanted}}
}

// shorten cuts s to n characters and makes it printable.
func shorten(s string, n int) string {
	s = strings.Map(func(r rune) rune {
		if r == '\t' {
			return ' '
		}
		if r < ' ' || r == utf8.RuneError || r == 0x7f {
			return '·'
		}
		return r
	}, strings.TrimRight(s, " \t"))
	if utf8.RuneCountInString(s) <= n {
		return s
	}
	r := []rune(s)
	return string(r[:n-1]) + "…"
}
