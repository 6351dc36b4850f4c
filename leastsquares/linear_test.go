package leastsquares

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// linear is the problem y = Ax with noise.
func linear(a *mat.Dense, y []float64) Problem {
	m, n := a.Dims()
	return Problem{
		Residuals: m, Parameters: n,
		Evaluate: func(x, r, jac []float64) error {
			for i := range m {
				row := a.RawRowView(i)
				r[i] = -y[i]
				for j, v := range row {
					r[i] += v * x[j]
				}
				if jac != nil {
					copy(jac[i*n:], row)
				}
			}
			return nil
		},
	}
}

func randomMatrix(rng *rand.Rand, m, n int) *mat.Dense {
	a := mat.NewDense(m, n, nil)
	for j := range n {
		unit := math.Pow(10, 8*rng.Float64()-4)
		for i := range m {
			a.Set(i, j, unit*(rng.NormFloat64()+0.5))
		}
	}
	return a
}

func solve(t *testing.T, p Problem, x0 []float64, opt Options) *Result {
	t.Helper()
	res, err := Solve(context.Background(), p, x0, opt)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// normal solves the normal equations (AᵀA/σ² + Λ)x = Aᵀy/σ² + Λμ directly.
func normal(a *mat.Dense, y []float64, sigma float64, prior []Prior) (x []float64, cov *mat.Dense) {
	_, n := a.Dims()
	h := mat.NewDense(n, n, nil)
	h.Mul(a.T(), a)
	h.Scale(1/(sigma*sigma), h)
	b := mat.NewVecDense(n, nil)
	b.MulVec(a.T(), mat.NewVecDense(len(y), y))
	b.ScaleVec(1/(sigma*sigma), b)
	for j, q := range prior {
		if q.some() {
			w := 1 / (q.Sigma * q.Sigma)
			h.Set(j, j, h.At(j, j)+w)
			b.SetVec(j, b.AtVec(j)+w*q.Mean)
		}
	}
	// Scaled to a unit diagonal, lest the inverse suffer from the units.
	d := make([]float64, n)
	for j := range n {
		d[j] = 1 / math.Sqrt(h.At(j, j))
	}
	s := mat.NewDense(n, n, nil)
	s.Apply(func(i, j int, v float64) float64 { return v * d[i] * d[j] }, h)
	cov = mat.NewDense(n, n, nil)
	if err := cov.Inverse(s); err != nil {
		panic(err)
	}
	cov.Apply(func(i, j int, v float64) float64 { return v * d[i] * d[j] }, cov)
	v := mat.NewVecDense(n, nil)
	v.MulVec(cov, b)
	return v.RawVector().Data, cov
}

func TestLinearEqualsNormalEquations(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 1))
		n := 1 + rng.IntN(6)
		m := n + 2 + rng.IntN(300)
		a := randomMatrix(rng, m, n)
		y := make([]float64, m)
		for i := range y {
			y[i] = 3 * rng.NormFloat64()
		}
		p := linear(a, y)
		x0 := make([]float64, n)
		var prior []Prior
		sigma := 0.0
		switch seed % 3 {
		case 1: // noise given, some priors
			sigma = 2.5
			prior = make([]Prior, n)
			for j := range prior {
				if rng.IntN(2) == 0 {
					s := 3 / mat.Norm(a.ColView(j), 2)
					prior[j] = Prior{Mean: s * rng.NormFloat64(), Sigma: s * (0.3 + rng.Float64())}
				}
			}
		case 2: // noise given alone
			sigma = 0.7
		}
		p.Prior, p.Noise = prior, sigma
		res := solve(t, p, x0, Options{})
		if sigma == 0 {
			sigma = math.Sqrt(res.SumSquares / float64(m-n))
		}
		want, cov := normal(a, y, sigma, prior)
		if res.Stopped != Converged || res.Iterations > 12 {
			t.Errorf("seed %d: %v after %d iterations", seed, res.Stopped, res.Iterations)
		}
		if math.Abs(res.Noise-sigma) > 1e-12*sigma {
			t.Errorf("seed %d: noise %.15g, want %.15g", seed, res.Noise, sigma)
		}
		_, dataCov := normal(a, y, sigma, nil)
		for j := range n {
			se := math.Sqrt(cov.At(j, j))
			if math.Abs(res.X[j]-want[j]) > 1e-7*se {
				t.Errorf("seed %d: x[%d] = %.12g, want %.12g", seed, j, res.X[j], want[j])
			}
			if math.Abs(res.StandardError[j]-se) > 1e-8*se {
				t.Errorf("seed %d: standard error %d = %.12g, want %.12g", seed, j, res.StandardError[j], se)
			}
			if d := math.Sqrt(dataCov.At(j, j)); math.Abs(res.DataError[j]-d) > 1e-8*d {
				t.Errorf("seed %d: data error %d = %.12g, want %.12g", seed, j, res.DataError[j], d)
			}
			for k := range n {
				sk := math.Sqrt(cov.At(k, k))
				if math.Abs(res.Covariance[j*n+k]-cov.At(j, k)) > 1e-8*se*sk {
					t.Errorf("seed %d: covariance %d,%d = %.12g, want %.12g", seed, j, k, res.Covariance[j*n+k], cov.At(j, k))
				}
				if math.Abs(res.Correlation[j*n+k]-cov.At(j, k)/(se*sk)) > 1e-8 {
					t.Errorf("seed %d: correlation %d,%d = %.12g", seed, j, k, res.Correlation[j*n+k])
				}
			}
		}
		// The directions together are the covariance.
		for j := range n {
			for k := range n {
				var sum float64
				for _, d := range res.Directions {
					sum += d.Change[j] * d.Change[k]
				}
				if math.Abs(sum-cov.At(j, k)) > 1e-8*math.Sqrt(cov.At(j, j)*cov.At(k, k)) {
					t.Errorf("seed %d: directions give covariance %.12g at %d,%d, want %.12g", seed, sum, j, k, cov.At(j, k))
				}
			}
		}
	}
}

