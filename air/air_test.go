package air

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

func celsius(t, p, humidity, co2 float64) Conditions {
	return Conditions{Temperature: 273.15 + t, Pressure: p, Humidity: humidity, CO2: co2}
}

func medium(t *testing.T, c Conditions) Medium {
	t.Helper()
	m, err := c.Medium()
	if err != nil {
		t.Fatalf("%+v: %v", c, err)
	}
	return m
}

// IEC 61094-2:2009, Table F.1: the standard's own check of its formulas, to the
// digits printed there.
func TestStandardTable(t *testing.T) {
	for _, row := range []struct {
		name       string
		conditions Conditions
		want       [5]string // ρ, c, γ, μ, α_t
	}{
		{"set A", celsius(23, 101325, 0.50, 0.0004), [5]string{"1.1860848", "345.86652", "1.4007573", "1.826566e-05", "2.115317e-05"}},
		{"set B", celsius(20, 80000, 0.65, 0.0004), [5]string{"0.9441589", "344.38267", "1.4000266", "1.811295e-05", "2.627024e-05"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			m := medium(t, row.conditions)
			got := [5]string{
				fmt.Sprintf("%.7f", m.Density),
				fmt.Sprintf("%.5f", m.Speed),
				fmt.Sprintf("%.7f", m.Gamma),
				fmt.Sprintf("%.6e", m.Viscosity),
				fmt.Sprintf("%.6e", m.Viscosity/(m.Density*m.Prandtl)),
			}
			if got != row.want {
				t.Errorf("ρ, c, γ, μ, α_t = %v, printed %v", got, row.want)
			}
		})
	}
}

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s = %.8g, want %.8g within %g of it", what, got, want, relative)
	}
}

// Other people's round figures and simpler formulas, each with the reason why it
// may differ.
func TestAgainstOtherSources(t *testing.T) {
	for _, row := range []struct {
		source              string
		conditions          Conditions
		rho, rhoTolerance   float64
		c, cTolerance       float64
		mu, muTolerance     float64
		impedance, withinRC float64
	}{
		{
			// Ideal gas (CIPM-2007 has Z = 0.99959) with γ = 1.4 exactly
			// (Cramer 1.4024), and Sutherland's viscosity, itself known to
			// about 0.5 %.
			source:     "US Standard Atmosphere 1976, sea level",
			conditions: celsius(15, 101325, 0, 0.000314),
			rho:        1.2250, rhoTolerance: 5e-4, c: 340.29, cTolerance: 5e-4, mu: 1.7894e-5, muTolerance: 1e-3,
		},
		{
			// From memory; given to four figures.
			source:     "Kinsler et al., dry air at 20 °C",
			conditions: celsius(20, 101325, 0, 0.0004),
			rho:        1.204, rhoTolerance: 1e-3 / 1.204, c: 343.2, cTolerance: 0.2 / 343.2, impedance: 413.3, withinRC: 0.5 / 413.3,
		},
		{
			// c = 343.2·√(T/293.15), from memory: an ideal gas, rounded.
			source:     "ISO 9613-1:1993, 0 °C",
			conditions: celsius(0, 101325, 0, 0.0004),
			c:          331.29, cTolerance: 6e-4,
		},
		{
			source:     "ISO 9613-1:1993, 20 °C",
			conditions: celsius(20, 101325, 0, 0.0004),
			c:          343.20, cTolerance: 6e-4,
		},
	} {
		t.Run(row.source, func(t *testing.T) {
			m := medium(t, row.conditions)
			if row.rho != 0 {
				near(t, "ρ", m.Density, row.rho, row.rhoTolerance)
			}
			if row.c != 0 {
				near(t, "c", m.Speed, row.c, row.cTolerance)
			}
			if row.mu != 0 {
				near(t, "μ", m.Viscosity, row.mu, row.muTolerance)
			}
			if row.impedance != 0 {
				near(t, "ρc", m.Density*m.Speed, row.impedance, row.withinRC)
			}
		})
	}
}

// OIML R 111-1:2004, E.3 (from memory) approximates the density of moist air
// and states 2e-4 for 900 to 1100 hPa, 10 to 30 °C and under 80 %; it is given
// against the older CIPM-81/91 formula, which is 1e-4 lower (Picard et al.
// 2008, section 1: the argon content), hence 3e-4.
func TestDensityAgainstMetrologyApproximation(t *testing.T) {
	for temperature := 10.0; temperature <= 30; temperature += 5 {
		for pressure := 90e3; pressure <= 110e3; pressure += 5e3 {
			for percent := 0.0; percent <= 75; percent += 25 {
				m := medium(t, celsius(temperature, pressure, percent/100, 0.0004))
				want := (0.34848*pressure/100 - 0.009*percent*math.Exp(0.061*temperature)) / (273.15 + temperature)
				near(t, fmt.Sprintf("ρ at %g °C, %g Pa, %g %%", temperature, pressure, percent), m.Density, want, 3e-4)
			}
		}
	}
}

