package quantity

import (
	"math/big"
	"slices"
	"strings"

	"github.com/agext/levenshtein"
)

// typography turns signs that people type or paste into the letters of the
// accepted spellings.
var typography = strings.NewReplacer(
	"\u00b5", "u", "\u03bc", "u", // micro sign, Greek mu
	"\u2126", "ohm", "\u03a9", "ohm", // ohm sign, Greek omega
	"Ohms", "ohm", "Ohm", "ohm", "ohms", "ohm",
	"²", "2", "³", "3", "^", "", "**", "",
	"·", "*", "⋅", "*", "∙", "*", "×", "*", "•", "*",
	"℃", "C", "℉", "F", "°C", "C", "°F", "F", "°K", "K", "° C", "C", "° F", "F",
	"⁄", "/", "∕", "/", "\u00a0", " ", "\u202f", " ", "\u2009", " ",
	"″", `"`, "”", `"`, "''", `"`, "′", "'", "’", "'",
	"％", "%",
)

// names are other spellings of accepted units, in lower case. Each names exactly
// the same unit, so the number stays.
var names = map[string]string{
	"meter": "m", "metre": "m", "centimeter": "cm", "centimetre": "cm",
	"millimeter": "mm", "millimetre": "mm", "micrometer": "um", "micrometre": "um", "micron": "um",
	"inch": "in", "inche": "in", `"`: "in", "foot": "ft", "feet": "ft", "'": "ft",
	"sq mm": "mm2", "sqmm": "mm2", "sq cm": "cm2", "sqcm": "cm2", "sq m": "m2", "sqm": "m2", "sq in": "in2", "sqin": "in2",
	"square millimeter": "mm2", "square centimeter": "cm2", "square meter": "m2", "square inche": "in2", "square inch": "in2",
	"square millimetre": "mm2", "square centimetre": "cm2", "square metre": "m2",
	"liter": "L", "litre": "L", "ltr": "L", "dm3": "L", "cubic decimeter": "L", "cubic decimetre": "L",
	"ml": "cm3", "milliliter": "cm3", "millilitre": "cm3", "cc": "cm3", "ccm": "cm3",
	"cubic centimeter": "cm3", "cubic centimetre": "cm3", "cubic meter": "m3", "cubic metre": "m3", "cbm": "m3",
	"cu in": "in3", "cuin": "in3", "cu.in": "in3", "cubic inche": "in3", "cubic inch": "in3",
	"cu ft": "ft3", "cuft": "ft3", "cu.ft": "ft3", "cubic foot": "ft3", "cubic feet": "ft3",
	"kilogram": "kg", "kilo": "kg", "gram": "g", "gramme": "g", "gr": "g", "milligram": "mg",
	"second": "s", "sec": "s", "millisecond": "ms", "msec": "ms",
	"hertz": "Hz", "cps": "Hz", "1/s": "Hz", "kilohertz": "kHz",
	"volt": "V", "millivolt": "mV", "amp": "A", "ampere": "A", "watt": "W", "kilowatt": "kW",
	"ohm": "ohm", "r": "ohm", "v/a": "ohm", "milliohm": "mohm",
	"henry": "H", "henrie": "H", "millihenry": "mH", "millihenrie": "mH", "microhenry": "uH", "microhenrie": "uH",
	"farad": "F", "microfarad": "uF", "mfd": "uF",
	"tm": "T*m", "t m": "T*m", "tesla meter": "T*m", "tesla metre": "T*m", "wb/m": "T*m", "n/amp": "N/A",
	"kg/sec": "kg/s", "ns/m": "N*s/m", "n s/m": "N*s/m",
	"pa s/m3": "Pa*s/m3", "pas/m3": "Pa*s/m3", "n*s/m5": "Pa*s/m3",
	"pa s/m2": "Pa*s/m2", "pas/m2": "Pa*s/m2", "rayl/m": "Pa*s/m2", "n*s/m4": "Pa*s/m2",
	"pascal": "Pa", "n/m2": "Pa", "kilopascal": "kPa", "hectopascal": "hPa", "mbar": "hPa", "millibar": "hPa",
	"celsius": "C", "degc": "C", "deg c": "C", "degree celsius": "C", "centigrade": "C",
	"kelvin": "K", "degk": "K", "deg k": "K",
	"fahrenheit": "F", "degf": "F", "deg f": "F", "degree fahrenheit": "F",
	"g/l": "kg/m3", "kg/cbm": "kg/m3",
	"m/sec": "m/s", "mps": "m/s", "meter per second": "m/s", "metre per second": "m/s",
	"pa s": "Pa*s", "pas": "Pa*s", "pa-s": "Pa*s", "pascal second": "Pa*s", "kg/(m*s)": "Pa*s",
	"°": "deg", "degree": "deg", "radian": "rad",
	"percent": "%", "per cent": "%", "pct": "%", "pc": "%",
}

