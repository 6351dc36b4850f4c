package leastsquares

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// line is y = a + bx through the points.
func line(x, y []float64) Problem {
	a := mat.NewDense(len(x), 2, nil)
	for i, v := range x {
		a.SetRow(i, []float64{1, v})
	}
	return linear(a, y)
}

func TestRobustLossResistsOutliers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	x := steps(0, 1, 100)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = 2 + 0.5*x[i] + 0.1*rng.NormFloat64()
		if i%5 == 2 {
			y[i] += 30
		}
	}
	plain := solve(t, line(x, y), []float64{0, 0}, Options{})
	if math.Abs(plain.X[0]-2) < 3 {
		t.Errorf("outliers do not move the plain fit (%v): the case shows nothing", plain.X)
	}
	for _, kind := range []Kind{Huber, SoftL1, Cauchy} {
		p := line(x, y)
		p.Loss.Kind = kind
		res := solve(t, p, []float64{0, 0}, Options{})
		// A fifth of wild points on one side still biases a monotone loss, by
		// some tenths of the noise.
		if math.Abs(res.X[0]-2) > 0.15 || math.Abs(res.X[1]-0.5) > 0.003 {
			t.Errorf("%v: %v ± %v, want 2, 0.5", kind, res.X, res.StandardError)
		}
		if res.LossScale < 0.1 || res.LossScale > 0.5 {
			t.Errorf("%v: scale %g for noise of 0.1", kind, res.LossScale)
		}
		if res.StandardError[0] > 0.1*plain.StandardError[0] {
			t.Errorf("%v: standard error %g, plain %g", kind, res.StandardError[0], plain.StandardError[0])
		}
	}
}

// E over the Gaussian of the efficiency (E ψ′)²/E ψ² at the tuning scale.
func TestTuningKeeps95Percent(t *testing.T) {
	for _, kind := range []Kind{Huber, SoftL1, Cauchy} {
		s := kind.tuning()
		mean := func(f func(r float64) float64) float64 {
			g := func(r float64) float64 { return f(r) * math.Exp(-r*r/2) * math.Sqrt(2/math.Pi) }
			return quad.Fixed(g, 0, s, 60, nil, 0) + quad.Fixed(g, s, 12, 200, nil, 0)
		}
		slope := mean(func(r float64) float64 {
			_, d1, d2 := kind.rho(r * r / (s * s))
			return d1 + 2*r*r/(s*s)*d2
		})
		square := mean(func(r float64) float64 {
			_, d1, _ := kind.rho(r * r / (s * s))
			return d1 * r * d1 * r
		})
		if e := slope * slope / square; math.Abs(e-0.95) > 1e-4 {
			t.Errorf("%v: efficiency %.6f", kind, e)
		}
	}
}

func TestLossDerivatives(t *testing.T) {
	for _, kind := range []Kind{Squares, Huber, SoftL1, Cauchy} {
		for _, z := range []float64{1e-3, 0.1, 0.9, 1.1, 3, 1e4} {
			const h = 1e-5
			a, da, _ := kind.rho(z * (1 - h))
			b, db, _ := kind.rho(z * (1 + h))
			_, d1, d2 := kind.rho(z)
			if want := (b - a) / (2 * h * z); math.Abs(d1-want) > 1e-8*math.Abs(want) {
				t.Errorf("%v: ρ′(%g) = %.10g, differences give %.10g", kind, z, d1, want)
			}
			if want := (db - da) / (2 * h * z); math.Abs(d2-want) > 1e-6*math.Abs(want)+1e-10 {
				t.Errorf("%v: ρ″(%g) = %.10g, differences give %.10g", kind, z, d2, want)
			}
		}
		// Continuous at 1.
		a, _, _ := kind.rho(1)
		b, _, _ := kind.rho(1 + 1e-12)
		if math.Abs(a-b) > 1e-11 {
			t.Errorf("%v jumps at 1", kind)
		}
	}
}

