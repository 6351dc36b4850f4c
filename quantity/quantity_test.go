package quantity

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// Exact decimals and definitions: the international inch is 25.4 mm, the degree
// Fahrenheit by its fixed points (32 F and 212 F are 0 C and 100 C), the standard
// atmosphere 101 325 Pa. What is written here as a Go constant is rounded once by
// the compiler.
func TestParse(t *testing.T) {
	for _, row := range []struct {
		text string
		want Dimension
		si   float64
		unit string
	}{
		{"12.5 L", Volume, 0.0125, "L"},
		{"12.5L", Volume, 0.0125, "L"},
		{"0.95 l", Volume, 0.00095, "l"},
		{"1 m", Length, 1, "m"},
		{"36 mm", Length, 0.036, "mm"},
		{"2.6 mm", Length, 0.0026, "mm"},
		{"5.5 cm", Length, 0.055, "cm"},
		{"70 um", Length, 0.00007, "um"},
		{"1 in", Length, 0.0254, "in"},
		{"3 ft", Length, 0.9144, "ft"},
		{"51 cm2", Area, 0.0051, "cm2"},
		{"7 mm2", Area, 0.000007, "mm2"},
		{"0.3 m2", Area, 0.3, "m2"},
		{"1 in2", Area, 0.00064516, "in2"},
		{"2 m3", Volume, 2, "m3"},
		{"330 cm3", Volume, 0.00033, "cm3"},
		{"1 in3", Volume, 0.000016387064, "in3"},
		{"1 ft3", Volume, 0.028316846592, "ft3"},
		{"1.3 kg", Mass, 1.3, "kg"},
		{"10 g", Mass, 0.01, "g"},
		{"3 mg", Mass, 0.000003, "mg"},
		{"2 s", Time, 2, "s"},
		{"0.7 ms", Time, 0.0007, "ms"},
		{"88 Hz", Frequency, 88, "Hz"},
		{"1.1 kHz", Frequency, 1100, "kHz"},
		{"2.83 V", Voltage, 2.83, "V"},
		{"30 mV", Voltage, 0.03, "mV"},
		{"1.7 A", Current, 1.7, "A"},
		{"3.3 ohm", Resistance, 3.3, "ohm"},
		{"33 mohm", Resistance, 0.033, "mohm"},
		{"0.21 mH", Inductance, 0.00021, "mH"},
		{"3 H", Inductance, 3, "H"},
		{"21 uH", Inductance, 0.000021, "uH"},
		{"47 uF", Capacitance, 0.000047, "uF"},
		{"0.001 F", Capacitance, 0.001, "F"},
		{"20 W", Power, 20, "W"},
		{"1.5 kW", Power, 1500, "kW"},
		{"5.1 T*m", ForceFactor, 5.1, "T*m"},
		{"5.1 N/A", ForceFactor, 5.1, "N/A"},
		{"0.6 mm/N", Compliance, 0.0006, "mm/N"},
		{"610 um/N", Compliance, 0.00061, "um/N"},
		{"6e-4 m/N", Compliance, 0.0006, "m/N"},
		{"1.1 N*s/m", MechanicalResistance, 1.1, "N*s/m"},
		{"1.1 kg/s", MechanicalResistance, 1.1, "kg/s"},
		{"4500 Pa*s/m3", AcousticResistance, 4500, "Pa*s/m3"},
		{"5000 Pa*s/m2", FlowResistivity, 5000, "Pa*s/m2"},
		{"101325 Pa", Pressure, 101325, "Pa"},
		{"101.325 kPa", Pressure, 101325, "kPa"},
		{"1013.25 hPa", Pressure, 101325, "hPa"},
		{"20 C", Temperature, 293.15, "C"},
		{"-40 C", Temperature, 233.15, "C"},
		{"-40 F", Temperature, 233.15, "F"},
		{"32 F", Temperature, 273.15, "F"},
		{"212 F", Temperature, 373.15, "F"},
		{"68 F", Temperature, 293.15, "F"},
		{"300 K", Temperature, 300, "K"},
		{"1.2 kg/m3", Density, 1.2, "kg/m3"},
		{"344 m/s", Speed, 344, "m/s"},
		{"1.81e-5 Pa*s", Viscosity, 0.0000181, "Pa*s"},
		{"180 deg", Angle, math.Pi, "deg"},
		{"30 deg", Angle, math.Pi / 6, "deg"},
		{"1.5 rad", Angle, 1.5, "rad"},
		{"50 %", Ratio, 0.5, "%"},
		{"55%", Ratio, 0.55, "%"},
		{"0.5", Ratio, 0.5, ""},
		{"-.5e+1 mm", Length, -0.005, "mm"},
		{"+5.E-1mm", Length, 0.0005, "mm"},
		{"3em", Length, 0, "error"},
		{"0e999999999999 mm", Length, 0, "mm"},
		{"-0 mm", Length, 0, "mm"},
	} {
		si, unit, err := Parse(row.text, row.want)
		if row.unit == "error" {
			if err == nil {
				t.Errorf("Parse(%q, %v) = %g %q, want an error", row.text, row.want, si, unit)
			}
			continue
		}
		if err != nil || si != row.si || unit != row.unit || math.Signbit(si) != math.Signbit(row.si) {
			t.Errorf("Parse(%q, %v) = %v %q %v, want %v %q", row.text, row.want, si, unit, err, row.si, row.unit)
		}
	}
}

