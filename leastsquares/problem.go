// Package leastsquares finds the parameters that bring a model's residuals
// down to their least sum of squares, and says how well they are known.
//
// The cost that [Solve] brings down is
//
//	F(x) = ½ Σᵢ s²·ρ(rᵢ(x)²/s²) + ½ σ² Σⱼ ((xⱼ − μⱼ)/τⱼ)²
//
// with residuals r, a [Loss] ρ of scale s, the residuals' standard deviation σ
// and priors of mean μ and standard deviation τ. With the plain loss the first
// sum is the sum of squares.
//
// The way down is the Levenberg–Marquardt method in its trust-region form with
// scaled columns (J. J. Moré, "The Levenberg–Marquardt algorithm:
// implementation and theory", Lecture Notes in Mathematics 630, 1978). Each
// step is the exact solution of the quadratic model inside the bounds (the
// bounded-variable active set of P. B. Stark and R. L. Parker, Computational
// Statistics 10, 1995). A robust loss enters as weights, and its curvature as
// far as the whole stays convex (B. Triggs et al., "Bundle adjustment: a modern
// synthesis", 2000, section 4.3).
package leastsquares

import (
	"errors"
	"fmt"
	"math"
)

// Problem states what is to be fitted. Its slices are read, never written.
type Problem struct {
	Residuals  int // number of residuals m, at least 1
	Parameters int // number of parameters n, at least 1

	// Evaluate writes the m residuals at x into r and, unless jacobian is nil,
	// the derivatives ∂rᵢ/∂xⱼ into jacobian[i*n+j]. It must not change or keep
	// its arguments. x is always inside the bounds. An error, or a number that
	// is not finite, says that x is impossible: at the start that is an error
	// of [Solve]; later the step is taken back and a shorter one tried.
	Evaluate func(x, r, jacobian []float64) error

	// Lower and Upper bound the parameters: nil for no bound at all, ±Inf for
	// none on one parameter, both equal to hold a parameter.
	Lower, Upper []float64

	Prior []Prior // nil, or one for each parameter
	Loss  Loss    // the zero value is the plain sum of squares

	// Noise is the standard deviation of the residuals' noise, in the unit of
	// the residuals. 0: it is estimated from the residuals themselves.
	Noise float64

	Names []string // nil, or what warnings call each parameter
}

// Prior is what is known of a parameter before the data: a Gaussian pull
// towards Mean with standard deviation Sigma, both in the parameter's unit. A
// Sigma of 0 or +Inf is no prior.
type Prior struct{ Mean, Sigma float64 }

func (p Prior) some() bool { return p.Sigma > 0 && !math.IsInf(p.Sigma, 1) }

// Options say how long and how exactly to work. The zero value serves.
type Options struct {
	MaxIterations int // steps tried, 0: 500

	// CostTolerance ends the work when the linearised model promises no
	// smaller cost than 1 − CostTolerance of the present one. 0: 1e-14.
	CostTolerance float64

	// StepTolerance ends the work when the next full step is shorter than this
	// share of x, each parameter scaled by its effect. 0: 1e-13.
	StepTolerance float64

	// Progress, if not nil, is called after each iteration.
	Progress func(Progress)
}

// Progress tells how far the work has come.
type Progress struct {
	Iteration   int       // steps tried so far, from 1
	Evaluations int       // calls of Evaluate so far
	X           []float64 // best parameters so far; the receiver's own copy
	Cost        float64   // their cost
	Accepted    bool      // whether this iteration's step was taken
}

// Reason says why the work ended.
type Reason int

const (
	Converged     Reason = iota // a minimum within the tolerances
	Stalled                     // no shorter step lowers the cost, yet the derivatives promise that it should
	MaxIterations               // the allowed iterations are used up
	Cancelled                   // the context ended
)

func (r Reason) String() string {
	switch r {
	case Converged:
		return "converged"
	case Stalled:
		return "stalled"
	case MaxIterations:
		return "out of iterations"
	case Cancelled:
		return "cancelled"
	}
	return fmt.Sprintf("Reason(%d)", int(r))
}

// Bound says where a parameter ended between its bounds.
type Bound int

const (
	Inside  Bound = iota // between its bounds
	AtLower              // at its lower bound
	AtUpper              // at its upper bound
	Held                 // its bounds are equal
)