// Values of these formulas worked out once by a separate Python script with
// the same sources. They guard against regressions and are no outside evidence.
func TestComputedPoints(t *testing.T) {
	for _, row := range []struct{ t, humidity, rho, c, c314, gamma, mu float64 }{
		{0, 0, 1.293049, 331.4477, 331.4550, 1.40284, 1.71724e-5},
		{20, 0, 1.204557, 343.3595, 343.3672, 1.40217, 1.81476e-5},
		{20, 0.5, 1.199314, 343.9869, 343.9946, 1.40110, 1.81266e-5},
		{25, 0.5, 1.177316, 347.1268, 347.1346, 1.40050, 1.83575e-5},
		{30, 0.5, 1.155514, 350.3102, 350.3180, 1.39977, 1.85836e-5},
	} {
		m := medium(t, celsius(row.t, 101325, row.humidity, 0.0004))
		at := fmt.Sprintf(" at %g °C, humidity %g", row.t, row.humidity)
		near(t, "ρ"+at, m.Density, row.rho, 0.5e-6)
		near(t, "c"+at, m.Speed, row.c, 0.2e-6)
		near(t, "γ"+at, m.Gamma, row.gamma, 4e-6)
		near(t, "μ"+at, m.Viscosity, row.mu, 3e-6)
		less := medium(t, celsius(row.t, 101325, row.humidity, 0.000314))
		near(t, "c with 314 ppm"+at, less.Speed, row.c314, 0.2e-6)
	}
}

// Saturation pressure of water by IAPWS (steam tables, from memory): 0 °C
// 611.2 Pa, 20 °C 2339.3 Pa, 30 °C 4246.9 Pa, 50 °C 12 352 Pa; supercooled at
// −20 °C 125.4 Pa (Smithsonian tables). The fit is made for 0 to 30 °C.
func TestSaturationPressure(t *testing.T) {
	for _, row := range []struct{ t, want, tolerance float64 }{
		{-20, 125.4, 3e-3}, {0, 611.2, 3e-4}, {20, 2339.3, 3e-4}, {30, 4246.9, 3e-4}, {50, 12352, 1e-3},
	} {
		near(t, fmt.Sprintf("saturation pressure at %g °C", row.t), saturation(273.15+row.t), row.want, row.tolerance)
	}
}

// ideal gives an ideal mixture of the gases in air, each with the heat capacity
// of a rigid rotor and harmonic oscillators (vibration temperatures from memory:
// N2 3390 K, O2 2270 K, CO2 960 K twice, 1990 K and 3380 K, H2O 2290 K, 5260 K
// and 5400 K). Nothing of it is shared with the formulas under test.
func ideal(T, p, xw, xc float64) (rho, c, gamma float64) {
	const R = 8.314462618
	vibration := func(thetas ...float64) (cv float64) {
		for _, theta := range thetas {
			x := theta / T
			cv += x * x * math.Exp(x) / math.Pow(math.Expm1(x), 2)
		}
		return cv
	}
	dry := 1 - xw
	fractions := []struct{ x, mass, cp float64 }{
		{dry * 0.78084, 28.0134e-3, 3.5 + vibration(3390)},
		{dry * 0.00934, 39.948e-3, 2.5},
		{dry * (0.20942 - (xc - 0.0004)), 31.9988e-3, 3.5 + vibration(2270)},
		{dry * xc, 44.0095e-3, 3.5 + vibration(960, 960, 1990, 3380)},
		{xw, 18.01528e-3, 4 + vibration(2290, 5260, 5400)},
	}
	var mass, cp, total float64
	for _, f := range fractions {
		total += f.x
		mass += f.x * f.mass
		cp += f.x * f.cp
	}
	mass, cp = mass/total, cp/total
	gamma = cp / (cp - 1)
	return p * mass / (R * T), math.Sqrt(gamma * R * T / mass), gamma
}

