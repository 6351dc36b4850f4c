package quantity

import (
	"fmt"
	"strings"
)

// Kind says what is wrong with a value.
type Kind int

const (
	_              Kind = iota
	Empty               // nothing but white space
	NotANumber          // no plain decimal number in front
	MissingUnit         // a number and nothing after it
	UnknownUnit         // a unit that no dimension knows
	WrongDimension      // a unit of another dimension
	TooLarge            // beyond 1e30 in SI units
	TooSmall            // not zero, and under 1e-30 in SI units
	Spacing             // white space other than one space between number and unit
	TooLong             // more characters than any sensible value has
)

// Error is what Parse has against a value.
type Error struct {
	Kind   Kind
	Text   string // the whole value as given
	Number string // the number in it, as far as one was found
	Unit   string // what follows the number
	Want   Dimension
	// Found holds the dimensions of the unit given, for WrongDimension, or of the
	// unit that was probably meant, for UnknownUnit. It may be empty.
	Found []Dimension
	// Suggestion is a value that Parse accepts as Want and that probably is what
	// was meant, or "".
	Suggestion string

	note string // one more remark, or ""
}

// Error says what was found, what is wanted, and what was probably meant.
func (e *Error) Error() string {
	var s strings.Builder
	switch e.Kind {
	case Empty:
		s.WriteString("the value is empty")
	case NotANumber:
		if e.Number == "" {
			fmt.Fprintf(&s, "%s does not begin with a plain decimal number", quote(e.Text))
		} else {
			fmt.Fprintf(&s, "%s is not one plain decimal number and a unit", quote(e.Text))
		}
	case MissingUnit:
		fmt.Fprintf(&s, "%s has no unit", quote(e.Text))
	case UnknownUnit:
		fmt.Fprintf(&s, "%s in %s is not a unit known here", quote(e.Unit), quote(e.Text))
	case WrongDimension:
		fmt.Fprintf(&s, "%s is %s", quote(e.Text), either(e.Found))
	case TooLarge:
		fmt.Fprintf(&s, "%s is too large (beyond 1e30 in SI units)", quote(e.Text))
	case TooSmall:
		fmt.Fprintf(&s, "%s is too small (not zero, and under 1e-30 in SI units)", quote(e.Text))
	case TooLong:
		fmt.Fprintf(&s, "%s is too long for a value", quote(e.Text))
	case Spacing:
		fmt.Fprintf(&s, "%s has white space besides one space between number and unit", quote(e.Text))
	}
	if e.note != "" {
		s.WriteString(" (" + e.note + ")")
	}
	s.WriteString("; wanted: " + wanted(e.Want))
	if e.Suggestion != "" {
		s.WriteString("; did you mean " + quote(e.Suggestion) + "?")
	}
	return s.String()
}

// quote shows what was given on one line, cut where it is overlong.
func quote(text string) string {
	const most = 40
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most]) + "…"
	}
	return fmt.Sprintf("%q", text)
}

// wanted describes a dimension: `a volume in L, l, cm3 or m3, such as "12.5 L"`.
func wanted(d Dimension) string {
	text := article(d.String()) + " in " + or(d.Units())
	if d == Ratio {
		text = "a ratio as a plain number or in %"
	}
	return text + ", such as " + quote(table[d].example)
}

func either(found []Dimension) string {
	var names []string
	for _, d := range found {
		names = append(names, article(d.String()))
	}
	return or(names)
}

func article(noun string) string {
	if strings.IndexByte("aeiou", noun[0]) >= 0 {
		return "an " + noun
	}
	return "a " + noun
}

func or(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	last := len(list) - 1
	return strings.Join(list[:last], ", ") + " or " + list[last]
}