// Every choice of which parameter is held at which bound is tried by the normal
// equations; the best that keeps inside is the minimum.
func TestLinearInABoxEqualsExhaustion(t *testing.T) {
	pressed := 0
	for seed := range uint64(80) {
		rng := rand.New(rand.NewPCG(seed, 2))
		n, m := 4, 12
		a := randomMatrix(rng, m, n)
		y := make([]float64, m)
		for i := range y {
			y[i] = rng.NormFloat64()
		}
		p := linear(a, y)
		p.Lower, p.Upper = make([]float64, n), make([]float64, n)
		x0 := make([]float64, n)
		for j := range n {
			s := 1 / mat.Norm(a.ColView(j), 2)
			p.Lower[j] = s * (rng.NormFloat64() - 0.5)
			p.Upper[j] = p.Lower[j] + s*rng.Float64()
			x0[j] = p.Lower[j] + rng.Float64()*(p.Upper[j]-p.Lower[j])
		}
		evaluate := p.Evaluate
		p.Evaluate = func(x, r, jac []float64) error {
			for j := range x {
				if x[j] < p.Lower[j] || x[j] > p.Upper[j] {
					t.Fatalf("seed %d: evaluated outside the bounds at %v", seed, x)
				}
			}
			return evaluate(x, r, jac)
		}
		best := math.Inf(1)
		r := make([]float64, m)
	choices:
		for choice := range 81 {
			x := make([]float64, n)
			var free []int
			for j, c := 0, choice; j < n; j, c = j+1, c/3 {
				switch c % 3 {
				case 0:
					free = append(free, j)
				case 1:
					x[j] = p.Lower[j]
				case 2:
					x[j] = p.Upper[j]
				}
			}
			evaluate(x, r, nil)
			if len(free) > 0 {
				b := mat.NewDense(m, len(free), nil)
				for c, j := range free {
					b.SetCol(c, mat.Col(nil, j, a))
				}
				z, _ := normal(b, r, 1, nil)
				for c, j := range free {
					x[j] = -z[c]
					if x[j] < p.Lower[j] || x[j] > p.Upper[j] {
						continue choices
					}
				}
				evaluate(x, r, nil)
			}
			best = min(best, 0.5*sumSquares(r))
		}
		res := solve(t, p, x0, Options{})
		if res.Stopped != Converged || math.Abs(res.Cost-best) > 1e-11*best {
			t.Errorf("seed %d: %v at cost %.14g, exhaustion finds %.14g", seed, res.Stopped, res.Cost, best)
		}
		for j, b := range res.Bounds {
			if want := res.X[j] == p.Lower[j]; (b == AtLower) != want {
				t.Errorf("seed %d: %g is said to be %d of [%g, %g]", seed, res.X[j], b, p.Lower[j], p.Upper[j])
			}
			if b != Inside {
				pressed++
			}
		}
	}
	if pressed < 80 {
		t.Errorf("only %d bounds were reached: the test tests too little", pressed)
	}
}

