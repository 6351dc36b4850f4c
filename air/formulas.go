package air

import "math"

// saturation returns the vapour pressure of water, Pa, at T in K (CIPM-2007,
// eq. A1.1).
func saturation(T float64) float64 {
	return math.Exp(1.2378847e-5*T*T - 1.9121316e-2*T + 33.93711047 - 6.3431645e3/T)
}

// waterFraction returns the mole fraction x_w of water vapour, with the
// enhancement factor f for vapour in air (CIPM-2007, eqs A1.2 and A1.3).
func waterFraction(T, p, humidity float64) float64 {
	t := T - zeroCelsius
	f := 1.00062 + 3.14e-8*p + 5.6e-7*t*t
	return humidity * f * saturation(T) / p
}

// compressibility returns Z, which is 1 for an ideal gas (CIPM-2007, eq. A1.4).
func compressibility(T, p, xw float64) float64 {
	t, q := T-zeroCelsius, p/T
	return 1 -
		q*(1.58123e-6-2.9331e-8*t+1.1043e-10*t*t+
			(5.707e-6-2.051e-8*t)*xw+
			(1.9898e-4-2.376e-6*t)*xw*xw) +
		q*q*(1.83e-11-0.765e-8*xw*xw)
}

// density returns ρ in kg/m³ (CIPM-2007, eq. 2, with its rounded constants).
func density(T, p, xw, xc float64) float64 {
	return (3.483740e-3 + 1.4446e-3*(xc-0.0004)) * p / (compressibility(T, p, xw) * T) * (1 - 0.3780*xw)
}

// cramer holds the sixteen coefficients of Cramer's polynomial, eq. 15 and
// table III, in his order.
type cramer [16]float64

var speedCoefficients = cramer{
	331.5024, 0.603055, -0.000528, // 1, t, t²
	51.471935, 0.1495874, -0.000782, // x_w
	-1.82e-7, 3.73e-8, -2.93e-10, // p
	-85.20931, -0.228525, 5.91e-5, // x_c
	-2.835149, -2.15e-13, 29.179762, 0.000486, // x_w², p², x_c², x_w p x_c
}

var gammaCoefficients = cramer{
	1.400822, -1.75e-5, -1.73e-7,
	-0.0873629, -0.0001665, -3.26e-6,
	2.047e-8, -1.26e-10, 5.939e-14,
	-0.1199717, -0.0008693, 1.979e-6,
	-0.01104, -3.478e-16, 0.0450616, 1.82e-6,
}

// at evaluates the polynomial at t in °C, p in Pa and the mole fractions of
// water and carbon dioxide.
func (a *cramer) at(t, p, xw, xc float64) float64 {
	return a[0] + a[1]*t + a[2]*t*t +
		(a[3]+a[4]*t+a[5]*t*t)*xw +
		(a[6]+a[7]*t+a[8]*t*t)*p +
		(a[9]+a[10]*t+a[11]*t*t)*xc +
		a[12]*xw*xw + a[13]*p*p + a[14]*xc*xc + a[15]*xw*p*xc
}

// viscosity returns μ in Pa·s (IEC 61094-2:2009, Annex F).
func viscosity(T, xw float64) float64 {
	return (84.986 + 7.0*T + (113.157-T)*xw - 3.7501e-3*T*T - 100.015*xw*xw) * 1e-8
}

// thermalDiffusivity returns α_t = k/(ρ C_p) in m²/s (IEC 61094-2:2009, Annex F).
// The source gives k in kcal/(m·s·K) and C_p in kcal/(kg·K); the kilocalorie
// cancels.
func thermalDiffusivity(T, xw, rho float64) float64 {
	k := (60.054 + 1.846*T + 2.06e-6*T*T + (40-1.775e-4*T)*xw) * 1e-8
	cp := 0.251625 - 9.2525e-5*T + 2.1334e-7*T*T - 1.0043e-10*T*T*T +
		(0.12477-2.283e-5*T+1.267e-7*T*T)*xw +
		(0.01116+4.61e-6*T+1.74e-8*T*T)*xw*xw
	return k / (rho * cp)
}
