package quantity

import (
	"math"
	"math/big"
	"strconv"
	"strings"
)

// The largest and the smallest value read, in SI units: far beyond anything that
// can be built, and small enough that powers and products of values stay finite.
const (
	largest  = 1e30
	smallest = 1e-30
	longest  = 80 // bytes of a whole value
)

// Parse reads text as a value of dimension want. It returns the value in SI
// units, correctly rounded, and the unit it was written in ("" for a Ratio given
// as a plain number). Temperatures become kelvin. The value is finite, but
// nothing is said about its sign or its physical range: "-300 C" is -26.85 K.
//
// The error is always an *Error.
func Parse(text string, want Dimension) (si float64, unit string, err error) {
	fail := func(kind Kind, number, unit string) (float64, string, error) {
		e := &Error{Kind: kind, Text: text, Number: number, Unit: unit, Want: want}
		e.advise()
		return 0, "", e
	}
	if strings.TrimSpace(text) == "" {
		return fail(Empty, "", "")
	}
	if len(text) > longest {
		return fail(TooLong, "", "")
	}
	if trimmed := strings.TrimSpace(text); trimmed != text {
		return fail(Spacing, "", "")
	}
	n := numberLength(text)
	if n == 0 {
		return fail(NotANumber, "", "")
	}
	number, rest := text[:n], text[n:]
	name := strings.TrimPrefix(rest, " ")
	if goesOn(name) {
		return fail(NotANumber, number, name)
	}
	if strings.TrimSpace(name) != name {
		return fail(Spacing, number, strings.TrimSpace(name))
	}
	u, known := want.find(name)
	switch {
	case known:
	case name == "":
		return fail(MissingUnit, number, "")
	case len(measures(name)) > 0:
		return fail(WrongDimension, number, name)
	default:
		return fail(UnknownUnit, number, name)
	}
	si, kind := convert(number, u)
	if kind != 0 {
		return fail(kind, number, name)
	}
	return si, u.text, nil
}

// numberLength returns how much of the start of text is a decimal number:
// [+-] digits [. digits] [e [+-] digits], or 0.
func numberLength(text string) int {
	i := 0
	digits := func() (n int) {
		for ; i < len(text) && '0' <= text[i] && text[i] <= '9'; i++ {
			n++
		}
		return n
	}
	sign := func() {
		if i < len(text) && (text[i] == '+' || text[i] == '-') {
			i++
		}
	}
	sign()
	n := digits()
	if i < len(text) && text[i] == '.' {
		i++
		n += digits()
	}
	if n == 0 {
		return 0
	}
	if end := i; i < len(text) && (text[i] == 'e' || text[i] == 'E') {
		i++
		sign()
		if digits() == 0 {
			return end
		}
	}
	return i
}

// goesOn reports whether what follows a number looks like more of it: "12,5",
// "1 000", "0x1F", "1/2", "30 x 40 mm".
func goesOn(rest string) bool {
	rest = strings.TrimSpace(rest)
	return rest != "" && strings.IndexByte("0123456789.,_/xX", rest[0]) >= 0
}

// convert returns the number in SI units, rounded once, or the Kind TooLarge or
// TooSmall. A zero is zero, without sign.
func convert(number string, u unit) (float64, Kind) {
	// Exponents are bounded here: a rational with a huge one would fill the memory.
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || math.Abs(v) > largest*1e10:
		return 0, TooLarge
	case v == 0 && strings.Trim(mantissa(number), "+-.0") == "":
		number = "0"
	case math.Abs(v) < smallest*1e-10:
		return 0, TooSmall
	}
	si := u.si(exactly(number))
	switch {
	case math.Abs(si) > largest:
		return 0, TooLarge
	case si != 0 && math.Abs(si) < smallest:
		return 0, TooSmall
	}
	return si, 0
}

func mantissa(number string) string {
	if e := strings.IndexAny(number, "eE"); e >= 0 {
		return number[:e]
	}
	return number
}

// si returns v·scale + offset, rounded to the nearest float64.
func (u unit) si(v *big.Rat) float64 {
	r := new(big.Rat).Mul(v, u.scale)
	f, _ := r.Add(r, u.offset).Float64()
	return f
}

// in returns the value in this unit, exactly.
func (u unit) in(si float64) *big.Rat {
	r := new(big.Rat).SetFloat64(si)
	r.Sub(r, u.offset)
	return r.Quo(r, u.scale)
}

// measures returns the dimensions that know a unit of this spelling.
func measures(text string) (found []Dimension) {
	if text == "" {
		return nil
	}
	for d := range dimensions {
		if _, ok := d.find(text); ok {
			found = append(found, d)
		}
	}
	return found
}