// Draws of truth from the priors and of noise, fitted back with the noise
// unknown: errors must be as large as the standard errors say, with the plain
// loss, and with robust ones when one point in twelve is wild.
func TestStandardErrorsAreHonest(t *testing.T) {
	for _, tc := range []struct {
		name  string
		loss  Loss
		wild  bool
		noise float64
	}{
		{"squares", Loss{}, false, 0},
		{"squares, noise given", Loss{}, false, 0.05},
		{"Huber, nothing wild", Loss{Kind: Huber}, false, 0},
		{"Huber", Loss{Kind: Huber}, true, 0},
		{"soft L1", Loss{Kind: SoftL1}, true, 0},
		{"Cauchy", Loss{Kind: Cauchy}, true, 0},
		{"Cauchy of a fixed scale", Loss{Kind: Cauchy, Scale: 0.08}, true, 0},
		{"Huber, noise given", Loss{Kind: Huber}, true, 0.05},
		{"Cauchy, noise given too small", Loss{Kind: Cauchy}, true, 0.02},
	} {
		t.Run(tc.name, func(t *testing.T) {
			const trials = 400
			var pulls, noise float64
			count, beyond := 0, 0
			for seed := range uint64(trials) {
				rng := rand.New(rand.NewPCG(seed, 3))
				n, m := 5, 60
				a := mat.NewDense(m, n, nil)
				truth := make([]float64, n)
				prior := make([]Prior, n)
				for j := range n {
					prior[j] = Prior{Mean: rng.NormFloat64(), Sigma: math.Pow(10, -2*rng.Float64())}
					truth[j] = prior[j].Mean + prior[j].Sigma*rng.NormFloat64()
				}
				y := make([]float64, m)
				for i := range m {
					for j := range n {
						v := rng.NormFloat64() + 0.7
						a.Set(i, j, v)
						y[i] += v * truth[j]
					}
					y[i] += 0.05 * rng.NormFloat64()
					if tc.wild && rng.IntN(12) == 0 {
						y[i] += 2 * rng.NormFloat64()
					}
				}
				p := linear(a, y)
				p.Prior, p.Loss, p.Noise = prior, tc.loss, tc.noise
				x0 := make([]float64, n)
				for j := range x0 {
					x0[j] = prior[j].Mean
				}
				res := solve(t, p, x0, Options{})
				if res.Stopped != Converged {
					t.Errorf("seed %d: %v", seed, res.Stopped)
				}
				for j := range n {
					pull := (res.X[j] - truth[j]) / res.StandardError[j]
					pulls += pull * pull
					count++
					if math.Abs(pull) > 3 {
						beyond++
					}
				}
				noise += res.Noise * res.Noise / trials
			}
			rms := math.Sqrt(pulls / float64(count))
			t.Logf("error over standard error: rms %.3f, beyond three %.2f %%; noise %.4f", rms, 100*float64(beyond)/float64(count), math.Sqrt(noise))
			// 2000 pulls, of which those of one trial share a noise estimate:
			// their mean square is known to about 4 %. Student's t at 55
			// degrees of freedom has an rms of 1.018 and 0.4 % beyond three.
			if rms < 0.94 || rms > 1.1 {
				t.Errorf("rms of error over standard error is %.3f", rms)
			}
			if float64(beyond) > 0.012*float64(count) {
				t.Errorf("%d of %d errors beyond three standard errors", beyond, count)
			}
			// A robust loss keeps 95 % of the efficiency; one wild point in
			// twelve, of which a few look tame, costs it some more.
			want, within := 0.05, 0.02
			if tc.loss.Kind != Squares {
				want /= math.Sqrt(0.95)
			}
			if tc.wild {
				want, within = 0.06, 0.15
			}
			if tc.noise > 0 {
				want, within = tc.noise, 1e-12
			}
			if got := math.Sqrt(noise); math.Abs(got/want-1) > within {
				t.Errorf("noise %.4f, want %.4f", got, want)
			}
		})
	}
}

// The covariance of a Huber fit against P. J. Huber's formula (Robust
// Statistics, 1981, section 7.6), written out with the clipped
// residuals themselves.
func TestHuberCovariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	const m, n, scale = 20, 3, 0.8
	a := randomMatrix(rng, m, n)
	y := make([]float64, m)
	for i := range y {
		y[i] = rng.NormFloat64()
	}
	p := linear(a, y)
	p.Loss = Loss{Huber, scale}
	res := solve(t, p, make([]float64, n), Options{})
	var clipped, inside float64
	for _, r := range res.Residuals {
		c := min(max(r, -scale), scale)
		clipped += c * c
		if c == r {
			inside++
		}
	}
	if inside == m || inside < m/2 {
		t.Fatalf("%g of %d residuals inside the scale: the case shows nothing", inside, m)
	}
	share := inside / m
	k := 1 + n/float64(m)*(1-share)/share
	noise := k * math.Sqrt(clipped/(m-n)) / share
	_, cov := normal(a, y, noise, nil)
	if math.Abs(res.Noise-noise) > 1e-9*noise {
		t.Errorf("noise %.10g, want %.10g", res.Noise, noise)
	}
	for j := range n {
		if want := math.Sqrt(cov.At(j, j)); math.Abs(res.StandardError[j]-want) > 1e-8*want {
			t.Errorf("standard error %d = %.10g, want %.10g", j, res.StandardError[j], want)
		}
	}
}
