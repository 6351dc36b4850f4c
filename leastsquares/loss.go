package leastsquares

import (
	"fmt"
	"math"
	"slices"
)

// Kind names a loss function ρ of z = (r/s)².
type Kind int

const (
	Squares Kind = iota // ρ = z
	Huber               // ρ = z up to 1, then 2√z − 1
	SoftL1              // ρ = 2(√(1+z) − 1)
	Cauchy              // ρ = ln(1+z)
)

func (k Kind) String() string {
	switch k {
	case Squares:
		return "squares"
	case Huber:
		return "Huber"
	case SoftL1:
		return "soft L1"
	case Cauchy:
		return "Cauchy"
	}
	return fmt.Sprintf("Kind(%d)", int(k))
}

// Loss says how residuals are counted. All kinds but Squares let a residual
// much beyond Scale pull less than its square would.
type Loss struct {
	Kind Kind

	// Scale is the size from which on a residual counts as outlying, in the
	// residuals' unit. 0: it follows from the residuals' own median, such that
	// a fit of purely Gaussian noise would keep 95 % of its efficiency.
	Scale float64
}

func (l Loss) check() error {
	if l.Kind < Squares || l.Kind > Cauchy {
		return fmt.Errorf("least squares: unknown loss %v", l.Kind)
	}
	if !(l.Scale >= 0) || math.IsInf(l.Scale, 1) {
		return fmt.Errorf("least squares: loss scale %g, want 0 (from the residuals) or a positive number", l.Scale)
	}
	return nil
}

// tuning is the scale, in standard deviations of Gaussian noise, at which the
// asymptotic efficiency (E ψ′)²/E ψ² is 95 %. Huber and Cauchy: P. W. Holland
// and R. E. Welsch, Communications in Statistics A6, 1977; soft L1: solved from
// the same condition.
func (k Kind) tuning() float64 {
	switch k {
	case Huber:
		return 1.345
	case SoftL1:
		return 1.2871
	case Cauchy:
		return 2.385
	}
	return 1
}

// rho is ρ(z) and its first two derivatives.
func (k Kind) rho(z float64) (v, d1, d2 float64) {
	switch k {
	case Huber:
		if z <= 1 {
			return z, 1, 0
		}
		q := math.Sqrt(z)
		return 2*q - 1, 1 / q, -0.5 / (z * q)
	case SoftL1:
		q := math.Sqrt(1 + z)
		return 2 * z / (1 + q), 1 / q, -0.5 / (q * (1 + z))
	case Cauchy:
		w := 1 / (1 + z)
		return math.Log1p(z), w, -w * w
	}
	return z, 1, 0
}

// weight returns ρ′, with which a residual's square counts, and by how much the
// curvature ρ′ + 2zρ″ of its loss falls short of that: never less than nothing
// for the kinds here.
func (k Kind) weight(z float64) (w, short float64) {
	_, w, w1 := k.rho(z)
	return w, -2 * z * w1
}

// spread estimates the standard deviation of mostly Gaussian residuals about
// zero from their median size; scratch has their length.
func spread(r, scratch []float64) float64 {
	for i, v := range r {
		scratch[i] = math.Abs(v)
	}
	slices.Sort(scratch)
	m := len(scratch)
	return 1.482602218505602 * 0.5 * (scratch[(m-1)/2] + scratch[m/2])
}