// The list in the public description of the design file, copied from there.
const described = `length m cm mm um in ft · area m2 cm2 mm2 in2 · volume m3 L l cm3 in3 ft3 · mass kg g mg · time s ms ·
frequency Hz kHz · voltage V mV · current A · resistance ohm mohm · inductance H mH uH · capacitance F uF · power W kW ·
force_factor T*m N/A · compliance m/N mm/N um/N · mechanical_resistance N*s/m kg/s · acoustic_resistance Pa*s/m3 · flow_resistivity Pa*s/m2 ·
pressure Pa kPa hPa · temperature C K F · density kg/m3 · speed m/s · viscosity Pa*s · angle deg rad · ratio %`

func TestDescribedUnits(t *testing.T) {
	want := map[string]map[string]bool{}
	for entry := range strings.SplitSeq(described, "·") {
		fields := strings.Fields(entry)
		set := map[string]bool{}
		for _, u := range fields[1:] {
			set[u] = true
		}
		want[strings.ReplaceAll(fields[0], "_", " ")] = set
	}
	got := map[string]map[string]bool{}
	for d, units := range Enumerate() {
		set := map[string]bool{}
		for _, u := range units {
			set[u] = true
			scale, _, found, ok := Factor(u)
			if !ok || !(scale > 0) || (found != d && u != "F") {
				t.Errorf("Factor(%q) = %v, %v, %v", u, scale, found, ok)
			}
		}
		got[d.String()] = set
		if si, _, err := Parse(table[d].example, d); err != nil || si <= 0 {
			t.Errorf("example %q of %v: %v", table[d].example, d, err)
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestFactor(t *testing.T) {
	for _, row := range []struct {
		text          string
		scale, offset float64
		d             Dimension
		ok            bool
	}{
		{"L", 0.001, 0, Volume, true},
		{"C", 1, 273.15, Temperature, true},
		{"F", 1, 0, Capacitance, true},
		{"deg", math.Pi / 180, 0, Angle, true},
		{"", 1, 0, Ratio, true},
		{"%", 0.01, 0, Ratio, true},
		{"furlong", 0, 0, 0, false},
	} {
		scale, offset, d, ok := Factor(row.text)
		if scale != row.scale || offset != row.offset || d != row.d || ok != row.ok {
			t.Errorf("Factor(%q) = %v, %v, %v, %v", row.text, scale, offset, d, ok)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, row := range []struct {
		si   float64
		unit string
		want string
	}{
		{0.00095, "L", "0.95 L"},
		{0.0125, "L", "12.5 L"},
		{math.Nextafter(0.3, 1), "m", "0.30000000000000004 m"},
		{0.3, "mm", "300 mm"},
		{0.0254, "mm", "25.4 mm"},
		{0.0254, "in", "1 in"},
		{0.028316846592, "ft3", "1 ft3"},
		{293.15, "C", "20 C"},
		{273.15, "C", "0 C"},
		{0, "C", "-273.15 C"},
		{0, "mm", "0 mm"},
		{math.Copysign(0, -1), "mm", "0 mm"},
		{-0.005, "mm", "-5 mm"},
		{0.5, "%", "50 %"},
		{0.5, "", "0.5"},
		{1e-9, "m", "1e-9 m"},
		{0.0001, "m", "0.0001 m"},
		{0.00001, "m", "1e-5 m"},
		{1.25e-5, "m", "1.25e-5 m"},
		{123456789, "Pa", "123456789 Pa"},
		{1e14, "Pa", "100000000000000 Pa"},
		{1e15, "Pa", "1e15 Pa"},
		{math.Pi, "deg", "180 deg"},
		{47e-6, "F", "4.7e-5 F"},
	} {
		if got := Format(row.si, row.unit); got != row.want {
			t.Errorf("Format(%v, %q) = %q, want %q", row.si, row.unit, got, row.want)
		}
	}
	if got := Temperature.Format(293.15, "F"); got != "68 F" {
		t.Errorf("20 °C in fahrenheit is %q", got)
	}
	for _, v := range []float64{math.MaxFloat64, math.SmallestNonzeroFloat64, -1e300} {
		for _, u := range []string{"um", "C", "deg"} {
			if got := Format(v, u); len(got) > 400 {
				t.Errorf("Format(%g, %q) = %q", v, u, got)
			}
		}
	}
}

func TestFormatPanics(t *testing.T) {
	for name, call := range map[string]func(){
		"unit":      func() { Format(1, "furlong") },
		"dimension": func() { Length.Format(1, "L") },
		"NaN":       func() { Format(math.NaN(), "m") },
		"infinity":  func() { Format(math.Inf(1), "m") },
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			call()
		})
	}
}

// Any value, in any unit of its dimension, reads back bit for bit; and the text
// Parse was given, if it had few digits, comes out with no more.
func TestRoundTrip(t *testing.T) {
	seed := uint64(20260)
	random := rand.New(rand.NewPCG(seed, 1))
	for d := range dimensions {
		for _, u := range table[d].units {
			for range 400 {
				// Any float64 over the range, then any short decimal.
				si := (random.Float64() + 0.5) * math.Pow(10, random.Float64()*40-20)
				if random.IntN(4) == 0 {
					si = -si
				}
				text := d.Format(si, u.text)
				back, unit, err := Parse(text, d)
				if err != nil || back != si || unit != u.text {
					t.Fatalf("seed %d: %v in %q is %q, which is %v %q %v", seed, si, u.text, text, back, unit, err)
				}

				digits := 1 + random.IntN(14)
				short := strings.TrimSuffix(fmt.Sprintf("%.*g %s", digits, random.Float64()*math.Pow(10, float64(random.IntN(7)-3)), u.text), " ")
				si, _, err = Parse(short, d)
				if err != nil {
					t.Fatalf("seed %d: %v", seed, err)
				}
				again := d.Format(si, u.text)
				if back, _, err := Parse(again, d); err != nil || back != si {
					t.Fatalf("seed %d: %q is %v, written %q, read %v %v", seed, short, si, again, back, err)
				}
				if significant(again) > max(digits, significant(short)) {
					t.Fatalf("seed %d: %q comes back as %q", seed, short, again)
				}
			}
		}
	}
}

func significant(text string) int {
	number, _, _ := strings.Cut(text, " ")
	number = strings.NewReplacer("-", "", ".", "").Replace(mantissa(number))
	return len(strings.Trim(number, "0"))
}

func TestShow(t *testing.T) {
	for _, row := range []struct {
		si     float64
		d      Dimension
		system System
		digits int
		want   string
	}{
		{0.0125, Volume, Metric, 3, "12.5 L"},
		{0.00095, Volume, Metric, 3, "0.95 L"},
		{0.00005, Volume, Metric, 3, "50 cm3"},
		{3, Volume, Metric, 3, "3 m3"},
		{0.99999, Volume, Metric, 3, "1 m3"},
		{0.0125, Volume, Inch, 3, "0.441 ft3"},
		{0.00095, Volume, Inch, 3, "58 in3"},
		{0.036, Length, Metric, 3, "36 mm"},
		{0.99996, Length, Metric, 3, "1 m"},
		{0.99949, Length, Metric, 3, "999 mm"},
		{0.00009, Length, Metric, 3, "90 um"},
		{0.4064, Length, Inch, 3, "16 in"},
		{6, Length, Inch, 3, "19.7 ft"},
		{0, Length, Metric, 3, "0 mm"},
		{0, Length, Inch, 3, "0 in"},
		{0, Volume, Metric, 3, "0 L"},
		{-0.0026, Length, Metric, 3, "-2.6 mm"},
		{0.0051, Area, Metric, 3, "51 cm2"},
		{0.0051, Area, Inch, 3, "7.91 in2"},
		{293.15, Temperature, Metric, 3, "20 C"},
		{293.15, Temperature, Inch, 3, "68 F"},
		{12345.678, Frequency, Metric, 4, "12.35 kHz"},
		{999.7, Frequency, Metric, 3, "1 kHz"},
		{88.04, Frequency, Inch, 3, "88 Hz"},
		{0.5, Ratio, Metric, 3, "50 %"},
		{1234567, AcousticResistance, Metric, 3, "1230000 Pa*s/m3"},
		{1.81e-5, Viscosity, Metric, 3, "1.81e-5 Pa*s"},
		{0.00021, Inductance, Metric, 3, "0.21 mH"},
		{47e-6, Capacitance, Metric, 3, "47 uF"},
		{101325, Pressure, Metric, 4, "101.3 kPa"},
		{1.0 / 3, Mass, Metric, 0, "300 g"},
		{math.NaN(), Mass, Metric, 3, "not finite"},
		{math.Inf(-1), Mass, Metric, 3, "not finite"},
	} {
		if got := Show(row.si, row.d, row.system, row.digits); got != row.want {
			t.Errorf("Show(%v, %v, %v, %d) = %q, want %q", row.si, row.d, row.system, row.digits, got, row.want)
		}
	}
}

// What is shown reads back, in either system, within the digits asked for.
func TestShowReadsBack(t *testing.T) {
	seed := uint64(7)
	random := rand.New(rand.NewPCG(seed, 2))
	for d := range dimensions {
		for _, system := range []System{Metric, Inch} {
			for range 200 {
				digits := 3 + random.IntN(5)
				si := math.Pow(10, random.Float64()*16-8)
				if d == Temperature {
					si = 300 + random.Float64()*50 // no cancellation against 0 C or 0 F
				}
				text := Show(si, d, system, digits)
				back, _, err := Parse(text, d)
				if err != nil || math.Abs(back-si) > 0.5001*si*math.Pow(10, float64(1-digits)) {
					t.Fatalf("seed %d: %v %v shown as %q reads %v %v", seed, si, d, text, back, err)
				}
			}
		}
	}
}

func TestTablesHoldTogether(t *testing.T) {
	for name, u := range names {
		if len(measures(u)) == 0 {
			t.Errorf("%q is said to be %q, which is no unit", name, u)
		}
		if name != strings.ToLower(name) {
			t.Errorf("%q is not lower case", name)
		}
		if len(measures(name)) > 0 && name != u {
			t.Errorf("%q is a unit itself, not a name of %q", name, u)
		}
	}
	for name, m := range elsewhere {
		if len(measures(m.unit)) == 0 || exactly(m.factor).Sign() <= 0 {
			t.Errorf("%q is said to be %q %q", name, m.factor, m.unit)
		}
		if len(measures(name)) > 0 {
			t.Errorf("%q is accepted", name)
		}
	}
	for d := range dimensions {
		for _, ladder := range [][]step{table[d].metric, table[d].inch} {
			for i, s := range ladder {
				if _, ok := d.find(s.unit); !ok || (i > 0 && s.from <= ladder[i-1].from) {
					t.Errorf("%v: step %v", d, s)
				}
			}
		}
		if table[d].metric == nil {
			t.Errorf("%v has no unit to be shown in", d)
		}
	}
}

// Units that are converted in a suggestion, worked out from their definitions:
// pound 0.45359237 kg, ounce a sixteenth of it, standard gravity 9.80665 m/s²,
// mile 1609.344 m, mercury 13 595.1 kg/m³, torr 1/760 atmosphere.
func TestSuggestedConversions(t *testing.T) {
	for _, row := range []struct {
		text string
		d    Dimension
		si   float64
	}{
		{"1 lb", Mass, 0.45359237},
		{"16 oz", Mass, 0.45359237},
		{"1 psi", Pressure, 0.45359237 * 9.80665 / (0.0254 * 0.0254)},
		{"1 mmHg", Pressure, 13595.1 * 9.80665 * 1e-3},
		{"760 Torr", Pressure, 101325},
		{"1 mph", Speed, 1609.344 / 3600},
		{"36 km/h", Speed, 10},
		{"60 rpm", Frequency, 1},
		{"1 ft2", Area, 0.3048 * 0.3048},
		{"1 yd", Length, 0.9144},
		{"1000 thou", Length, 0.0254},
		{"1 cP", Viscosity, 1e-3},
		{"1 g/cm3", Density, 1000},
		{"1000 m/kN", Compliance, 1},
	} {
		_, _, err := Parse(row.text, row.d)
		e, ok := err.(*Error)
		if !ok || e.Suggestion == "" {
			t.Errorf("%q: %v, want a suggestion", row.text, err)
			continue
		}
		si, _, err := Parse(e.Suggestion, row.d)
		if err != nil || math.Abs(si/row.si-1) > 1e-12 {
			t.Errorf("%q is suggested as %q = %v, want %v (%v)", row.text, e.Suggestion, si, row.si, err)
		}
	}
}

// Every message, as a person reads it. testdata/errors.txt holds one case a
// paragraph: what is asked, the kind and the text.
func TestMessages(t *testing.T) {
	var got strings.Builder
	for _, row := range []struct {
		text string
		want Dimension
	}{
		{"", Length}, {"  \t", Ratio},
		{"mm", Length}, {"about 3 mm", Length}, {"NaN mm", Length}, {"inf", Ratio}, {"-", Ratio}, {".", Ratio}, {"Ω", Resistance},
		{"12,5 L", Volume}, {"1,250 Hz", Frequency}, {"1.250,5 Hz", Frequency}, {"1 000 Hz", Frequency}, {"1_000 Hz", Frequency},
		{"0x1F mm", Length}, {"1/2 in", Length}, {"30 x 40 mm", Area}, {"1.2.3 mm", Length}, {"−5 C", Temperature}, {"- 5 C", Temperature},
		{strings.Repeat("1", 100) + " mm", Length}, {"5'6\"", Length},
		{"30", Length}, {"3e", Length}, {"4.7", Resistance}, {"20", Temperature},
		{"12.5  L", Volume}, {" 12.5 L", Volume}, {"12.5 L\n", Volume}, {"12.5\tL", Volume}, {"12.5\u00a0L", Volume}, {" 30", Length},
		{"3 ohm", Length}, {"30 mm", Area}, {"12.5 L", Area}, {"2 F", Inductance}, {"50 %", Length}, {"3 mm", Ratio}, {"5 Pa*s/m2", AcousticResistance},
		{"1e400 m", Length}, {"1e31 m", Length}, {"-1e999999999999999999 m", Length}, {"1e-400 m", Length}, {"1e-28 um", Length}, {"1e30 kHz", Frequency},
		{"51 cm^2", Area}, {"51 cm²", Area}, {"51 sq cm", Area}, {"51 sqcm", Area}, {"30 mm^2", Length},
		{"12.5 liter", Volume}, {"12.5 litres", Volume}, {"1 dm³", Volume}, {"950 ml", Volume}, {"950 cc", Volume}, {"1 m³", Volume}, {"1 cu ft", Volume}, {"0.5 dl", Volume},
		{"30 MM", Length}, {"30 millimeters", Length}, {"70 µm", Length}, {"70 μm", Length}, {"4\"", Length}, {"4 inches", Length}, {"4 in.", Length}, {"2 dm", Length}, {"2 nm", Length},
		{"3.3 Ohm", Resistance}, {"3.3 Ω", Resistance}, {"3.3 \u2126", Resistance}, {"3.3 ohms", Resistance}, {"4.7 kΩ", Resistance}, {"1 MOhm", Resistance}, {"50 mΩ", Resistance}, {"50 mOhms", Resistance},
		{"20 °C", Temperature}, {"20 ℃", Temperature}, {"20 deg C", Temperature}, {"20 celsius", Temperature}, {"20 c", Temperature}, {"68 °F", Temperature}, {"293 °K", Temperature}, {"293 k", Temperature}, {"45 °", Angle}, {"45 °", Temperature},
		{"47 µF", Capacitance}, {"100 nF", Capacitance}, {"100 nF", Inductance}, {"0.2 mh", Inductance}, {"1 MHz", Frequency}, {"88 hz", Frequency}, {"88 hertz", Frequency}, {"1 mHz", Frequency},
		{"5.2 Tm", ForceFactor}, {"5.2 T·m", ForceFactor}, {"5.2 T m", ForceFactor}, {"1.1 Ns/m", MechanicalResistance}, {"1.1 N·s/m", MechanicalResistance}, {"1.1 kg/sec", MechanicalResistance},
		{"4500 Pa·s/m³", AcousticResistance}, {"4500 Pa s/m3", AcousticResistance}, {"5000 rayl/m", FlowResistivity}, {"5 kPa*s/m2", FlowResistivity},
		{"1013 mbar", Pressure}, {"1 bar", Pressure}, {"1 atm", Pressure}, {"1.2 kg/m^3", Density}, {"1.2 kg/m2", Density}, {"344 mps", Speed}, {"0.5 percent", Ratio}, {"400 ppm", Ratio}, {"2 lb", Mass}, {"2 oz", Length},
		{"3 Mg", Mass}, {"5 MV", Voltage}, {"20 watts", Power}, {"500 mW", Power}, {"30 parsec", Length}, {"30 \x00\xff", Length}, {"30 mm mm", Length}, {"3 ohn", Resistance}, {"1e29 km", Length},
	} {
		_, _, err := Parse(row.text, row.want)
		e, ok := err.(*Error)
		if !ok {
			t.Errorf("Parse(%q, %v): %v, want an *Error", row.text, row.want, err)
			continue
		}
		fmt.Fprintf(&got, "%s for %q\n  kind %d\n  %s\n\n", row.want, row.text, e.Kind, e)
		if e.Suggestion != "" {
			if _, _, err := Parse(e.Suggestion, row.want); err != nil {
				t.Errorf("%q: the suggestion %q is refused: %v", row.text, e.Suggestion, err)
			}
		}
	}
	path := filepath.Join("testdata", "errors.txt")
	if *update {
		if err := os.WriteFile(path, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got.String(), "\n")); diff != "" {
		t.Errorf("messages changed (-want +got; run with -update after reading them):\n%s", diff)
	}
}

func FuzzParse(f *testing.F) {
	for d := range dimensions {
		f.Add(table[d].example, int(d))
	}
	for _, text := range []string{"", "1e999999999 m", "1e-999999999 m", "-0 C", "0x1p-2 m", "1_0 m", "12,5 L", "4.7 kΩ", " 3 m", "5e-324 %", "\xff m", "1e308 °C"} {
		for _, d := range []Dimension{Length, Temperature, Resistance, Ratio} {
			f.Add(text, int(d))
		}
	}
	f.Fuzz(func(t *testing.T, text string, n int) {
		want := Dimension(uint(n) % uint(dimensions))
		si, unit, err := Parse(text, want)
		if err != nil {
			e, ok := err.(*Error)
			if !ok || e.Kind < Empty || e.Kind > TooLong || e.Text != text || si != 0 || unit != "" {
				t.Fatalf("Parse(%q, %v) = %v, %q, %#v", text, want, si, unit, err)
			}
			if strings.ContainsAny(e.Error(), "\n\r\x00") {
				t.Fatalf("message of more than a line: %q", e.Error())
			}
			if e.Suggestion != "" {
				if _, _, err := Parse(e.Suggestion, want); err != nil {
					t.Fatalf("%q: suggestion refused: %v", text, err)
				}
			}
			return
		}
		if math.IsNaN(si) || math.IsInf(si, 0) {
			t.Fatalf("Parse(%q, %v) = %v", text, want, si)
		}
		again := want.Format(si, unit)
		if back, u, err := Parse(again, want); err != nil || back != si || u != unit {
			t.Fatalf("%q is %v, written %q, read %v %q %v", text, si, again, back, u, err)
		}
		Show(si, want, Metric, 4)
	})
}

func BenchmarkParse(b *testing.B) {
	for b.Loop() {
		if _, _, err := Parse("12.5 L", Volume); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFormat(b *testing.B) {
	for b.Loop() {
		Format(0.0125, "L")
	}
}
