package quantity

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"
)

// Format writes an SI value in the given unit with as few digits as read back to
// the same float64: "0.95 L". Values beyond what Parse accepts (1e±30) are
// written, but Parse refuses them; a negative zero loses its sign. The unit must
// be one that Factor knows and the value finite, else Format panics. As "F" it
// takes the farad; use Dimension.Format where it may be fahrenheit.
func Format(si float64, unit string) string {
	_, _, d, ok := Factor(unit)
	if !ok {
		panic(fmt.Sprintf("quantity: no unit %q", unit))
	}
	return d.Format(si, unit)
}

// Format is the function Format for a unit of this dimension.
func (d Dimension) Format(si float64, unit string) string {
	u, ok := d.find(unit)
	if !ok {
		panic(fmt.Sprintf("quantity: no unit %q of %s", unit, d))
	}
	if math.IsNaN(si) || math.IsInf(si, 0) {
		panic(fmt.Sprintf("quantity: %g is not a value", si))
	}
	return join(shortest(si, u), unit)
}

func join(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + " " + unit
}

// precision, in bits, at which a value in its unit is rounded to decimals.
const precision = 400

// shortest returns the decimal with the fewest digits that converts back to si.
func shortest(si float64, u unit) string {
	if si == 0 && u.offset.Sign() == 0 {
		return "0"
	}
	v := new(big.Float).SetPrec(precision).SetRat(u.in(si))
	// 17 significant digits name any float64 after a change of scale. With an
	// offset, digits are lost or gained against zero, so decimals are counted.
	style, first, last := byte('e'), 0, 16
	if u.offset.Sign() != 0 {
		style, last = 'f', 120
	}
	for digits := first; digits < last; digits++ {
		text := v.Text(style, digits)
		if u.si(exactly(text)) == si {
			return plain(text)
		}
	}
	return plain(v.Text(style, last))
}

// plain rewrites a decimal without needless zeros, with an exponent only when it
// is very large or small.
func plain(text string) string {
	negative := strings.HasPrefix(text, "-")
	text = strings.TrimPrefix(text, "-")
	exponent := 0
	if e := strings.IndexByte(text, 'e'); e >= 0 {
		exponent, _ = strconv.Atoi(text[e+1:])
		text = text[:e]
	}
	whole, part, _ := strings.Cut(text, ".")
	digits := whole + part
	point := len(whole) + exponent // digits before the decimal point
	for len(digits) > 0 && digits[0] == '0' {
		digits, point = digits[1:], point-1
	}
	digits = strings.TrimRight(digits, "0")
	switch {
	case digits == "":
		return "0"
	case point > 15 || point < -3:
		exponent := strconv.Itoa(point - 1)
		text = digits[:1]
		if len(digits) > 1 {
			text += "." + digits[1:]
		}
		text += "e" + exponent
	case point <= 0:
		text = "0." + strings.Repeat("0", -point) + digits
	case point >= len(digits):
		text = digits + strings.Repeat("0", point-len(digits))
	default:
		text = digits[:point] + "." + digits[point:]
	}
	if negative {
		return "-" + text
	}
	return text
}

// System is the family of units a person reads.
type System int

const (
	Metric System = iota // millimetres, litres, degrees Celsius
	Inch                 // inches, cubic feet, degrees Fahrenheit; else as Metric
)

// step says that a unit is the fitting one from this SI value on.
type step struct {
	unit string
	from float64
}

// steps reads "unit from" rows, in ascending order.
func steps(rows ...string) (list []step) {
	for _, row := range rows {
		text, from, _ := strings.Cut(row, " ")
		v, _ := exactly(from).Float64()
		list = append(list, step{text, v})
	}
	return list
}

// Show writes an SI value for people: in the unit that fits its size and system,
// with at most the given number of significant digits (at least one) and no
// trailing zeros. The unit is spelled as Parse accepts it, so that what is shown
// can be typed back. NaN and infinity show as "not finite".
func Show(si float64, d Dimension, system System, digits int) string {
	if math.IsNaN(si) || math.IsInf(si, 0) {
		return "not finite"
	}
	digits = min(max(digits, 1), 17)
	ladder := table[d].metric
	if system == Inch && table[d].inch != nil {
		ladder = table[d].inch
	}
	i := 0
	if si == 0 {
		i = max(0, slices.IndexFunc(ladder, func(s step) bool { return s.unit == table[d].units[0].text }))
	}
	for i < len(ladder)-1 && math.Abs(si) >= ladder[i+1].from {
		i++
	}
	for {
		u, _ := d.find(ladder[i].unit)
		text := new(big.Float).SetPrec(precision).SetRat(u.in(si)).Text('e', digits-1)
		// 999.96 mm in three digits is 1 m, not 1000 mm.
		if i < len(ladder)-1 && math.Abs(u.si(exactly(text))) >= ladder[i+1].from {
			i++
			continue
		}
		return join(plain(text), u.text)
	}
}
