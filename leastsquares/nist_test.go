package leastsquares

import (
	"context"
	"fmt"
	"math"
	"testing"
)

// The data, models, start points and certified values are those of the NIST
// Statistical Reference Datasets for nonlinear regression
// (https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml). They were written
// down from memory: the certified residual sum of squares, given to 11 digits,
// does not come out unless every datum is right.
type nistSet struct {
	name      string
	level     string // NIST's own word for how hard the set is
	model     func(b []float64, x float64, d []float64) float64
	x, y      []float64
	starts    [2][]float64
	certified []float64
	deviation []float64 // certified standard deviations of the estimates
	sum       float64   // certified residual sum of squares
}

func (s nistSet) problem() Problem {
	n := len(s.certified)
	d := make([]float64, n)
	return Problem{
		Residuals: len(s.y), Parameters: n,
		Evaluate: func(b, r, jac []float64) error {
			for i, x := range s.x {
				r[i] = s.model(b, x, d) - s.y[i]
				if jac != nil {
					copy(jac[i*n:], d)
				}
			}
			return nil
		},
	}
}

// digits is NIST's own measure of agreement, the log relative error.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	return min(15, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

func TestNIST(t *testing.T) {
	for _, tc := range []struct {
		name                       string
		opt                        Options
		parameters, deviation, sum float64 // digits that must agree
	}{
		// What NIST certifies has 11 digits, the last of them rounded.
		{"to the end", Options{CostTolerance: 1e-24, StepTolerance: 1e-16}, 10, 10, 10},
		// Where the way down is slowest (ENSO, MGH09) the default tolerance
		// leaves a few 1e-7 of a standard error.
		{"by default", Options{}, 6, 6, 10},
	} {
		for _, s := range nistSets {
			for i, x0 := range s.starts {
				t.Run(fmt.Sprintf("%s/%s/start %d", tc.name, s.name, i+1), func(t *testing.T) {
					res, err := Solve(context.Background(), s.problem(), x0, tc.opt)
					if err != nil {
						t.Fatal(err)
					}
					worst, worstSD := 15.0, 15.0
					for j, want := range s.certified {
						worst = min(worst, digits(res.X[j], want))
						worstSD = min(worstSD, digits(res.StandardError[j], s.deviation[j]))
					}
					sum := digits(res.SumSquares, s.sum)
					t.Logf("%-7s %3d iterations %3d evaluations; digits: parameters %.1f, deviations %.1f, sum %.1f",
						s.level, res.Iterations, res.Evaluations, worst, worstSD, sum)
					if res.Stopped != Converged {
						t.Errorf("%v: %q", res.Stopped, res.Warnings)
					}
					if worst < tc.parameters || worstSD < tc.deviation || sum < tc.sum {
						t.Errorf("x = %.11g\nwant %.11g\ndeviations %.11g\nwant %.11g\nsum of squares %.11g\nwant %.11g",
							res.X, s.certified, res.StandardError, s.deviation, res.SumSquares, s.sum)
					}
				})
			}
		}
	}
}