// elsewhere are units in use that are not accepted, in exact spelling, each with
// what one of them is. The ounce, pound, psi and atmosphere are by definition.
var elsewhere = map[string]multiple{
	"nm": {"1e-3", "um"}, "dm": {"10", "cm"}, "km": {"1000", "m"}, "yd": {"3", "ft"}, "mil": {"1e-3", "in"}, "thou": {"1e-3", "in"},
	"dm2": {"100", "cm2"}, "ft2": {"144", "in2"}, "um2": {"1e-6", "mm2"},
	"dL": {"0.1", "L"}, "cL": {"10", "cm3"}, "dl": {"0.1", "L"}, "cl": {"10", "cm3"}, "mm3": {"1e-3", "cm3"},
	"ug": {"1e-3", "mg"}, "oz": {"28.349523125", "g"}, "lb": {"0.45359237", "kg"}, "lbs": {"0.45359237", "kg"},
	"us": {"1e-3", "ms"}, "min": {"60", "s"},
	"MHz": {"1000", "kHz"}, "mHz": {"1e-3", "Hz"}, "rpm": {"1/60", "Hz"},
	"kV": {"1000", "V"}, "uV": {"1e-3", "mV"}, "mA": {"1e-3", "A"},
	"kohm": {"1000", "ohm"}, "Mohm": {"1e6", "ohm"}, "uohm": {"1e-3", "mohm"}, "k": {"1000", "ohm"},
	"nH": {"1e-3", "uH"}, "mF": {"1000", "uF"}, "nF": {"1e-3", "uF"}, "pF": {"1e-6", "uF"},
	"mW": {"1e-3", "W"}, "MW": {"1000", "kW"},
	"mT*m": {"1e-3", "T*m"}, "cm/N": {"10", "mm/N"}, "mm/mN": {"1000", "mm/N"}, "m/kN": {"1", "mm/N"}, "g/s": {"1e-3", "kg/s"},
	"kPa*s/m3": {"1000", "Pa*s/m3"}, "MPa*s/m3": {"1e6", "Pa*s/m3"}, "kPa*s/m2": {"1000", "Pa*s/m2"}, "krayl/m": {"1000", "Pa*s/m2"},
	"bar": {"100", "kPa"}, "atm": {"101.325", "kPa"}, "mmHg": {"133.322387415", "Pa"}, "Torr": {"101325/760", "Pa"},
	"psi": {"6894.757293168361", "Pa"}, "MPa": {"1000", "kPa"},
	"g/cm3": {"1000", "kg/m3"}, "kg/L": {"1000", "kg/m3"}, "g/m3": {"1e-3", "kg/m3"},
	"cm/s": {"0.01", "m/s"}, "mm/s": {"1e-3", "m/s"}, "km/h": {"5/18", "m/s"}, "ft/s": {"0.3048", "m/s"}, "mph": {"0.44704", "m/s"},
	"mPa*s": {"1e-3", "Pa*s"}, "uPa*s": {"1e-6", "Pa*s"}, "cP": {"1e-3", "Pa*s"},
	"mrad": {"1e-3", "rad"}, "ppm": {"1e-4", "%"}, "‰": {"0.1", "%"},
}

// multiple is a number of an accepted unit.
type multiple struct{ factor, unit string }

