package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// Touchstone files follow the IBIS Open Forum's Touchstone File Format
// Specification, versions 1.1 (2003) and 2.0 (2009). One-ports only: an
// impedance has one port.

// touchstoneUnit are the frequency units of an option line, Hz.
var touchstoneUnit = map[string]float64{"HZ": 1, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9}

var touchstoneName = regexp.MustCompile(`(?i)^\.(ts|s\d+p|z\d+p|y\d+p)$`)

// isTouchstone tells by the first line that is neither blank nor comment: a
// version keyword or an option line. An option line without RI, MA, DB or R, as
// "# Hz Z", counts only in a file named like a Touchstone file, for elsewhere
// it may be a comment or a header.
func isTouchstone(lines []string, name string) bool {
	named := touchstoneName.MatchString(filepath.Ext(name))
	for _, l := range lines {
		l = uncomment(l)
		if l == "" {
			continue
		}
		if strings.HasPrefix(strings.ToUpper(l), "[VERSION]") {
			return true
		}
		if l[0] != '#' {
			break
		}
		words := strings.Fields(strings.ToUpper(l[1:]))
		sure := false
		for i := 0; i < len(words); i++ {
			switch w := words[i]; {
			case w == "RI" || w == "MA" || w == "DB":
				sure = true
			case w == "R" && i+1 < len(words):
				sure = true
				i++
			case touchstoneUnit[w] > 0, w == "S", w == "Y", w == "Z":
			default:
				return named
			}
		}
		return named || sure
	}
	return named
}

// uncomment cuts a Touchstone comment and the blanks around what is left.
func uncomment(l string) string {
	if i := strings.IndexByte(l, '!'); i >= 0 {
		l = l[:i]
	}
	return strings.TrimFunc(l, isSpace)
}

// touchstone is the state of reading one file.
type touchstone struct {
	*data
	version   int // 1 or 2
	unit      float64
	parameter string  // S Y Z
	format    string  // RI MA DB
	reference float64 // ohm

	haveOption bool
	ports      int // 0: not said
	expected   int // number of frequencies; -1: not said
	inData     bool
	ended      bool
	rows       int
	last       float64
}

func (d *data) readTouchstone() error {
	if ext := strings.ToLower(filepath.Ext(d.name)); regexp.MustCompile(`^\.s\d+p$`).MatchString(ext) && ext != ".s1p" {
		return d.fatal(0, -1, "a one-port, named .s1p or .ts", "the name says a network of %s ports", ext[2:len(ext)-1])
	}
	t := &touchstone{data: d, version: 1, unit: 1e9, parameter: "S", format: "MA", reference: 50, expected: -1}
	d.hasPhase = true
	for i := 0; i < len(d.lines) && !t.ended; i++ {
		l := uncomment(d.lines[i])
		if l == "" {
			continue
		}
		at := strings.Index(d.lines[i], l[:1])
		var err error
		switch l[0] {
		case '[':
			i, err = t.keyword(i, l, at)
		case '#':
			if !t.haveOption { // later option lines are ignored, as the specification says
				err = t.option(i+1, l[1:], at+1)
				t.haveOption = true
			}
		default:
			err = t.row(i + 1)
		}
		if err != nil {
			return err
		}
	}
	if t.expected >= 0 && t.rows != t.expected {
		return d.fatal(0, -1, fmt.Sprintf("%d, as [Number of Frequencies] says", t.expected), "%s of data", count(t.rows, "row"))
	}
	return nil
}

// option reads the option line after its #: unit, parameter, format, R n.
func (t *touchstone) option(line int, s string, at int) error {
	cells := dialect{sep: ' '}.split(s, nil)
	for i := 0; i < len(cells); i++ {
		w := strings.ToUpper(cells[i].text)
		switch w {
		case "HZ", "KHZ", "MHZ", "GHZ":
			t.unit = touchstoneUnit[w]
		case "S", "Y", "Z":
			t.parameter = w
		case "G", "H":
			return t.fatal(line, at+cells[i].at, "S, Y or Z", "%s parameters belong to two-ports", w)
		case "RI", "MA", "DB":
			t.format = w
		case "R":
			i++
			if i == len(cells) {
				return t.fatal(line, at+cells[i-1].at, "R and a resistance in ohm", "no resistance after R")
			}
			v, ok := dialects[0].number(cells[i].text)
			if !ok || v < minMagnitude || v > maxMagnitude {
				return t.fatal(line, at+cells[i].at, "a resistance in ohm", "a reference resistance of %q", cells[i].text)
			}
			t.reference = v
		default:
			return t.fatal(line, at+cells[i].at, "Hz, kHz, MHz or GHz; S, Y or Z; RI, MA or DB; R and a resistance", "%q in the option line", cells[i].text)
		}
	}
	return nil
}