// Over the whole accepted range, the fits stay with kinetic theory: they do not
// run away where they are extrapolated. Real air departs from ideal by
// Z − 1 ≈ −0.0004 and γ by +0.002; viscosity is compared with Sutherland's law
// for dry air (constants of the US Standard Atmosphere 1976).
func TestWholeRangeAgainstKineticTheory(t *testing.T) {
	var worst [4]float64
	points := 0
	for temperature := -20.0; temperature <= 50; temperature += 5 {
		for pressure := 60e3; pressure <= 110e3; pressure += 10e3 {
			for _, humidity := range []float64{0, 0.25, 0.5, 0.75, 1} {
				for _, co2 := range []float64{0, 0.0004, 0.01} {
					conditions := celsius(temperature, pressure, humidity, co2)
					m, err := conditions.Medium()
					if err != nil {
						continue // too much water
					}
					points++
					T := conditions.Temperature
					xw := humidity * (1.00062 + 3.14e-8*pressure + 5.6e-7*temperature*temperature) * saturation(T) / pressure
					rho, c, gamma := ideal(T, pressure, xw, co2)
					sutherland := 1.458e-6 * math.Pow(T, 1.5) / (T + 110.4)
					for i, pair := range [4][2]float64{{m.Density, rho}, {m.Speed, c}, {m.Gamma, gamma}, {m.Viscosity, sutherland}} {
						worst[i] = max(worst[i], math.Abs(pair[0]/pair[1]-1))
					}
				}
			}
		}
	}
	t.Logf("%d states; largest departures: ρ %.2e, c %.2e, γ %.2e, μ %.2e", points, worst[0], worst[1], worst[2], worst[3])
	if points < 800 {
		t.Errorf("only %d states were in range", points)
	}
	for i, limit := range [4]float64{1e-3, 5e-4, 2.5e-3, 7e-3} {
		if worst[i] > limit {
			t.Errorf("%s departs by %.2e, limit %g", [4]string{"ρ", "c", "γ", "μ"}[i], worst[i], limit)
		}
	}
}

func TestReference(t *testing.T) {
	m := Reference()
	if m != medium(t, Standard()) {
		t.Errorf("Reference() = %+v is not the standard air", m)
	}
	// ρc² = γp for an ideal gas; real air is stiffer by less than 0.1 %.
	near(t, "ρc²", m.Stiffness(), m.Gamma*101325, 1e-3)
	// Prandtl number of air, handbooks: 0.71 to 0.73.
	if m.Prandtl < 0.71 || m.Prandtl > 0.735 {
		t.Errorf("Pr = %g", m.Prandtl)
	}
}

func TestOutsideRange(t *testing.T) {
	for _, row := range []struct {
		conditions Conditions
		quantity   string
		text       string
	}{
		{celsius(-20.5, 101325, 0.5, 0.0004), "temperature", "the temperature of the air is -20.5 C; the formulas for air hold from -20 C to 50 C"},
		{celsius(51, 101325, 0, 0.0004), "temperature", "the temperature of the air is 51 C; the formulas for air hold from -20 C to 50 C"},
		{celsius(math.NaN(), 101325, 0.5, 0.0004), "temperature", "the temperature of the air is NaN C; the formulas for air hold from -20 C to 50 C"},
		{celsius(20, 1013.25, 0.5, 0.0004), "pressure", "the pressure of the air is 1.013 kPa; the formulas for air hold from 60 kPa to 110 kPa"},
		{celsius(20, math.Inf(1), 0.5, 0.0004), "pressure", "the pressure of the air is +Inf kPa; the formulas for air hold from 60 kPa to 110 kPa"},
		{celsius(20, 101325, 50, 0.0004), "humidity", "the humidity of the air is 5000 %; the formulas for air hold from 0 % to 100 %"},
		{celsius(20, 101325, -0.01, 0.0004), "humidity", "the humidity of the air is -1 %; the formulas for air hold from 0 % to 100 %"},
		{celsius(20, 101325, 0.5, 400), "carbon dioxide", "the carbon dioxide of the air is 4e+04 %; the formulas for air hold from 0 % to 1 %"},
		{celsius(45, 101325, 1, 0.0004), "water vapour", "air this warm and humid is 9.516 % water vapour; the formulas for air hold up to 6 %"},
	} {
		m, err := row.conditions.Medium()
		var out *RangeError
		if !errors.As(err, &out) {
			t.Errorf("%+v: %v, want a range error", row.conditions, err)
			continue
		}
		if m != (Medium{}) || out.Quantity != row.quantity || out.Error() != row.text {
			t.Errorf("%+v:\n got %q %q\nwant %q %q", row.conditions, out.Quantity, out, row.quantity, row.text)
		}
	}
	for _, edge := range []Conditions{
		celsius(-20, 60e3, 1, 0), celsius(50, 110e3, 0, 0.01), celsius(36, 101325, 1, 0.0004),
	} {
		medium(t, edge)
	}
}

// Carbon dioxide takes the place of oxygen. From none to 1 % of it, kinetic
// theory gives the change of density and speed; Cramer's fit of the speed follows
// it within 2 % of the change.
func TestCarbonDioxide(t *testing.T) {
	without, with := medium(t, celsius(20, 101325, 0, 0)), medium(t, celsius(20, 101325, 0, 0.01))
	rho0, c0, _ := ideal(293.15, 101325, 0, 0)
	rho1, c1, _ := ideal(293.15, 101325, 0, 0.01)
	near(t, "relative change of ρ", with.Density/without.Density-1, rho1/rho0-1, 1e-3)
	near(t, "relative change of c", with.Speed/without.Speed-1, c1/c0-1, 2e-2)
}