// The second parameter has no effect at all; the third and fourth only as a
// sum.
func hidden(prior []Prior) Problem {
	return Problem{
		Residuals: 50, Parameters: 4, Prior: prior, Names: []string{"seen", "unseen", "left", "right"},
		Evaluate: func(x, r, jac []float64) error {
			for i := range r {
				u := float64(i) / 10
				noise := 0.01 * math.Sin(float64(i*i))
				r[i] = x[0]*u + (x[2]+x[3])*u*u - 2*u - 7*u*u + noise
				if jac != nil {
					copy(jac[4*i:], []float64{u, 0, u * u, u * u})
				}
			}
			return nil
		},
	}
}

func TestPriorsDecideWhatTheDataCannot(t *testing.T) {
	prior := []Prior{{}, {5, 0.3}, {3.2, 0.1}, {3.9, 0.2}}
	res := solve(t, hidden(prior), []float64{1, 4, 3, 3}, Options{})
	if res.Stopped != Converged {
		t.Fatalf("%v", res.Stopped)
	}
	// left + right is 7.000; what is missing from 7.1 is shared as the variances.
	for j, want := range []float64{2, 5, 3.2 - 0.1*0.2, 3.9 - 0.1*0.8} {
		if math.Abs(res.X[j]-want) > 0.003 {
			t.Errorf("x[%d] = %g, want %g", j, res.X[j], want)
		}
	}
	if got := res.Determined; !reflect.DeepEqual(got, []bool{true, false, false, false}) {
		t.Errorf("determined by the data: %v", got)
	}
	// One datum of weight 1/(σ_l² + σ_r²): posterior σ_lσ_r/√(σ_l²+σ_r²) for both.
	both := 0.1 * 0.2 / math.Hypot(0.1, 0.2)
	for j, want := range []float64{0, 0.3, both, both} {
		if j > 0 && math.Abs(res.StandardError[j]-want) > 1e-3*want {
			t.Errorf("standard error %d = %g, want %g", j, res.StandardError[j], want)
		}
	}
	for j, want := range []float64{1, 0, 0.2, 0.8} {
		if math.Abs(res.Learned[j]-want) > 1e-3 {
			t.Errorf("learned of %d: %g, want %g", j, res.Learned[j], want)
		}
	}
	if c := res.Correlation[2*4+3]; math.Abs(c+1) > 1e-3 {
		t.Errorf("correlation of left and right: %g, want -1", c)
	}
	// 50 residuals; the data decide the slope and the sum.
	if math.Abs(res.DegreesOfFreedom-48) > 1e-3 {
		t.Errorf("degrees of freedom %g, want 48", res.DegreesOfFreedom)
	}
	var ill []Direction
	for _, d := range res.Directions {
		if d.IllDetermined {
			ill = append(ill, d)
		}
		if d.Open {
			t.Errorf("open direction %v", d)
		}
	}
	if len(ill) != 2 {
		t.Fatalf("%d ill-determined directions, want 2: %+v", len(ill), res.Directions)
	}
	var unseen, between bool
	for _, d := range ill {
		if d.DataShare > 0.01 || math.Abs(d.Sigma-1) > 0.01 {
			t.Errorf("data share %g, sigma %g, want 0 and 1", d.DataShare, d.Sigma)
		}
		unseen = unseen || math.Abs(d.Change[1]) > 0.29
		// Along it the sum stays as it is.
		between = between || math.Abs(d.Change[2]) > 0.05 && math.Abs(d.Change[2]+d.Change[3]) < 0.002
	}
	if !unseen || !between {
		t.Errorf("directions %+v", ill)
	}
	if len(res.Warnings) > 0 {
		t.Errorf("warnings %q", res.Warnings)
	}
}

