// Package quantity reads and writes values with their dimension: "12.5 L" is
// 0.0125 m³ and back. Inside the program every value is SI; this is the edge.
//
// A value is a decimal number with an optional exponent, an optional single
// space, and a unit in the exact spelling listed by Dimension.Units. Conversions
// are done in rational arithmetic and rounded once, so "12.5 L" is exactly the
// float64 nearest to 0.0125.
package quantity

import (
	"iter"
	"math/big"
	"strings"
)

// Dimension is what kind of thing a value measures.
type Dimension int

// The dimensions of a design file. The comment gives the SI unit of the value.
const (
	Length               Dimension = iota // m
	Area                                  // m²
	Volume                                // m³
	Mass                                  // kg
	Time                                  // s
	Frequency                             // Hz
	Voltage                               // V
	Current                               // A
	Resistance                            // Ω
	Inductance                            // H
	Capacitance                           // F
	Power                                 // W
	ForceFactor                           // T·m, the same as N/A
	Compliance                            // m/N
	MechanicalResistance                  // N·s/m, the same as kg/s
	AcousticResistance                    // Pa·s/m³
	FlowResistivity                       // Pa·s/m²
	Pressure                              // Pa
	Temperature                           // K
	Density                               // kg/m³
	Speed                                 // m/s
	Viscosity                             // Pa·s
	Angle                                 // rad
	Ratio                                 // 1; a plain number or a percentage
	dimensions                            // how many there are
)

// unit is one accepted spelling. A number v in it is v·scale + offset in SI,
// both exact (the degree to 50 digits).
type unit struct {
	text          string
	scale, offset *big.Rat
}

type dimension struct {
	name         string
	example      string // a likely value, for messages
	units        []unit // preferred first
	metric, inch []step // for Show
}

// table is indexed by Dimension. Inch, foot, and through them square and cubic
// inch and cubic foot are exact by the international yard of 1959; fahrenheit by
// its definition (F + 459.67)·5/9 K.
var table = [dimensions]dimension{
	Length: {
		name: "length", example: "30 mm",
		units:  units("mm 1e-3", "cm 1e-2", "m 1", "um 1e-6", "in 0.0254", "ft 0.3048"),
		metric: steps("um 0", "mm 1e-4", "m 1"), inch: steps("in 0", "ft 3.048"),
	},
	Area: {
		name: "area", example: "51 cm2",
		units:  units("cm2 1e-4", "mm2 1e-6", "m2 1", "in2 0.00064516"),
		metric: steps("mm2 0", "cm2 1e-4", "m2 1"), inch: steps("in2 0"),
	},
	Volume: {
		name: "volume", example: "12.5 L",
		units:  units("L 1e-3", "l 1e-3", "cm3 1e-6", "m3 1", "in3 0.000016387064", "ft3 0.028316846592"),
		metric: steps("cm3 0", "L 1e-4", "m3 1"), inch: steps("in3 0", "ft3 0.0028316846592"),
	},
	Mass: {
		name: "mass", example: "12 g",
		units:  units("g 1e-3", "kg 1", "mg 1e-6"),
		metric: steps("mg 0", "g 1e-4", "kg 1"),
	},
	Time: {
		name: "time", example: "2 ms",
		units:  units("ms 1e-3", "s 1"),
		metric: steps("ms 0", "s 1"),
	},
	Frequency: {
		name: "frequency", example: "42 Hz",
		units:  units("Hz 1", "kHz 1e3"),
		metric: steps("Hz 0", "kHz 1e3"),
	},
	Voltage: {
		name: "voltage", example: "2.83 V",
		units:  units("V 1", "mV 1e-3"),
		metric: steps("mV 0", "V 0.1"),
	},
	Current: {
		name: "current", example: "1.5 A",
		units:  units("A 1"),
		metric: steps("A 0"),
	},
	Resistance: {
		name: "resistance", example: "3.3 ohm",
		units:  units("ohm 1", "mohm 1e-3"),
		metric: steps("mohm 0", "ohm 0.1"),
	},
	Inductance: {
		name: "inductance", example: "0.21 mH",
		units:  units("mH 1e-3", "uH 1e-6", "H 1"),
		metric: steps("uH 0", "mH 1e-4", "H 1"),
	},
	Capacitance: {
		name: "capacitance", example: "47 uF",
		units:  units("uF 1e-6", "F 1"),
		metric: steps("uF 0", "F 0.1"),
	},
	Power: {
		name: "power", example: "20 W",
		units:  units("W 1", "kW 1e3"),
		metric: steps("W 0", "kW 1e3"),
	},
	ForceFactor: {
		name: "force factor", example: "5.2 T*m",
		units:  units("T*m 1", "N/A 1"),
		metric: steps("T*m 0"),
	},
	Compliance: {
		name: "compliance", example: "0.6 mm/N",
		units:  units("mm/N 1e-3", "um/N 1e-6", "m/N 1"),
		metric: steps("um/N 0", "mm/N 1e-4", "m/N 1"),
	},
	MechanicalResistance: {
		name: "mechanical resistance", example: "1.1 N*s/m",
		units:  units("N*s/m 1", "kg/s 1"),
		metric: steps("N*s/m 0"),
	},
	AcousticResistance: {
		name: "acoustic resistance", example: "4500 Pa*s/m3",
		units:  units("Pa*s/m3 1"),
		metric: steps("Pa*s/m3 0"),
	},
	FlowResistivity: {
		name: "flow resistivity", example: "5000 Pa*s/m2",
		units:  units("Pa*s/m2 1"),
		metric: steps("Pa*s/m2 0"),
	},
	Pressure: {
		name: "pressure", example: "101.325 kPa",
		units:  units("Pa 1", "kPa 1e3", "hPa 100"),
		metric: steps("Pa 0", "kPa 1e3"),
	},
	Temperature: {
		name: "temperature", example: "20 C",
		units:  units("C 1 273.15", "K 1", "F 5/9 45967/180"),
		metric: steps("C 0"), inch: steps("F 0"),
	},
	Density: {
		name: "density", example: "1.2 kg/m3",
		units:  units("kg/m3 1"),
		metric: steps("kg/m3 0"),
	},
	Speed: {
		name: "speed", example: "344 m/s",
		units:  units("m/s 1"),
		metric: steps("m/s 0"),
	},
	Viscosity: {
		name: "viscosity", example: "1.81e-5 Pa*s",
		units:  units("Pa*s 1"),
		metric: steps("Pa*s 0"),
	},
	Angle: {
		name: "angle", example: "45 deg",
		units:  units("deg 0.01745329251994329576923690768488612713442871888541", "rad 1"),
		metric: steps("deg 0"),
	},
	Ratio: {
		name: "ratio", example: "50 %",
		units:  units("% 1e-2", " 1"),
		metric: steps("% 0"),
	},
}

