package acoustic

import (
	"math"
	"math/big"
)

// Wide-precision arithmetic, an independent way to every series here.
type bigComplex struct{ re, im *big.Float }

func bigFrom(prec uint, z complex128) bigComplex {
	n := func(x float64) *big.Float { return new(big.Float).SetPrec(prec).SetFloat64(x) }
	return bigComplex{n(real(z)), n(imag(z))}
}

func (a bigComplex) prec() uint { return a.re.Prec() }

func (a bigComplex) fresh() *big.Float { return new(big.Float).SetPrec(a.prec()) }

func (a bigComplex) mul(b bigComplex) bigComplex {
	f := a.fresh
	return bigComplex{
		f().Sub(f().Mul(a.re, b.re), f().Mul(a.im, b.im)),
		f().Add(f().Mul(a.re, b.im), f().Mul(a.im, b.re)),
	}
}

func (a bigComplex) add(b bigComplex) bigComplex {
	return bigComplex{a.fresh().Add(a.re, b.re), a.fresh().Add(a.im, b.im)}
}

func (a bigComplex) scale(x float64) bigComplex {
	k := a.fresh().SetFloat64(x)
	return bigComplex{a.fresh().Mul(a.re, k), a.fresh().Mul(a.im, k)}
}

func (a bigComplex) over(x float64) bigComplex {
	k := a.fresh().SetFloat64(x)
	return bigComplex{a.fresh().Quo(a.re, k), a.fresh().Quo(a.im, k)}
}

func (a bigComplex) div(b bigComplex) bigComplex {
	f := a.fresh
	n := f().Add(f().Mul(b.re, b.re), f().Mul(b.im, b.im))
	c := a.mul(bigComplex{b.re, f().Neg(b.im)})
	return bigComplex{c.re.Quo(c.re, n), c.im.Quo(c.im, n)}
}

func (a bigComplex) complex128() complex128 {
	re, _ := a.re.Float64()
	im, _ := a.im.Float64()
	return complex(re, im)
}

// bigSeries sums t_0 + t_1 + … and 0·t_0 + 1·t_1 + 2·t_2 + …, where
// t_k = t_{k−1}·w/d(k). The terms may cancel to half of w's precision.
func bigSeries(w, t0 bigComplex, d func(k float64) float64) (sum, weighted bigComplex) {
	term := t0
	sum = t0
	weighted = bigFrom(t0.prec(), 0)
	gone := func(x *big.Float) bool { return x.Sign() == 0 || x.MantExp(nil) < -int(t0.prec())-60 }
	for k := 1.0; k < 1e6; k++ {
		term = term.mul(w).over(d(k))
		sum = sum.add(term)
		weighted = weighted.add(term.scale(k))
		if gone(term.re) && gone(term.im) {
			break
		}
	}
	return sum, weighted
}

// bigLoss returns F and dF/ds of LossRatio, and 1−F, from the power series of
// I0 and I1 differentiated term by term.
func bigLoss(s float64) (F, dF, E complex128) {
	prec := uint(200 + 4*s)
	S := bigFrom(prec, complex(s, 0))
	w := S.mul(S).mul(bigFrom(prec, 0.25i))
	one := bigFrom(prec, 1)
	n, dn := bigSeries(w, one, func(k float64) float64 { return k * (k + 1) })
	d, dd := bigSeries(w, one, func(k float64) float64 { return k * k })
	f := n.div(d)
	if s == 0 {
		return f.complex128(), 0, 0
	}
	// w^k ∝ s^{2k}: s·dN/ds = 2·Σ k·t_k
	slope := dn.add(f.mul(dd).scale(-1)).div(d).scale(2).div(S)
	return f.complex128(), slope.complex128(), one.add(f.scale(-1)).complex128()
}

// asymptoticLoss returns F from the series of I0 and I1 for large argument,
// Abramowitz & Stegun 9.7.1, s ≥ 500.
func asymptoticLoss(s float64) complex128 {
	z := complex(s/math.Sqrt2, s/math.Sqrt2)
	sum := func(mu float64) complex128 {
		total, term := complex128(1), complex128(1)
		for k := 1.0; k <= 6; k++ {
			term *= complex(-(mu-(2*k-1)*(2*k-1))/(8*k), 0) / z
			total += term
		}
		return total
	}
	return 2 * sum(4) / (z * sum(0))
}
