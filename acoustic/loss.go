package acoustic

import (
	"math"
	"math/big"
)

// LossRatio returns the ratio F of a circular duct by which the walls slow and
// cool the air,
//
//	F = 2·J1(x)/(x·J0(x)),  x = s·√(−j),
//
// and its derivative dF/ds. s = a·√(ωρ/μ) ≥ 0 is the shear wave number
// (dimensionless; a radius [m], ρ density [kg/m³], μ viscosity [Pa s]); for
// the thermal ratio call it with s·√Pr. F is 1 at s = 0 and tends to
// √2·(1−j)/s in a wide duct.
//
// The relative error is under 1e-12 in F and 1e-11 in dF/ds for any s ≥ 0.
// 1 − F loses digits where F is near 1: take [LossComplement] for it.
//
// Source: C. Zwikker & C. W. Kosten, Sound Absorbing Materials (1949);
// M. R. Stinson, J. Acoust. Soc. Am. 89 (1991) 550-558. With z = s·√j,
// F = 2·I1(z)/(z·I0(z)): the power series of M. Abramowitz & I. A. Stegun 9.6.10
// below s = 24, above it the asymptotic series of I1/I0, where the part left out is
// e^{−√2·s}.
func LossRatio(s float64) (F, dF complex128) {
	if s >= wide {
		return lossWide(s)
	}
	one, two, d := lossSeries(s)
	fr, fi := one.re*d.re+one.im*d.im, one.im*d.re-one.re*d.im
	kr, ki := two.re*d.re+two.im*d.im, two.im*d.re-two.re*d.im
	// s·dF/ds = 2(1−F) − z²F²/2 with 1−F = (z²/4)·K: no second Bessel function.
	h := s / 2
	return complex(fr, fi), complex(-h*(ki-2*fr*fi), h*(kr-(fr*fr-fi*fi)))
}

// LossRatioOnly is [LossRatio] without the derivative.
func LossRatioOnly(s float64) complex128 {
	F, _ := LossRatio(s)
	return F
}

// LossComplement returns E = 1 − F with F from [LossRatio], and dE/ds. It
// keeps its relative accuracy down to s = 0, where E tends to j·s²/8; jωρ/E is
// then the Poiseuille resistance 8μ/a² and 4/3 of the mass.
//
// E = I2(z)/I0(z), z = s·√j (Abramowitz & Stegun 9.6.26).
func LossComplement(s float64) (E, dE complex128) {
	if s >= wide {
		F, dF := lossWide(s)
		return 1 - F, -dF
	}
	one, two, d := lossSeries(s)
	x := s * s / 4
	fr, fi := one.re*d.re+one.im*d.im, one.im*d.re-one.re*d.im
	kr, ki := two.re*d.re+two.im*d.im, two.im*d.re-two.re*d.im
	h := s / 2
	return complex(-x*ki, x*kr), complex(h*(ki-2*fr*fi), -h*(kr-(fr*fr-fi*fi)))
}

// wide is the shear wave number from which the asymptotic series serves: there
// e^{−√2·s} is 2e-15, and the power series has lost 3 digits to cancellation.
const wide = 24

// Coefficients of 1 − I1(z)/I0(z) = c1/z + c2/z² + …, exact. They follow from
// the Riccati equation r' = 1 − r/z − r² of r = I1/I0:
// 2·c_k = (k−2)·c_{k−1} + Σ c_i·c_{k−i}, c1 = 1/2.
const (
	c1  = 1.0 / 2
	c2  = 1.0 / 8
	c3  = 1.0 / 8
	c4  = 25.0 / 128
	c5  = 13.0 / 32
	c6  = 1073.0 / 1024
	c7  = 103.0 / 32
	c8  = 375733.0 / 32768
	c9  = 23797.0 / 512
	c10 = 55384775.0 / 262144
	c11 = 2180461.0 / 2048
	c12 = 24713030909.0 / 4194304
	c13 = 72763141.0 / 2048
	c14 = 7780757249041.0 / 33554432
	c15 = 13342715521.0 / 8192
	c16 = 26308967412122125.0 / 2147483648
)