func TestWithoutPriorsOpenDirectionsAreNamed(t *testing.T) {
	res := solve(t, hidden(nil), []float64{1, 4, 3, 3}, Options{})
	if res.Stopped != Converged || math.Abs(res.X[2]+res.X[3]-7) > 0.01 {
		t.Errorf("%v at %v", res.Stopped, res.X)
	}
	// What nothing decides stays where it was, and what is shared moves alike.
	if res.X[1] != 4 || math.Abs(res.X[2]-res.X[3]) > 1e-6 {
		t.Errorf("open parameters went to %v", res.X)
	}
	if !reflect.DeepEqual(res.Determined, []bool{true, false, false, false}) || res.Learned[1] != 0 || res.Learned[0] != 1 {
		t.Errorf("determined %v, learned %v", res.Determined, res.Learned)
	}
	text := strings.Join(res.Warnings, "\n")
	for _, want := range []string{"unseen: nothing decides its value", "left, right: nothing decides one combination of them"} {
		if !strings.Contains(text, want) {
			t.Errorf("no warning %q in %q", want, text)
		}
	}
	if !res.Directions[0].Open || !res.Directions[1].Open || res.Directions[2].Open {
		t.Errorf("directions %+v", res.Directions)
	}
	if res.StandardError[0] > 0.01 {
		t.Errorf("the open directions spoil the standard error of what is seen: %g", res.StandardError[0])
	}
}

func TestHeldParameter(t *testing.T) {
	p := line([]float64{0, 1, 2, 3}, []float64{1.1, 2.9, 5.2, 6.8})
	p.Lower, p.Upper = []float64{1, math.Inf(-1)}, []float64{1, math.Inf(1)}
	res := solve(t, p, []float64{1, 0}, Options{})
	// Σx(y−1)/Σx² by hand.
	if want := (1.9 + 8.4 + 17.4) / 14; math.Abs(res.X[1]-want) > 1e-12 || res.X[0] != 1 {
		t.Errorf("x = %v, want 1, %g", res.X, want)
	}
	if res.Bounds[0] != Held || res.StandardError[0] != 0 || math.Abs(res.DegreesOfFreedom-3) > 1e-12 {
		t.Errorf("bounds %v, standard errors %v, %g degrees of freedom", res.Bounds, res.StandardError, res.DegreesOfFreedom)
	}
	if want := math.Sqrt(res.SumSquares / 3 / 14); math.Abs(res.StandardError[1]-want) > 1e-12 {
		t.Errorf("standard error %g, want %g", res.StandardError[1], want)
	}
}

func TestImpossibleRegionsAreSteppedAround(t *testing.T) {
	for _, tc := range []struct {
		name   string
		refuse func(r, jac []float64) error
	}{
		{"an error", func(_, _ []float64) error { return errors.New("a negative length") }},
		{"a residual that is no number", func(r, jac []float64) error { r[1] = math.NaN(); clear(jac); return nil }},
		{"an infinite derivative", func(r, jac []float64) error {
			clear(r)
			if jac != nil {
				jac[2] = math.Inf(1)
			}
			return nil
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			outside := 0
			p := Problem{
				Residuals: 3, Parameters: 1,
				Evaluate: func(x, r, jac []float64) error {
					if x[0] <= 0 {
						outside++
						return tc.refuse(r, jac)
					}
					for i := range r {
						r[i] = math.Log(x[0]) + 3
						if jac != nil {
							jac[i] = 1 / x[0]
						}
					}
					return nil
				},
			}
			res := solve(t, p, []float64{9}, Options{})
			if res.Stopped != Converged || math.Abs(res.X[0]-math.Exp(-3)) > 1e-12 || outside == 0 {
				t.Errorf("%v at %v after %d steps outside", res.Stopped, res.X, outside)
			}
		})
	}
}

func TestWrongDerivativesAreNoticed(t *testing.T) {
	p := line([]float64{0, 1, 2, 3}, []float64{1, 3, 5, 8})
	right := p.Evaluate
	p.Evaluate = func(x, r, jac []float64) error {
		err := right(x, r, jac)
		for i := range jac {
			jac[i] = -jac[i]
		}
		return err
	}
	res := solve(t, p, []float64{0, 0}, Options{})
	if res.Stopped != Stalled || !strings.Contains(strings.Join(res.Warnings, ""), "derivatives") {
		t.Errorf("%v, %q", res.Stopped, res.Warnings)
	}
}