// Result is the best point found and what is known there. Matrices are n×n,
// row by row. All numbers are finite.
type Result struct {
	X []float64 // parameters

	Cost       float64   // F(X)
	PriorCost  float64   // the priors' part of it
	SumSquares float64   // Σ rᵢ², whatever the loss
	Residuals  []float64 // r at X

	// Noise is the residuals' standard deviation: as given, or estimated over
	// the DegreesOfFreedom, which are m less the number of parameters that the
	// data decide. A parameter shared between data and prior counts by the
	// data's share. With a robust loss Noise is the standard deviation of plain
	// residuals that would determine the parameters as well as these do.
	Noise            float64
	DegreesOfFreedom float64
	LossScale        float64 // the scale s that was used; 0 for the plain loss

	// Covariance of the parameters from data and priors together, by the
	// linearised model, as if the bounds were not there. A held parameter has
	// zeros.
	Covariance    []float64
	StandardError []float64 // square roots of its diagonal
	Correlation   []float64 // 1 on the diagonal, 0 beside a held parameter

	// DataError is the standard error that the data alone would leave. Where
	// they leave a parameter open, Determined is false and DataError is only a
	// large number, the least that rounding can tell.
	DataError  []float64
	Determined []bool

	// Learned is the share of the prior's variance that the data removed: 0,
	// the data could not tell; 1, they told everything. Without a prior it is 1
	// or 0 as Determined.
	Learned []float64

	// Directions are the independent combinations of the free parameters, the
	// worst known first. Scale holds the unit each parameter is measured in
	// there: its prior's sigma, or without one the standard error it would have
	// were all others known.
	Directions []Direction
	Scale      []float64

	Bounds      []Bound // where each parameter ended
	Stopped     Reason
	Iterations  int // steps tried
	Evaluations int // calls of Evaluate
	Warnings    []string
}

// Direction is one independent combination of parameters.
type Direction struct {
	Vector []float64 // unit vector, parameter j in units of Scale[j]
	Sigma  float64   // standard error along it, in the same units
	Change []float64 // what one Sigma along it does to each parameter, in its own unit

	// DataShare is the part of what is known here that came from the data: 0,
	// all from the priors; 1, all from the data.
	DataShare float64

	// IllDetermined: the data say less than the priors; or, without priors, the
	// parameters can hide behind one another so that the combination is known
	// 30 times worse than each alone (the condition index of D. A. Belsley,
	// E. Kuh and R. E. Welsch, Regression Diagnostics, 1980, section 3.2).
	IllDetermined bool

	// Open: neither data nor priors decide it. Sigma is then only a large
	// number.
	Open bool
}

func (p *Problem) check(x0 []float64) error {
	n := p.Parameters
	switch {
	case p.Residuals < 1:
		return fmt.Errorf("least squares: %d residuals, want at least one", p.Residuals)
	case n < 1:
		return fmt.Errorf("least squares: %d parameters, want at least one", n)
	case p.Evaluate == nil:
		return errors.New("least squares: no function to evaluate")
	case len(x0) != n:
		return fmt.Errorf("least squares: %d start values for %d parameters", len(x0), n)
	case p.Lower != nil && len(p.Lower) != n, p.Upper != nil && len(p.Upper) != n:
		return fmt.Errorf("least squares: %d lower and %d upper bounds for %d parameters", len(p.Lower), len(p.Upper), n)
	case p.Prior != nil && len(p.Prior) != n:
		return fmt.Errorf("least squares: %d priors for %d parameters", len(p.Prior), n)
	case p.Names != nil && len(p.Names) != n:
		return fmt.Errorf("least squares: %d names for %d parameters", len(p.Names), n)
	case !(p.Noise >= 0) || math.IsInf(p.Noise, 1):
		return fmt.Errorf("least squares: noise %g, want 0 (estimate it) or a positive number", p.Noise)
	}
	if err := p.Loss.check(); err != nil {
		return err
	}
	for j := range n {
		lo, hi := p.bounds(j)
		if !(lo <= hi) || math.IsInf(lo, 1) || math.IsInf(hi, -1) {
			return fmt.Errorf("least squares: %s is bounded to [%g, %g], which holds no number", p.name(j), lo, hi)
		}
		if !finite(x0[j]) {
			return fmt.Errorf("least squares: %s starts at %g, want a finite number", p.name(j), x0[j])
		}
		if p.Prior == nil {
			continue
		}
		if q := p.Prior[j]; !(q.Sigma >= 0) || (q.some() && !finite(q.Mean)) {
			return fmt.Errorf("least squares: prior of %s is %g ± %g, want a finite mean and a sigma of 0 (none) or more", p.name(j), q.Mean, q.Sigma)
		}
	}
	return nil
}

func (p *Problem) bounds(j int) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	if p.Lower != nil {
		lo = p.Lower[j]
	}
	if p.Upper != nil {
		hi = p.Upper[j]
	}
	return lo, hi
}

func (p *Problem) prior(j int) (Prior, bool) {
	if p.Prior == nil || !p.Prior[j].some() {
		return Prior{}, false
	}
	return p.Prior[j], true
}

func (p *Problem) name(j int) string {
	if p.Names != nil {
		return p.Names[j]
	}
	return fmt.Sprintf("parameter %d", j+1)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func allFinite(v []float64) bool {
	for _, a := range v {
		if a-a != 0 { // NaN or ±Inf
			return false
		}
	}
	return true
}
