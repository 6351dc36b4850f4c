package acoustic

import "math"

// PistonResistance returns the radiation resistance of a circular piston in
// an infinite baffle in units of ρc/S,
//
//	r = 1 − J1(2y)/y,
//
// and dr/dy. y = ka ≥ 0 in half space; for an opening of area S into the
// solid angle Ω take y = k·√(2S/Ω). r → y²/2 for small y, where nothing is
// lost to cancellation, and → 1 for large y.
//
// Source: Lord Rayleigh, The Theory of Sound II, §302; any text on acoustics.
func PistonResistance(y float64) (r, dr float64) {
	t := y * y
	if t <= 1 {
		v := t * t
		a := 1./2 + v*(1./144+v*(1./86400+v*(1./203212800+v*(1./1316818944000))))
		b := 1./12 + v*(1./2880+v*(1./3628800+v*(1./14631321600+v*(1./144850083840000))))
		c := 1 + v*(1./24+v*(1./8640+v*(1./14515200+v*(1./73156608000))))
		d := 1./3 + v*(1./360+v*(1./302400+v*(1./914457600+v*(1./7242504192000))))
		return t * (a - t*b), y * (c - t*d)
	}
	if y < 3 {
		// J1(2y)/y = N, J2(2y)/y² = K at w = −y²
		ne, no, ke, ko := besselSums(-t*t, besselTerms[int(2*y)])
		return 1 - (ne - t*no), 2 * y * (ke - t*ko)
	}
	if y > math.MaxFloat64/2 {
		return 1, 0
	}
	j := math.J1(2*y) / y
	// J2(x) = 2·J1(x)/x − J0(x)
	return 1 - j, 2 * (j - math.J0(2*y)) / y
}

// Directivity returns the far-field factor of a circular piston
//
//	D = 2·J1(y)/y
//
// and dD/dy, y ≥ 0; D(0) = 1. With y = ka·sin θ it is the pressure at the
// angle θ over that on the axis.
//
// Source: Lord Rayleigh, The Theory of Sound II, §302; any text on acoustics.
func Directivity(y float64) (D, dD float64) {
	if y < 6 {
		r, dr := PistonResistance(y / 2)
		return 1 - r, -dr / 2
	}
	if y > math.MaxFloat64 {
		return 0, 0
	}
	D = 2 * math.J1(y) / y
	return D, 2 * (math.J0(y) - D) / y
}

// PistonReactance returns the radiation reactance of a circular piston in an
// infinite baffle in units of ρc/S,
//
//	X = 2·H1(x)/x,  x = 2ka ≥ 0,
//
// H1 the Struve function, and dX/dx. Note the argument: twice that of
// [PistonResistance]. X → 4x/(3π), the mass 8/(3π)·ρa/S, for small x and
// → 4/(πx) for large x.
//
// Source: Lord Rayleigh, The Theory of Sound II, §302; M. Abramowitz &
// I. A. Stegun chapter 12.
func PistonReactance(x float64) (X, dX float64) {
	if x <= 1 {
		t := x * x
		v := t * t
		const k = 4 / math.Pi
		const (
			a0 = 1. / 3
			a1 = a0 / (3 * 5)
			a2 = a1 / (5 * 7)
			a3 = a2 / (7 * 9)
			a4 = a3 / (9 * 11)
			a5 = a4 / (11 * 13)
			a6 = a5 / (13 * 15)
			a7 = a6 / (15 * 17)
		)
		e := a0 + v*(a2+v*(a4+v*a6))
		o := a1 + v*(a3+v*(a5+v*a7))
		f := a0 + v*(5*a2+v*(9*a4+v*13*a6))
		g := 3*a1 + v*(7*a3+v*(11*a5+v*15*a7))
		return k * x * (e - t*o), k * (f - t*g)
	}
	if x > math.MaxFloat64 {
		return 0, 0
	}
	h0, h1 := struve(x)
	X = 2 * h1 / x
	// H1' = H0 − H1/x
	return X, 2 * (h0 - X) / x
}

// struve returns H0(x) and H1(x) for x > 0.
//
// Below 30 by their expansion in Bessel functions (Abramowitz & Stegun
// 12.1.19, 12.1.20), whose terms do not cancel, with all J_n from one downward
// recurrence (9.1.27, normalised by 9.1.46); above, Y plus the asymptotic
// series 12.1.29, whose smallest term there is near e^{−30}.
func struve(x float64) (h0, h1 float64) {
	if x < 30 {
		// J_n and J_{n−1} fall so fast past n = x that the start may be 0, 1.
		n := 2 * int(12+0.65*x)
		i := 2 / x
		next, this := 0., 1e-300 // J_{n+1}, J_n
		norm := 0.
		for ; n > 0; n -= 2 {
			k := float64(n)
			odd := k*i*this - next // J_{n−1}
			norm += this
			h1 += this / (k*k - 1)
			h0 += odd / (k - 1)
			next, this = odd, (k-1)*i*odd-this
		}
		norm = 1 / (this + 2*norm)
		return 4 / math.Pi * h0 * norm, 2/math.Pi*(1-this*norm) + 4/math.Pi*h1*norm
	}
	i := 1 / x
	t := i * i
	a, b := 1., 1. // the sums of 1²·3²…(−1)^k/x^{2k}, and for H1
	p, q := 1., 1.
	for k := 1.; k <= 12; k++ {
		odd := 2*k - 1
		p *= -odd * odd * t
		a += p
		q *= -odd * (odd - 2) * t
		b += q
	}
	return math.Y0(x) + 2/math.Pi*i*a, math.Y1(x) + 2/math.Pi*b
}