func TestProgressAndCancelling(t *testing.T) {
	var mgh nistSet
	for _, s := range nistSets {
		if s.name == "MGH10" {
			mgh = s
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var seen []Progress
	res, err := Solve(ctx, mgh.problem(), mgh.starts[1], Options{Progress: func(p Progress) {
		seen = append(seen, p)
		if p.Iteration == 20 {
			cancel()
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	if res.Stopped != Cancelled || res.Iterations != 20 || len(seen) != 20 {
		t.Errorf("%v after %d iterations, %d reports", res.Stopped, res.Iterations, len(seen))
	}
	for i := 1; i < len(seen); i++ {
		if seen[i].Cost > seen[i-1].Cost || seen[i].Iteration != i+1 {
			t.Errorf("report %d: %+v after %+v", i, seen[i], seen[i-1])
		}
	}
	last := seen[len(seen)-1]
	if !reflect.DeepEqual(last.X, res.X) || last.Cost != res.Cost || last.Evaluations != res.Evaluations {
		t.Errorf("last report %+v, result %v at %g", last, res.X, res.Cost)
	}
	if &last.X[0] == &res.X[0] || &last.X[0] == &seen[0].X[0] {
		t.Error("reports share their x")
	}
	res = solve(t, mgh.problem(), mgh.starts[1], Options{MaxIterations: 7})
	if res.Stopped != MaxIterations || res.Iterations != 7 {
		t.Errorf("%v after %d iterations", res.Stopped, res.Iterations)
	}
}

func TestSenselessProblems(t *testing.T) {
	good := func() Problem { return line([]float64{0, 1, 2}, []float64{1, 2, 4}) }
	nan, inf := math.NaN(), math.Inf(1)
	for _, tc := range []struct {
		name, want string
		change     func(p *Problem, x0 *[]float64)
	}{
		{"no residual", "0 residuals", func(p *Problem, _ *[]float64) { p.Residuals = 0 }},
		{"no parameter", "0 parameters", func(p *Problem, _ *[]float64) { p.Parameters = 0 }},
		{"no function", "no function", func(p *Problem, _ *[]float64) { p.Evaluate = nil }},
		{"short start", "1 start values for 2 parameters", func(_ *Problem, x0 *[]float64) { *x0 = []float64{1} }},
		{"start not a number", "parameter 2 starts at NaN", func(_ *Problem, x0 *[]float64) { (*x0)[1] = nan }},
		{"short bounds", "1 lower and 0 upper bounds", func(p *Problem, _ *[]float64) { p.Lower = []float64{1} }},
		{"crossed bounds", "parameter 1 is bounded to [2, 1]", func(p *Problem, _ *[]float64) { p.Lower, p.Upper = []float64{2, 0}, []float64{1, 1} }},
		{"bound not a number", "parameter 2 is bounded to [NaN", func(p *Problem, _ *[]float64) { p.Lower = []float64{0, nan} }},
		{"bound at infinity", "parameter 1 is bounded to [+Inf", func(p *Problem, _ *[]float64) { p.Lower = []float64{inf, 0} }},
		{"short priors", "1 priors", func(p *Problem, _ *[]float64) { p.Prior = []Prior{{1, 1}} }},
		{"negative sigma", "prior of parameter 2 is 1 ± -1", func(p *Problem, _ *[]float64) { p.Prior = []Prior{{}, {1, -1}} }},
		{"prior not a number", "prior of parameter 1 is NaN ± 1", func(p *Problem, _ *[]float64) { p.Prior = []Prior{{nan, 1}, {}} }},
		{"short names", "1 names", func(p *Problem, _ *[]float64) { p.Names = []string{"a"} }},
		{"negative noise", "noise -1", func(p *Problem, _ *[]float64) { p.Noise = -1 }},
		{"unknown loss", "unknown loss Kind(9)", func(p *Problem, _ *[]float64) { p.Loss.Kind = 9 }},
		{"negative scale", "loss scale -2", func(p *Problem, _ *[]float64) { p.Loss = Loss{Huber, -2} }},
		{"impossible start", "the start is impossible: too short", func(p *Problem, _ *[]float64) {
			p.Evaluate = func(_, _, _ []float64) error { return errors.New("too short") }
		}},
		{"residual not a number", "residual 2 is NaN", func(p *Problem, _ *[]float64) {
			f := p.Evaluate
			p.Evaluate = func(x, r, j []float64) error { defer func() { r[1] = nan }(); return f(x, r, j) }
		}},
		{"derivative not a number", "derivative of residual 2 by parameter 2 is +Inf", func(p *Problem, _ *[]float64) {
			f := p.Evaluate
			p.Evaluate = func(x, r, j []float64) error { defer func() { j[3] = inf }(); return f(x, r, j) }
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p, x0 := good(), []float64{0, 0}
			tc.change(&p, &x0)
			res, err := Solve(context.Background(), p, x0, Options{})
			if err == nil || res != nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error %v, want %q", err, tc.want)
			}
		})
	}
}

// However poor the problem, what comes out is finite and inside the bounds.
func TestPoorProblemsStayFinite(t *testing.T) {
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 9))
		m, n := 1+rng.IntN(8), 1+rng.IntN(6)
		a := randomMatrix(rng, m, n)
		y := make([]float64, m)
		for i := range y {
			y[i] = rng.NormFloat64() * math.Pow(10, 6*rng.NormFloat64())
		}
		for j := range n {
			switch rng.IntN(6) {
			case 0:
				a.SetCol(j, make([]float64, m))
			case 1:
				a.SetCol(j, mat.Col(nil, rng.IntN(n), a))
			}
		}
		if rng.IntN(4) == 0 {
			clear(y)
		}
		p := linear(a, y)
		p.Loss.Kind = Kind(rng.IntN(4))
		p.Lower, p.Upper = make([]float64, n), make([]float64, n)
		x0 := make([]float64, n)
		if rng.IntN(2) == 0 {
			p.Prior = make([]Prior, n)
		}
		for j := range n {
			p.Lower[j], p.Upper[j] = math.Inf(-1), math.Inf(1)
			x0[j] = rng.NormFloat64() * math.Pow(10, 3*rng.NormFloat64())
			if rng.IntN(3) == 0 {
				p.Lower[j] = rng.NormFloat64()
				p.Upper[j] = p.Lower[j] + math.Abs(rng.NormFloat64())*float64(rng.IntN(2))
			}
			if p.Prior != nil && rng.IntN(2) == 0 {
				p.Prior[j] = Prior{rng.NormFloat64(), math.Pow(10, 3*rng.NormFloat64())}
			}
		}
		res := solve(t, p, x0, Options{})
		numbers := [][]float64{{res.Cost, res.PriorCost, res.SumSquares, res.Noise, res.DegreesOfFreedom, res.LossScale},
			res.X, res.Residuals, res.Covariance, res.StandardError, res.Correlation, res.DataError, res.Learned, res.Scale}
		for _, d := range res.Directions {
			numbers = append(numbers, d.Vector, d.Change, []float64{d.Sigma, d.DataShare})
		}
		for _, v := range numbers {
			if !allFinite(v) {
				t.Errorf("seed %d: %v\n%+v", seed, v, res)
				break
			}
		}
		for j, x := range res.X {
			if x < p.Lower[j] || x > p.Upper[j] {
				t.Errorf("seed %d: %g outside [%g, %g]", seed, x, p.Lower[j], p.Upper[j])
			}
		}
		if res.Stopped == MaxIterations || res.Stopped == Stalled {
			t.Errorf("seed %d: %v, loss %v, m %d, n %d, %q", seed, res.Stopped, p.Loss.Kind, m, n, res.Warnings)
		}
	}
}