// equals says what one of the unit text is: "1 kohm is 1000 ohm".
func (m multiple) equals(text string) string {
	return "1 " + text + " is " + plain(new(big.Float).SetRat(exactly(m.factor)).Text('e', 9)) + " " + m.unit
}

// advise fills in what was found and what was probably meant.
func (e *Error) advise() {
	switch e.Kind {
	case NotANumber, Spacing:
		e.tidy()
	case WrongDimension:
		e.Found = measures(e.Unit)
	case UnknownUnit:
		e.meant()
	}
}

// tidy suggests the value with its spaces, sign or decimal comma set right, if
// that is then accepted.
func (e *Error) tidy() {
	text := strings.Join(strings.Fields(e.Text), " ")
	text = strings.NewReplacer("−", "-", "–", "-").Replace(text)
	if strings.HasPrefix(text, "- ") || strings.HasPrefix(text, "+ ") {
		text = text[:1] + text[2:]
	}
	if whole, part, ok := strings.Cut(text, ","); ok && !strings.ContainsAny(part, ",.") {
		e.note = "a decimal point is written ., thousands are not set apart"
		// "1,250 Hz" may be either; which one is not guessed.
		if n := len(part) - len(strings.TrimLeft(part, "0123456789")); n != 3 {
			text = whole + "." + part
		}
	}
	if text == e.Text || len(text) > longest {
		return
	}
	if _, _, err := Parse(text, e.Want); err == nil {
		e.Suggestion = text
	}
}

// meant looks for the unit behind an unknown one: first among the units wanted,
// then among all.
func (e *Error) meant() {
	spelling := typography.Replace(e.Unit)
	other, foreign := elsewhere[spelling]
	target, ours := e.Want.find(other.unit)
	if foreign && ours {
		e.Found = []Dimension{e.Want}
		e.note = other.equals(e.Unit)
		if _, kind := convert(e.Number, target); kind == 0 {
			v := new(big.Rat).Mul(exactly(e.Number), exactly(other.factor))
			e.suggest(join(shortest(target.si(v), target), target.text))
		}
		return
	}
	if u, ok := e.Want.resembling(spelling); ok {
		e.Found = []Dimension{e.Want}
		e.suggest(e.Number + " " + u)
		return
	}
	if foreign {
		e.Found = measures(other.unit)
		e.note = other.equals(e.Unit) + ", " + either(e.Found)
		return
	}
	for d := range dimensions {
		if u, ok := d.spelled(spelling); ok {
			e.Found = append(e.Found, d)
			e.note = quote(u) + " would be " + either(e.Found)
		}
	}
	if e.Found != nil {
		return
	}
	for _, u := range e.Want.Units() {
		if len(u) >= 3 && strings.HasPrefix(spelling, u[:1]) && levenshtein.Distance(spelling, u, nil) == 1 {
			e.suggest(e.Number + " " + u)
			return
		}
	}
}

// suggest offers the value if it is accepted.
func (e *Error) suggest(text string) {
	if _, _, err := Parse(text, e.Want); err == nil {
		e.Suggestion = text
	}
}

// spelled returns the unit of this dimension that spelling is another way to
// write.
func (d Dimension) spelled(spelling string) (string, bool) {
	lower := strings.TrimSuffix(strings.ToLower(spelling), ".")
	for _, name := range []string{spelling, names[lower], names[strings.TrimSuffix(lower, "s")]} {
		if u, ok := d.find(name); ok && name != "" {
			return u.text, true
		}
	}
	return "", false
}

// resembling is spelled, and also takes the wrong case. "MHz" is not taken for
// "mHz" or "MOhm" for "mohm": an M with small letters after it is mega.
func (d Dimension) resembling(spelling string) (string, bool) {
	if u, ok := d.spelled(spelling); ok {
		return u, true
	}
	spelling = strings.TrimSuffix(spelling, ".")
	i := slices.IndexFunc(d.Units(), func(u string) bool {
		mega := strings.HasPrefix(spelling, "M") && strings.HasPrefix(u, "m") && spelling != strings.ToUpper(spelling)
		return strings.EqualFold(u, spelling) && !mega
	})
	if i < 0 {
		return "", false
	}
	return d.Units()[i], true
}
