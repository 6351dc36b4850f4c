package sweep

import (
	"bytes"
	"encoding/binary"
	"math"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// decodeText turns the bytes of a file into text: UTF-8 or UTF-16 by their
// byte-order marks, else UTF-8, else one byte a character (ISO 8859-1).
func decodeText(b []byte, name string) (string, error) {
	if len(b) == 0 {
		return "", whole(name, "the file is empty", "a table of frequency and impedance, a Touchstone one-port, or a two-channel WAV recording")
	}
	switch {
	case bytes.HasPrefix(b, []byte("\xef\xbb\xbf")):
		b = b[3:]
	case bytes.HasPrefix(b, []byte("\xff\xfe")):
		return fromUTF16(b[2:], binary.LittleEndian), nil
	case bytes.HasPrefix(b, []byte("\xfe\xff")):
		return fromUTF16(b[2:], binary.BigEndian), nil
	}
	if bytes.IndexByte(b, 0) >= 0 {
		return "", whole(name, "not a text file: it holds zero bytes", "a table of frequency and impedance, a Touchstone one-port, or a two-channel WAV recording")
	}
	if utf8.Valid(b) {
		return string(b), nil
	}
	r := make([]rune, len(b))
	for i, c := range b {
		r[i] = rune(c)
	}
	return string(r), nil
}

func fromUTF16(b []byte, order binary.ByteOrder) string {
	u := make([]uint16, len(b)/2)
	for i := range u {
		u[i] = order.Uint16(b[2*i:])
	}
	return strings.ReplaceAll(string(utf16.Decode(u)), "\x00", "\ufffd")
}

// splitLines splits at LF, CRLF or CR.
func splitLines(s string) []string {
	if strings.Contains(s, "\r") {
		s = strings.ReplaceAll(s, "\r\n", "\n")
		s = strings.ReplaceAll(s, "\r", "\n")
	}
	lines := strings.Split(s, "\n")
	// An old end-of-file mark counts as blank.
	for n := len(lines); n > 0 && strings.Trim(lines[n-1], " \t\x1a") == ""; n-- {
		lines = lines[:n-1]
	}
	return lines
}

// A cell is one field of a line, trimmed and without quotes.
type cell struct {
	text string
	at   int // where it starts: byte offset in the line
}

// column is the position of byte offset at in line, in characters from 1.
func column(line string, at int) int {
	return utf8.RuneCountInString(line[:at]) + 1
}

// A dialect is how a table sets its numbers apart.
type dialect struct {
	sep   byte // '\t', ';', ',' or ' ' for any white space
	comma bool // decimal comma
}

// dialects in order of preference where several read a file equally well.
var dialects = []dialect{
	{'\t', false}, {';', false}, {',', false}, {' ', false},
	{';', true}, {'\t', true}, {' ', true}, {',', true},
}

func isSpace(r rune) bool {
	return r == ' ' || r == '\t' || r == '\u00a0' || r == '\u2009' || r == '\u202f'
}

// split cuts line into cells, appended to into. Quotes may enclose a cell.
func (d dialect) split(line string, into []cell) []cell {
	if d.sep == ' ' {
		start := -1
		for i, r := range line {
			if isSpace(r) {
				if start >= 0 {
					into = append(into, trimCell(line, start, i))
				}
				start = -1
			} else if start < 0 {
				start = i
			}
		}
		if start >= 0 {
			into = append(into, trimCell(line, start, len(line)))
		}
		return into
	}
	start, quoted := 0, false
	for i := 0; i < len(line); i++ {
		switch {
		case line[i] == '"':
			quoted = !quoted
		case line[i] == d.sep && !quoted:
			into = append(into, trimCell(line, start, i))
			start = i + 1
		}
	}
	into = append(into, trimCell(line, start, len(line)))
	for n := len(into); n > 0 && into[n-1].text == ""; n-- { // a separator may end the line
		into = into[:n-1]
	}
	return into
}

func trimCell(line string, from, to int) cell {
	s := line[from:to]
	t := strings.TrimLeftFunc(s, isSpace)
	at := from + len(s) - len(t)
	t = strings.TrimRightFunc(t, isSpace)
	if len(t) >= 2 && t[0] == '"' && t[len(t)-1] == '"' {
		t = strings.TrimFunc(t[1:len(t)-1], isSpace)
	}
	return cell{t, at}
}

// number reads a decimal number; its exponent may be marked E or D, its minus
// sign may be the typographic one. Numbers too large for a float64 and the
// words NaN and Inf are not numbers here.
func (d dialect) number(s string) (float64, bool) {
	if s == "" || len(s) > 64 {
		return 0, false
	}
	plain := true
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9', c == '.' && !d.comma, c == '+', c == '-', c == 'e', c == 'E':
		case c == ',' && d.comma, c == 'd', c == 'D', c >= 0x80:
			plain = false
		default:
			return 0, false
		}
	}
	if !plain {
		s = strings.ReplaceAll(s, "\u2212", "-")
		if d.comma {
			s = strings.Replace(s, ",", ".", 1)
		}
		if i := strings.IndexAny(s, "dD"); i > 0 {
			s = s[:i] + "e" + s[i+1:]
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}
