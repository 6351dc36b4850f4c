package acoustic

import "math"

// Propagation returns the entire functions of a uniform duct
//
//	c = cosh √u,  s = sinh √u / √u,  ds = ds/du,
//
// for u = Z′·Y′·L² = (Γ·L)², Z′ and Y′ the series impedance and shunt
// admittance per length and L the length (u dimensionless). dc/du = s/2. The
// chain matrix of the duct is
//
//	p1 = c·p2 + Z′L·s·U2,  U1 = Y′L·s·p2 + c·U2.
//
// Having no branch, the three are exact at u = 0 and on the negative real axis
// (a duct without loss, u = −(kL)²).
//
// Where Re √u passes 350 (nothing comes through: −3000 dB) the growth of c, s
// and ds is held at e^350, so that they stay finite; their ratios stay exact.
//
// Source: the transmission line in any text, for instance Zwikker & Kosten (1949).
func Propagation(u complex128) (c, s, ds complex128) {
	x, y := real(u), imag(u)
	if x*x+y*y <= 1 {
		return propagationSeries(x, y)
	}
	c, s = propagationFar(x, y)
	// ds/du = (c − s)/(2u)
	i := 0.5 / (x*x + y*y)
	dr, di := real(c)-real(s), imag(c)-imag(s)
	return c, s, complex((dr*x+di*y)*i, (di*x-dr*y)*i)
}

// PropagationOnly is [Propagation] without the derivative.
func PropagationOnly(u complex128) (c, s complex128) {
	x, y := real(u), imag(u)
	if x*x+y*y <= 1 {
		c, s, _ = propagationSeries(x, y)
		return c, s
	}
	return propagationFar(x, y)
}

// propagationSeries sums s = Σ u^k/(2k+1)! and s' = Σ (k+1)·u^k/(2k+3)! for
// |u| ≤ 1; c = s + 2u·s'. The even and odd powers are real-coefficient
// polynomials in v = u², four short sums that the processor runs side by side.
func propagationSeries(x, y float64) (c, s, ds complex128) {
	const (
		s0 = 1.0
		s1 = 1.0 / 6
		s2 = 1.0 / 120
		s3 = 1.0 / 5040
		s4 = 1.0 / 362880
		s5 = 1.0 / 39916800
		s6 = 1.0 / 6227020800
		s7 = 1.0 / 1307674368000
		s8 = 1.0 / 355687428096000
	)
	// v = u²
	vr, vi := x*x-y*y, 2*x*y
	// even and odd halves of s and of s'
	er, ei := s8*vr+s6, s8*vi
	or, oi := s7*vr+s5, s7*vi
	fr, fi := 8*s8*vr+6*s6, 8*s8*vi // odd powers of s'
	gr, gi := 7*s7*vr+5*s5, 7*s7*vi // even powers of s'

	er, ei = er*vr-ei*vi+s4, er*vi+ei*vr
	or, oi = or*vr-oi*vi+s3, or*vi+oi*vr
	fr, fi = fr*vr-fi*vi+4*s4, fr*vi+fi*vr
	gr, gi = gr*vr-gi*vi+3*s3, gr*vi+gi*vr

	er, ei = er*vr-ei*vi+s2, er*vi+ei*vr
	or, oi = or*vr-oi*vi+s1, or*vi+oi*vr
	fr, fi = fr*vr-fi*vi+2*s2, fr*vi+fi*vr
	gr, gi = gr*vr-gi*vi+s1, gr*vi+gi*vr

	er, ei = er*vr-ei*vi+s0, er*vi+ei*vr

	sr, si := er+or*x-oi*y, ei+or*y+oi*x
	dr, di := gr+fr*x-fi*y, gi+fr*y+fi*x
	x, y = 2*x, 2*y
	return complex(sr+dr*x-di*y, si+dr*y+di*x), complex(sr, si), complex(dr, di)
}

const mostGrowth = 350 // e^350 squared is still finite

// propagationFar is the direct way through r = √u, for |u| > 1.
func propagationFar(x, y float64) (c, s complex128) {
	m := math.Sqrt(x*x + y*y) // |r|²
	var a, b float64          // r = a + jb, a ≥ 0
	if x >= 0 {
		a = math.Sqrt((m + x) / 2)
		b = y / (2 * a)
	} else {
		b = math.Sqrt((m - x) / 2)
		a = math.Abs(y) / (2 * b)
		if y < 0 {
			b = -b
		}
	}
	sin, cos := math.Sincos(b)
	// expm1 keeps sinh a exact for a small attenuation, which alone is left
	// of c where the duct is a quarter wave long.
	e := math.Expm1(min(a, mostGrowth))
	f := e / (1 + e)
	sh := (e + f) / 2
	ch := 1 + e*f/2
	hr, hi := sh*cos, ch*sin // sinh r
	i := 1 / m
	return complex(ch*cos, sh*sin), complex((hr*a+hi*b)*i, (hi*a-hr*b)*i)
}