func exactly(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic("quantity: bad constant " + text)
	}
	return r
}

// units reads "text scale" or "text scale offset" rows.
func units(rows ...string) (list []unit) {
	for _, row := range rows {
		fields := strings.Split(row, " ")
		u := unit{text: fields[0], scale: exactly(fields[1]), offset: new(big.Rat)}
		if len(fields) == 3 {
			u.offset = exactly(fields[2])
		}
		list = append(list, u)
	}
	return list
}

// find returns the unit spelled text in this dimension.
func (d Dimension) find(text string) (unit, bool) {
	for _, u := range table[d].units {
		if u.text == text {
			return u, true
		}
	}
	return unit{}, false
}

// String returns the dimension in words: "length", "flow resistivity".
func (d Dimension) String() string {
	if d < 0 || d >= dimensions {
		return "no dimension"
	}
	return table[d].name
}

// Units returns the accepted spellings, the preferred one first. A Ratio is also
// accepted as a plain number, which is not in the list.
func (d Dimension) Units() []string {
	var list []string
	for _, u := range table[d].units {
		if u.text != "" {
			list = append(list, u.text)
		}
	}
	return list
}

// Enumerate goes through every dimension and its accepted units, the preferred
// unit first, in a fixed order.
func Enumerate() iter.Seq2[Dimension, []string] {
	return func(yield func(Dimension, []string) bool) {
		for d := range dimensions {
			if !yield(d, d.Units()) {
				return
			}
		}
	}
}

// Factor says what a unit is: a number v in it is v·scale + offset in SI, up to
// rounding, and measures d. The plain number "" is a Ratio of scale 1. "F" is the
// farad here; the other "F", fahrenheit, is known to Parse and to
// Dimension.Format, which are told the dimension.
func Factor(text string) (scale, offset float64, d Dimension, ok bool) {
	for d := range dimensions {
		if u, ok := d.find(text); ok {
			scale, _ = u.scale.Float64()
			offset, _ = u.offset.Float64()
			return scale, offset, d, true
		}
	}
	return 0, 0, 0, false
}