// lossWide is LossRatio for s ≥ wide. With 1/z = p(1−j) the powers of 1/z²
// are alternately real and imaginary, so four real polynomials suffice.
func lossWide(s float64) (F, dF complex128) {
	i := 1 / s
	p := i * (1 / math.Sqrt2)
	q := i * i // 1/z² = −j·q
	t := q * q
	a := c1 - t*(c5-t*(c9-t*c13))
	b := -q * (c3 - t*(c7-t*(c11-t*c15)))
	c := c2 - t*(c6-t*(c10-t*c14))
	d := -q * (c4 - t*(c8-t*(c12-t*c16)))
	// e = (1/z)(a + jb) + (1/z²)(c + jd) = 1 − I1/I0
	er := p*(a+b) + q*d
	ei := p*(b-a) - q*c
	// F = (2/z)(1 − e)
	g := 2 * p
	fr := g * (1 - er - ei)
	fi := -g * (1 - er + ei)
	// s·dF/ds = 2(1−F) − 2(1−e)² = 4e − 2e² − 2F
	dr := 2 * i * (2*er - (er*er - ei*ei) - fr)
	di := 2 * i * (2*ei - 2*er*ei - fi)
	return complex(fr, fi), complex(dr, di)
}

type pair struct{ re, im float64 }

// lossSeries returns N = 2·I1(z)/z, K = 4·I2(z)/z² and conj(I0)/|I0|², for
// z² = j·s². In w = z²/4 = j·x,
//
//	N = Σ w^k/(k!(k+1)!),  K = Σ w^k/(k!(k+2)!),  I0 = N + w·K,
//
// each split into its even and odd powers, which are real polynomials in x².
func lossSeries(s float64) (n, k, inv pair) {
	x := s * s / 4
	ne, no, ke, ko := besselSums(x*x, besselTerms[int(s)])
	no *= x
	ko *= x
	dr, di := ne-x*ko, no+x*ke
	r := 1 / (dr*dr + di*di)
	return pair{ne, no}, pair{ke, ko}, pair{dr * r, di * r}
}

// besselSums returns the even and odd coefficients' polynomials of N and K in
// t, the first m rows of besselSeries. Its argument is x² for w = j·x and −x²
// for w = ±x.
func besselSums(t float64, m int) (ne, no, ke, ko float64) {
	terms := besselSeries[:m]
	for i := len(terms) - 1; i >= 0; i-- {
		c := &terms[i]
		ne = ne*t + c.ne
		no = no*t + c.no
		ke = ke*t + c.ke
		ko = ko*t + c.ko
	}
	return ne, no, ke, ko
}

// besselSeries[m] holds (−1)^m times the coefficients of w^(2m) and w^(2m+1)
// in N and K of lossSeries, rounded once from exact fractions: the sums cancel,
// so a rounding carried from term to term would show.
var besselSeries = func() (table [maxTerms]struct{ ne, no, ke, ko float64 }) {
	coefficient := func(m, k, order int) float64 {
		var a, b big.Int
		a.MulRange(1, int64(k))
		b.MulRange(1, int64(k+order))
		f, _ := new(big.Rat).SetFrac(big.NewInt(1), a.Mul(&a, &b)).Float64()
		if m%2 == 1 {
			return -f
		}
		return f
	}
	for m := range table {
		table[m].ne = coefficient(m, 2*m, 1)
		table[m].no = coefficient(m, 2*m+1, 1)
		table[m].ke = coefficient(m, 2*m, 2)
		table[m].ko = coefficient(m, 2*m+1, 2)
	}
	return table
}()

const maxTerms = 23

// besselTerms[i] is how many rows of besselSeries are needed for s < i+1: the
// first row left out is below 1e-18 of |2·I1/z|.
var besselTerms = func() (n [wide]int) {
	for i := range n {
		s := float64(i + 1)
		size := s/math.Sqrt2 - 1.5*math.Log(s+1) // |2·I1/z| ≥ e^size
		for m := 1; ; m++ {
			k := float64(2 * m)
			a, _ := math.Lgamma(k + 1)
			b, _ := math.Lgamma(k + 2)
			if k*math.Log(s*s/4)-a-b < size+math.Log(1e-18) || m == maxTerms {
				n[i] = m
				break
			}
		}
	}
	return n
}()
