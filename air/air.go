// Package air knows the medium: what temperature, static pressure, humidity and
// carbon dioxide make of the density, speed of sound, viscosity, ratio of
// specific heats and Prandtl number of air.
//
// All values are SI. Sources:
//
//   - density: CIPM-2007, Picard, Davis, Gläser and Fujii, Metrologia 45 (2008) 149-155;
//   - speed of sound and ratio of specific heats: Cramer, J. Acoust. Soc. Am. 93
//     (1993) 2510-2516, eq. 15 and table III, at low frequency;
//   - viscosity and thermal diffusivity: IEC 61094-2:2009, Annex F, which takes
//     density, speed and ratio of specific heats from the two sources above.
//
// Cramer's paper uses older constants for the saturation vapour pressure; here
// every formula takes the mole fraction of water from CIPM-2007, as IEC 61094-2
// does. The speed moves by 0.3 mm/s.
package air

import (
	"fmt"
	"sync"
)

// zeroCelsius is 0 °C in kelvin.
const zeroCelsius = 273.15

// Medium is air as sound meets it.
type Medium struct {
	Density   float64 // ρ, kg/m³
	Speed     float64 // c, speed of sound in free air at low frequency, m/s
	Viscosity float64 // μ, dynamic, Pa·s
	Gamma     float64 // γ, ratio of specific heats
	Prandtl   float64 // Pr = μ/(ρ α_t), α_t the thermal diffusivity
}

// Stiffness returns ρc² in pascal: the pressure rise per relative adiabatic
// compression, so that a volume V has the acoustic compliance V/(ρc²).
func (m Medium) Stiffness() float64 { return m.Density * m.Speed * m.Speed }

// Conditions is what a thermometer, a barometer and a hygrometer read.
type Conditions struct {
	Temperature float64 // T, K
	Pressure    float64 // p, static, Pa
	Humidity    float64 // relative, 0 to 1
	CO2         float64 // mole fraction of carbon dioxide
}

// Standard returns 20 °C, 101 325 Pa, 50 % relative humidity and 400 ppm of
// carbon dioxide.
func Standard() Conditions {
	return Conditions{Temperature: zeroCelsius + 20, Pressure: 101325, Humidity: 0.5, CO2: 0.0004}
}

var reference = sync.OnceValue(func() Medium {
	m, err := Standard().Medium()
	if err != nil {
		panic("air: the standard conditions are out of range: " + err.Error())
	}
	return m
})

// Reference returns the medium at the Standard conditions.
func Reference() Medium { return reference() }

// The range the formulas are used in. CIPM-2007 is stated for 15 to 27 °C and
// 60 to 110 kPa, Cramer for 0 to 30 °C, 75 to 102 kPa, at most 6 % of water and
// 1 % of carbon dioxide. They are smooth and stay good beyond: over the whole
// range below, the density is within 0.1 % and the speed within 0.05 % of
// kinetic theory for an ideal gas of the same composition (see the tests), less
// than one kelvin does.
const (
	minTemperature, maxTemperature = zeroCelsius - 20, zeroCelsius + 50
	minPressure, maxPressure       = 60e3, 110e3
	maxCO2                         = 0.01
	maxWater                       = 0.06
)

// RangeError says which condition lies outside the range of the formulas.
type RangeError struct {
	Quantity string  // "temperature", "pressure", "humidity", "carbon dioxide" or "water vapour"
	Value    float64 // SI: K, Pa, or a fraction
	Min, Max float64 // the range, in the same unit
}

// Error states the range in the units people use: °C, kPa and percent.
func (e *RangeError) Error() string {
	scale, offset, unit := 100.0, 0.0, "%"
	switch e.Quantity {
	case "temperature":
		scale, offset, unit = 1, -zeroCelsius, "C"
	case "pressure":
		scale, unit = 1e-3, "kPa"
	}
	show := func(v float64) string { return fmt.Sprintf("%.4g %s", v*scale+offset, unit) }
	if e.Quantity == "water vapour" {
		return fmt.Sprintf("air this warm and humid is %s water vapour; the formulas for air hold up to %s",
			show(e.Value), show(e.Max))
	}
	return fmt.Sprintf("the %s of the air is %s; the formulas for air hold from %s to %s",
		e.Quantity, show(e.Value), show(e.Min), show(e.Max))
}

func within(quantity string, value, min, max float64) error {
	slack := 1e-12 * max                          // −20 °C may arrive as 253.14999999999998 K
	if value >= min-slack && value <= max+slack { // false for NaN
		return nil
	}
	return &RangeError{Quantity: quantity, Value: value, Min: min, Max: max}
}

// Medium computes the air under these conditions. It is valid from −20 to 50 °C,
// 60 to 110 kPa, any relative humidity from 0 to 1 that amounts to at most 6 %
// of water vapour by mole (reached at 36 °C and 101 325 Pa when saturated), and
// carbon dioxide from 0 to 1 %. Outside it returns the zero Medium and a
// *RangeError.
func (c Conditions) Medium() (Medium, error) {
	for _, err := range []error{
		within("temperature", c.Temperature, minTemperature, maxTemperature),
		within("pressure", c.Pressure, minPressure, maxPressure),
		within("humidity", c.Humidity, 0, 1),
		within("carbon dioxide", c.CO2, 0, maxCO2),
	} {
		if err != nil {
			return Medium{}, err
		}
	}
	T, t, p, xc := c.Temperature, c.Temperature-zeroCelsius, c.Pressure, c.CO2
	xw := waterFraction(T, p, c.Humidity)
	if err := within("water vapour", xw, 0, maxWater); err != nil {
		return Medium{}, err
	}
	rho := density(T, p, xw, xc)
	mu := viscosity(T, xw)
	return Medium{
		Density:   rho,
		Speed:     speedCoefficients.at(t, p, xw, xc),
		Viscosity: mu,
		Gamma:     gammaCoefficients.at(t, p, xw, xc),
		Prandtl:   mu / (rho * thermalDiffusivity(T, xw, rho)),
	}, nil
}
