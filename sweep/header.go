package sweep

import (
	"math"
	"strings"
	"unicode"
)

// A role is what a column of a table holds.
type role int

const (
	unknown role = iota
	passed       // to be passed over
	frequency
	magnitude
	phase
	realPart
	imaginary
	coherence
)

func (r role) String() string {
	return [...]string{"a column of unknown meaning", "a column passed over", "frequency", "|Z|", "phase", "real part", "imaginary part", "coherence"}[r]
}

// A field is a column whose meaning is known.
type field struct {
	role    role
	scale   float64 // to SI: Hz, ohm, rad; 0: the header does not say
	decibel bool    // |Z| in dB re 1 ohm
}

var unitScale = map[string]struct {
	role  role
	scale float64
}{
	"hz": {frequency, 1}, "hertz": {frequency, 1}, "khz": {frequency, 1e3},
	"ω": {magnitude, 1}, "ohm": {magnitude, 1}, "ohms": {magnitude, 1},
	"kω": {magnitude, 1e3}, "kohm": {magnitude, 1e3}, "kohms": {magnitude, 1e3},
	"mω": {magnitude, 1e-3}, "mohm": {magnitude, 1e-3}, "mohms": {magnitude, 1e-3}, "milliohm": {magnitude, 1e-3}, "milliohms": {magnitude, 1e-3},
	"deg": {phase, math.Pi / 180}, "degs": {phase, math.Pi / 180}, "degree": {phase, math.Pi / 180}, "degrees": {phase, math.Pi / 180}, "°": {phase, math.Pi / 180},
	"rad": {phase, 1}, "rads": {phase, 1}, "radian": {phase, 1}, "radians": {phase, 1},
}

// classify reads the name of a column, such as "Freq (Hz)", "|Z| / ohm",
// "Im(Z)", "phase rad" or "kHz".
func classify(name string) field {
	s := strings.ToLower(strings.TrimSpace(name))
	s = strings.NewReplacer("\u2126", "ω", "º", "°", "\u2212", "-", "\u2032", "'", "\u2033", "''").Replace(s)
	if s == "-" || s == "–" || s == "—" {
		return field{role: passed}
	}
	if s == "" || len([]rune(s)) > 40 {
		return field{}
	}
	words := strings.FieldsFunc(s, func(r rune) bool {
		return !(unicode.IsLetter(r) || unicode.IsDigit(r) || r == '\'' || r == '°' || r == '|')
	})
	if len(words) > 6 {
		return field{}
	}

	var f field
	unit := unknown
	names := words[:0:0]
	for i, w := range words {
		if u, ok := unitScale[w]; ok && !(w == "ω" && i == 0 && len(words) > 1) {
			unit, f.scale = u.role, u.scale
			continue
		}
		if w == "db" || w == "dbω" || w == "dbohm" {
			unit, f.decibel = magnitude, true
			continue
		}
		names = append(names, w)
	}
	is := func(exact ...string) bool {
		for _, w := range names {
			for _, e := range exact {
				if w == e {
					return true
				}
			}
		}
		return false
	}
	begins := func(prefix ...string) bool {
		for _, w := range names {
			for _, p := range prefix {
				if strings.HasPrefix(w, p) {
					return true
				}
			}
		}
		return false
	}
	switch {
	case begins("coh", "kohär", "γ"):
		f.role = coherence
	case begins("phas", "angle", "zphas", "arg", "phi", "φ", "ϕ", "theta", "θ", "winkel") || is("p", "ph"):
		f.role = phase
	case begins("imag", "zimag", "reactance", "reakt") || is("im", "zim", "x", "xs", "z''", "|z''|"):
		f.role = imaginary
		if strings.HasPrefix(s, "-") {
			if f.scale == 0 {
				f.scale = 1
			}
			f.scale = -f.scale
		}
	case begins("real", "zreal", "resistance", "resist") || is("re", "zre", "r", "rs", "z'"):
		f.role = realPart
	case begins("freq", "fréq", "frec", "frek") || is("f"):
		f.role = frequency
	case begins("imp", "mag", "zmag", "mod", "zmod", "betrag", "zabs", "abs") || is("z", "|z|", "|imp|"):
		f.role = magnitude
	case len(names) == 0:
		f.role = unit
	}
	if f.role == unknown {
		return field{}
	}
	// "phase (deg)" fits; "frequency (deg)" does not mean what it says.
	fits := unit == unknown || unit == f.role ||
		unit == magnitude && (f.role == realPart || f.role == imaginary) && !f.decibel
	if !fits {
		return field{}
	}
	return f
}

// complete reports whether fields make an impedance, each part once.
func complete(fs []field) bool {
	var n [coherence + 1]int
	for _, f := range fs {
		n[f.role]++
	}
	return n[frequency] == 1 && n[phase] <= 1 && n[coherence] <= 1 &&
		(n[magnitude] == 1 && n[realPart] == n[imaginary] && n[realPart] <= 1 ||
			n[magnitude] == 0 && n[phase] == 0 && n[realPart] == 1 && n[imaginary] == 1)
}

// header reads a header line whose columns may be set apart otherwise than the
// numbers are. It returns the columns' meanings if they make an impedance.
func header(line string, table dialect) []field {
	line = strings.TrimLeft(line, "#!%*;/' \t")
	try := func(cells []cell) []field {
		fs := make([]field, len(cells))
		for i, c := range cells {
			fs[i] = classify(c.text)
		}
		if len(fs) >= 2 && complete(fs) {
			return fs
		}
		return nil
	}
	if table.sep != ' ' {
		if fs := try(table.split(line, nil)); fs != nil {
			return fs
		}
	}
	for _, sep := range []byte{'\t', ';', ','} {
		if fs := try(dialect{sep: sep}.split(line, nil)); fs != nil {
			return fs
		}
	}
	// Two blanks or more, or a tab, part the columns: "Freq (Hz)   |Z| (ohm)".
	wide := strings.ReplaceAll(line, "\t", "  ")
	for strings.Contains(wide, "   ") {
		wide = strings.ReplaceAll(wide, "   ", "  ")
	}
	var cells []cell
	for _, c := range strings.Split(wide, "  ") {
		if c = strings.TrimSpace(c); c != "" {
			cells = append(cells, cell{text: c})
		}
	}
	if fs := try(cells); fs != nil {
		return fs
	}
	// Single blanks: a unit in brackets belongs to the word before it.
	cells = cells[:0]
	for _, w := range strings.Fields(line) {
		if n := len(cells); n > 0 && strings.ContainsAny(w[:1], "([/") {
			cells[n-1].text += " " + w
			continue
		}
		cells = append(cells, cell{text: w})
	}
	return try(cells)
}
