package acoustic

import "math"

// End masses of a duct, as the length by which the end seems longer, in units
// of the radius a of a circle of the same area.
const (
	// FlushOutside is the end in an infinite flange, ka → 0.
	// Source: Y. Nomura, I. Yamamura, S. Inawashiro, J. Phys. Soc. Japan 15
	// (1960) 510-517; A. N. Norris & I. C. Sheng, J. Sound Vib. 135 (1989) 85-93.
	FlushOutside = 0.8217

	// Free is the end of a thin-walled pipe without a flange, ka → 0.
	// Source: H. Levine & J. Schwinger, Phys. Rev. 73 (1948) 383-406, as
	// printed; their integral evaluated accurately gives 0.61270 (see
	// [UnflangedPipe]).
	Free = 0.6133

	// PistonEnd is the mass on one face of a flat piston in an infinite
	// baffle. Source: Lord Rayleigh, The Theory of Sound II, §302.
	PistonEnd = 8 / (3 * math.Pi)
)

// Factors on I/(2πS) of [RectangleMass] for a rectangular end: those of the
// circle, FlushOutside and Free, over PistonEnd (to 1e-4).
const (
	RectangleFlush = 0.9681
	RectangleFree  = 0.7225
)

// FlushInside returns the end mass k of a duct that ends flush in the wall of
// a chamber, in units of its radius, and dk/dξ:
//
//	k = 0.8217·max(0, 1 − 1.35ξ + 0.31ξ³),  ξ = √(S/S_wall) ≥ 0,
//
// S the area of all equal ducts in that wall, S_wall the wall's. From the
// polynomial's first zero, ξ = 0.919, k is 0: a duct nearly as large as the
// wall widens into nothing. The polynomial is least at 1.205 and positive
// again from 1.470, far outside the range it was fitted on (ξ < 1); there k
// stays 0.
//
// Source: J. Kergomard & A. Garcia, J. Sound Vib. 114 (1987) 465-479.
func FlushInside(xi float64) (k, dk float64) {
	k = 1 - xi*(1.35-0.31*xi*xi)
	if xi >= 1 || k <= 0 {
		return 0, 0
	}
	return FlushOutside * k, FlushOutside * (3*0.31*xi*xi - 1.35)
}

// RectangleMass returns the self-mass integral of a rectangle w×h [m] moving
// with uniform velocity in an infinite baffle,
//
//	I = ∬∬ dS dS'/|r−r'|
//	  = 2w²h·asinh(h/w) + 2wh²·asinh(w/h) + ⅔(w³+h³) − ⅔(w²+h²)^1.5  [m³],
//
// with dI/dw and dI/dh [m²]. The length of the end is I/(2πS) for a piston,
// RectangleFlush·I/(2πS) or RectangleFree·I/(2πS) for a duct. A slit keeps its
// accuracy at any ratio of the sides: I is summed from its derivatives
// (I is homogeneous of degree 3), which do not cancel. I is 0 where a side is 0.
//
// Source: Rayleigh's integral (The Theory of Sound II, §278) at low frequency,
// which over a rectangle is elementary.
func RectangleMass(w, h float64) (I, dw, dh float64) {
	if w <= 0 || h <= 0 {
		return 0, 0, 0
	}
	r := math.Hypot(w, h)
	a, b := math.Asinh(h/w), math.Asinh(w/h)
	dw = 4*w*h*a + 2*h*h*b - 2*w*(h/(r+w))*h
	dh = 4*w*h*b + 2*w*w*a - 2*h*(w/(r+h))*w
	return (w*dw + h*dh) / 3, dw, dh
}
