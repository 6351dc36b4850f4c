package leastsquares

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// resonances is a made-up impedance-like curve: two resonances on a floor, its
// logarithm against noisy data at m frequencies. Eight parameters: the floor
// and its slope, then frequency, height and Q of each.
func resonances(m int, seed uint64) (p Problem, truth, start []float64) {
	truth = []float64{1.8, 0.3, 32, 25, 7, 75, 18, 5}
	start = []float64{1.6, 0.2, 29, 20, 6, 82, 22, 4}
	x := make([]float64, m)
	for i := range x {
		x[i] = 10 * math.Pow(20, float64(i)/float64(m-1))
	}
	model := func(b []float64, x float64, d []float64) float64 {
		l := math.Log(x / 50)
		floor := math.Exp(b[0] + b[1]*l)
		v := floor
		for k := 2; k < 8; k += 3 {
			u := x/b[k] - b[k]/x
			q := 1 / (1 + b[k+2]*b[k+2]*u*u)
			v += b[k+1] * q
			s := -b[k+1] * q * q * 2 * b[k+2] * u
			d[k], d[k+1], d[k+2] = s*b[k+2]*(-x/(b[k]*b[k])-1/x), q, s*u
		}
		d[0], d[1] = floor, floor*l
		for j := range d {
			d[j] /= v
		}
		return math.Log(v)
	}
	rng := rand.New(rand.NewPCG(seed, 8))
	d := make([]float64, 8)
	y := make([]float64, m)
	for i := range y {
		y[i] = model(truth, x[i], d) + 0.02*rng.NormFloat64()
	}
	p = Problem{
		Residuals: m, Parameters: 8,
		Evaluate: func(b, r, jac []float64) error {
			for i, x := range x {
				r[i] = model(b, x, d) - y[i]
				if jac != nil {
					copy(jac[8*i:], d)
				}
			}
			return nil
		},
	}
	return p, truth, start
}

func TestResonancesFromADistance(t *testing.T) {
	for _, kind := range []Kind{Squares, Huber, SoftL1, Cauchy} {
		for seed := range uint64(10) {
			p, truth, start := resonances(300, seed)
			p.Loss.Kind = kind
			res := solve(t, p, start, Options{})
			if res.Stopped != Converged || res.Evaluations > 40 {
				t.Errorf("%v, seed %d: %v after %d evaluations", kind, seed, res.Stopped, res.Evaluations)
			}
			for j := range truth {
				if math.Abs(res.X[j]-truth[j]) > 4.5*res.StandardError[j] {
					t.Errorf("%v, seed %d: parameter %d is %g ± %g, want %g", kind, seed, j, res.X[j], res.StandardError[j], truth[j])
				}
			}
		}
	}
}

// Going on longer must not allocate more.
func TestIterationsDoNotAllocate(t *testing.T) {
	var mgh nistSet
	for _, s := range nistSets {
		if s.name == "MGH10" {
			mgh = s
		}
	}
	for _, kind := range []Kind{Squares, Cauchy} {
		p := mgh.problem()
		p.Loss = Loss{kind, 1e4}
		if kind == Squares {
			p.Loss.Scale = 0
		}
		count := func(iterations int) float64 {
			return testing.AllocsPerRun(5, func() {
				res, err := Solve(context.Background(), p, mgh.starts[0], Options{MaxIterations: iterations})
				if err != nil || res.Iterations != iterations {
					t.Fatalf("%v, %+v", err, res)
				}
			})
		}
		if few, many := count(5), count(25); many > few {
			t.Errorf("%v: 5 iterations allocate %v times, 25 iterations %v times", kind, few, many)
		}
	}
}

// BenchmarkModel2000x8 is the linear algebra of one iteration: from residuals
// and Jacobian to the next step.
func BenchmarkModel2000x8(b *testing.B) {
	for _, kind := range []Kind{Squares, Huber, Cauchy} {
		b.Run(fmt.Sprint(kind), func(b *testing.B) {
			p, _, start := resonances(2000, 1)
			s := &solver{
				ctx: context.Background(), p: &p,
				x: start, r: make([]float64, 2000), jac: make([]float64, 2000*8),
				data: newTriangle(8), step: newStepper(8), scale: 0.05,
				block: make([]float64, blockRows*9), short: make([]float64, 64), work: make([]float64, 64),
			}
			p.Loss.Kind = kind
			p.Evaluate(s.x, s.r, s.jac)
			b.ReportAllocs()
			for b.Loop() {
				s.factor()
				s.step.within(0.5 * s.step.fullD)
			}
		})
	}
}

// BenchmarkSolve2000x8 is a whole fit with a model that costs next to nothing.
func BenchmarkSolve2000x8(b *testing.B) {
	for _, kind := range []Kind{Squares, Huber, Cauchy} {
		b.Run(fmt.Sprint(kind), func(b *testing.B) {
			p, _, start := resonances(2000, 1)
			p.Loss.Kind = kind
			b.ReportAllocs()
			for b.Loop() {
				res, err := Solve(context.Background(), p, start, Options{})
				if err != nil || res.Stopped != Converged {
					b.Fatal(err, res)
				}
				b.ReportMetric(float64(res.Evaluations), "evaluations/op")
			}
		})
	}
}