// keyword reads a line [Keyword] argument; i is its index and comes back as
// the index of the last line read.
func (t *touchstone) keyword(i int, l string, at int) (int, error) {
	end := strings.IndexByte(l, ']')
	if end < 0 {
		return i, t.fatal(i+1, at, "]", "a keyword without its closing bracket")
	}
	key := strings.ToLower(strings.Join(strings.Fields(l[1:end]), " "))
	arg := strings.TrimFunc(l[end+1:], isSpace)
	if t.version < 2 && key != "version" {
		return i, t.fatal(i+1, at, "[Version] 2.0 first", "the keyword [%s] in a file of version 1", key)
	}
	whole := func() (int, error) {
		n, err := strconv.Atoi(arg)
		if err != nil || n < 0 {
			return 0, t.fatal(i+1, at, "a whole number", "[%s] of %q", key, shorten(arg, 30))
		}
		return n, nil
	}
	switch key {
	case "version":
		if arg != "2.0" && arg != "2.1" {
			return i, t.fatal(i+1, at, "2.0 or 2.1; a file of version 1 has no [Version]", "version %q", shorten(arg, 30))
		}
		t.version = 2
	case "number of ports":
		n, err := whole()
		if err != nil {
			return i, err
		}
		if n != 1 {
			return i, t.fatal(i+1, at, "a one-port: an impedance has one port", "a network of %d ports", n)
		}
		t.ports = n
	case "number of frequencies":
		n, err := whole()
		if err != nil {
			return i, err
		}
		t.expected = n
	case "reference":
		for arg == "" && i+1 < len(t.lines) { // the value may stand on a line of its own
			i++
			arg = uncomment(t.lines[i])
		}
		v, ok := dialects[0].number(arg)
		if !ok || v < minMagnitude || v > maxMagnitude {
			return i, t.fatal(i+1, -1, "one resistance in ohm", "[Reference] of %q", shorten(arg, 30))
		}
		t.reference = v
	case "begin information":
		for i++; ; i++ {
			if i >= len(t.lines) {
				return i, t.fatal(len(t.lines), -1, "[End Information]", "the file ends inside [Begin Information]")
			}
			if strings.EqualFold(uncomment(t.lines[i]), "[end information]") {
				return i, nil
			}
		}
	case "network data":
		if t.ports == 0 {
			return i, t.fatal(i+1, at, "[Number of Ports] 1 before it", "[Network Data] of a network of unknown size")
		}
		t.inData = true
	case "noise data":
		return i, t.fatal(i+1, at, "a one-port without noise data", "noise data")
	case "end":
		t.ended = true
	case "two-port data order", "two-port order", "matrix format", "mixed-mode order", "number of noise frequencies":
		// of no account with one port
	default:
		return i, t.fatal(i+1, at, "a keyword of Touchstone 2.0", "the keyword [%s]", shorten(key, 40))
	}
	return i, nil
}

// row reads one line of data: a frequency and a pair.
func (t *touchstone) row(line int) error {
	text := t.lines[line-1]
	if t.version >= 2 && !t.inData {
		return t.fatal(line, -1, "[Network Data] before the numbers", "a line that is neither keyword nor comment")
	}
	if !t.haveOption {
		t.haveOption = true // all defaults
		t.warn("no option line: read as GHz, S, MA, R 50, the defaults of the specification")
	}
	t.rows++
	body := text
	if i := strings.IndexByte(body, '!'); i >= 0 {
		body = body[:i]
	}
	cells := dialect{sep: ' '}.split(body, nil)
	if len(cells) == 9 {
		return t.fatal(line, -1, "a frequency and one pair: a one-port", "a row of %d numbers, as of a two-port", len(cells))
	}
	if len(cells) != 3 {
		t.fault(line, -1, "3: a frequency and one pair", "a row of %s", count(len(cells), "number"))
		return nil
	}
	var v [3]float64
	for c, name := range []string{"the frequency", "the first of the pair", "the second of the pair"} {
		var ok bool
		if v[c], ok = dialects[0].number(cells[c].text); !ok {
			t.fault(line, cells[c].at, name+" as a number", "%q is not a number", shorten(cells[c].text, 30))
			return nil
		}
	}
	f := v[0] * t.unit
	if f < t.last {
		t.fault(line, cells[0].at, "frequencies in ascending order", "a frequency of %s after a higher one", cells[0].text)
		return nil
	}
	t.last = f
	z := t.impedance(v[1], v[2])
	p := point{line: line, f: f}
	p.mag, p.phase = cmplx.Polar(z)
	if cmplx.IsNaN(z) || cmplx.IsInf(z) {
		t.fault(line, cells[1].at, "a value with a finite impedance", "%s of %s %s, an open circuit", t.parameter, cells[1].text, cells[2].text)
		return nil
	}
	if t.check(p, cells[0].at, cells[1].at, cells[0].text, cells[1].text) {
		t.points = append(t.points, p)
	}
	return nil
}

// impedance turns a pair into ohm. Version 1 gives Z and Y normalised to the
// reference, version 2 gives them in ohm and siemens.
func (t *touchstone) impedance(a, b float64) complex128 {
	var x complex128
	switch t.format {
	case "RI":
		x = complex(a, b)
	case "MA":
		x = cmplx.Rect(a, b*math.Pi/180)
	case "DB":
		x = cmplx.Rect(math.Pow(10, a/20), b*math.Pi/180)
	}
	r := complex(t.reference, 0)
	norm := r
	if t.version >= 2 {
		norm = 1
	}
	switch t.parameter {
	case "Z":
		return x * norm
	case "Y":
		if x == 0 {
			return cmplx.Inf()
		}
		return norm / x
	}
	if x == 1 {
		return cmplx.Inf()
	}
	return r * (1 + x) / (1 - x)
}
