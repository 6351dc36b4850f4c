package sinefit

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestKernelAgainstSums compares the closed forms with the sums they stand for.
func TestKernelAgainstSums(t *testing.T) {
	for _, n := range []int{1, 2, 7, 8, 101, 1000} {
		for _, w := range []Window{Flat, Hann} {
			weights := w.Weights(n)
			for _, x := range []float64{0, 1e-9, 1e-5, 0.04 / float64(n), 0.06 / float64(n), 0.01, 0.3, 1, 2, 3.1, 4, 2 * math.Pi, 6.29} {
				for _, squared := range []bool{false, true} {
					series := w.series()
					if squared {
						series = w.squared()
					}
					var want [3]float64
					var size float64
					for i := range n {
						s := float64(i) - float64(n-1)/2
						a := weights[i]
						if squared {
							a *= a
						}
						want[0] += a * math.Cos(x*s)
						want[1] -= a * s * math.Sin(x*s)
						want[2] -= a * s * s * math.Cos(x*s)
						size += a * s * s
					}
					var got [3]float64
					got[0], got[1], got[2] = kernel(x, n, series)
					for d, tol := range []float64{1e-11 * float64(n), 1e-11 * float64(n*n), 1e-9*size + 1e-9} {
						if math.Abs(got[d]-want[d]) > tol {
							t.Errorf("n %d, window %d (squared %v), x %g: derivative %d is %.12g, want %.12g", n, w, squared, x, d, got[d], want[d])
						}
					}
				}
			}
		}
	}
}

// TestWeights compares the window with its formula.
func TestWeights(t *testing.T) {
	for _, n := range []int{1, 2, 9, 5000} {
		for i, w := range Hann.Weights(n) {
			if want := 0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)); math.Abs(w-want) > 1e-13 {
				t.Fatalf("n %d: weight %d is %g, want %g", n, i, w, want)
			}
		}
	}
}

func rng(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// make samples of a known model.
func samples(n int, mean float64, omega []float64, phasor []complex128, drift complex128) []float64 {
	x := make([]float64, n)
	for i := range x {
		t := float64(i) - float64(n-1)/2
		x[i] = mean
		for k, w := range omega {
			p := phasor[k]
			if k == 0 {
				p *= 1 + drift*complex(t, 0)
			}
			x[i] += math.Sqrt2 * real(p*cmplx.Rect(1, w*t))
		}
	}
	return x
}

func TestFitIsExact(t *testing.T) {
	for _, n := range []int{200, 1001, 5000} {
		for _, window := range []Window{Flat, Hann} {
			bin := 2 * math.Pi / float64(n)
			// Off-bin lines, two of them 1.3 bins apart.
			omega := []float64{0.1237, 0.2474, 0.3711, 0.3711 + 1.3*bin, 1.9}
			phasor := []complex128{1 - 0.4i, 0.01i, -3e-5, 2e-3 + 1e-3i, 0.2}
			drift := complex(0.02, -0.01) / complex(float64(n), 0)
			x := samples(n, 0.3, omega, phasor, drift)
			m, err := New(n, window, omega)
			if err != nil {
				t.Fatal(err)
			}
			f := m.Fit(x)
			if math.Abs(f.Mean-0.3) > 1e-11 || cmplx.Abs(f.Drift-drift)*float64(n) > 1e-10 {
				t.Errorf("n %d: mean %g, drift %g, want 0.3, %g", n, f.Mean, f.Drift, drift)
			}
			for i, p := range f.Phasor {
				if cmplx.Abs(p-phasor[i]) > 1e-11 {
					t.Errorf("n %d: line %d is %g, want %g", n, i, p, phasor[i])
				}
			}
			m.Residual(x, x, f)
			for i, v := range x {
				if math.Abs(v) > 1e-10 {
					t.Fatalf("n %d: %g is left at sample %d", n, v, i)
				}
			}
		}
	}
}

// TestFitAgainstQR solves the same weighted problem with the design matrix
// written out and gonum's QR.
func TestFitAgainstQR(t *testing.T) {
	const n, seed = 257, 11
	r := rng(seed)
	omega := []float64{0.2, 0.4, 0.6, 0.43}
	x := make([]float64, n)
	for i := range x {
		x[i] = r.NormFloat64()
	}
	for _, window := range []Window{Flat, Hann} {
		a := mat.NewDense(n, 2*len(omega)+3, nil)
		weights := window.Weights(n)
		b := mat.NewVecDense(n, nil)
		for i := range n {
			s := float64(i) - (n-1)/2.0
			row := []float64{1}
			for _, w := range omega {
				row = append(row, math.Sqrt2*math.Cos(w*s), -math.Sqrt2*math.Sin(w*s))
			}
			row = append(row, math.Sqrt2*s*math.Cos(omega[0]*s), -math.Sqrt2*s*math.Sin(omega[0]*s))
			root := math.Sqrt(weights[i])
			for k := range row {
				row[k] *= root
			}
			a.SetRow(i, row)
			b.SetVec(i, root*x[i])
		}
		var want mat.VecDense
		if err := want.SolveVec(a, b); err != nil {
			t.Fatal(err)
		}
		m, err := New(n, window, omega)
		if err != nil {
			t.Fatal(err)
		}
		f := m.Fit(x)
		for i, p := range f.Phasor {
			if d := cmplx.Abs(p - complex(want.AtVec(2*i+1), want.AtVec(2*i+2))); d > 1e-12 {
				t.Errorf("window %d, line %d differs by %g", window, i, d)
			}
		}
		k := 2*len(omega) + 1
		drift := complex(want.AtVec(k), want.AtVec(k+1)) / f.Phasor[0]
		if math.Abs(f.Mean-want.AtVec(0)) > 1e-12 || cmplx.Abs(f.Drift-drift) > 1e-12 {
			t.Errorf("window %d: mean %g, drift %g, want %g, %g", window, f.Mean, f.Drift, want.AtVec(0), drift)
		}
	}
}

// TestDrifts: lines that are all a little off show by how much, and by how much
// they grow.
func TestDrifts(t *testing.T) {
	const n = 4000
	want := []complex128{complex(0.002, 0.03) / n, complex(-0.01, 0.06) / n, complex(0.02, -0.05) / n}
	at := []float64{0.05, 0.1, 0.2}
	phasor := []complex128{1, 0.1i, 0.01 - 0.02i}
	x := make([]float64, n)
	for i := range at {
		for k, v := range samples(n, 0, at[i:i+1], phasor[i:i+1], want[i]) {
			x[k] += v
		}
	}
	m, err := New(n, Hann, at)
	if err != nil {
		t.Fatal(err)
	}
	f := m.Fit(x)
	left := make([]float64, n)
	m.Residual(left, x, f)
	for i, d := range m.Drifts(left, f) {
		// The drifting lines leak into each other by a few parts in a thousand.
		if cmplx.Abs(d-want[i]) > 0.01*cmplx.Abs(want[i]) {
			t.Errorf("line %d drifts by %.4g, want %.4g", i, d, want[i])
		}
	}
}

// TestVariance compares the stated variances with what many noises give.
func TestVariance(t *testing.T) {
	const n, runs, seed = 300, 4000, 5
	bin := 2 * math.Pi / n
	omega := []float64{0.25, 0.5, 0.5 + 0.6*bin, 1.4}
	phasor := []complex128{10, 1, 0, 0}
	for _, window := range []Window{Flat, Hann} {
		m, err := New(n, window, omega)
		if err != nil {
			t.Fatal(err)
		}
		r := rng(seed)
		clean := samples(n, 0, omega, phasor, 0)
		x := make([]float64, n)
		var mean, frequency float64
		square := make([]float64, len(omega))
		for range runs {
			for i := range x {
				x[i] = clean[i] + r.NormFloat64()
			}
			f := m.Fit(x)
			mean += f.Mean * f.Mean
			frequency += imag(f.Drift) * imag(f.Drift)
			for i, p := range f.Phasor {
				d := cmplx.Abs(p - phasor[i])
				square[i] += d * d
			}
		}
		// The scatter of a mean of 4000 squares is 2.2 % (1.6 % for two parts).
		near := func(what string, got, want float64) {
			if math.Abs(got/runs/want-1) > 0.09 {
				t.Errorf("seed %d, window %d: variance of %s is %.4g, stated %.4g", seed, window, what, got/runs, want)
			}
		}
		near("the mean", mean, m.MeanVariance())
		near("the frequency", frequency, m.FrequencyVariance(10))
		for i := range omega {
			near([]string{"line 0", "line 1", "line 2", "line 3"}[i], square[i], m.Variance(i))
		}
		// A line alone: 2Σw²/(Σw)²; the close pair costs more.
		want := 2.0 / n
		if window == Hann {
			want *= 1.5
		}
		if math.Abs(m.Variance(3)/want-1) > 0.05 || m.Variance(1) < 1.3*want {
			t.Errorf("window %d: variance of a lone line %g, want %g; of a close one %g", window, m.Variance(3), want, m.Variance(1))
		}
	}
}

func TestNewRefuses(t *testing.T) {
	for name, omega := range map[string][]float64{
		"none":            {},
		"zero":            {0},
		"beyond half":     {0.1, 3.2},
		"not a number":    {math.NaN()},
		"the same":        {0.1, 0.1},
		"almost the same": {0.1, 0.1 + 1e-5},
		"near the mean":   {1e-3},
	} {
		if _, err := New(1000, Hann, omega); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	if _, err := New(5, Flat, []float64{0.1, 0.2}); err == nil {
		t.Error("too few samples accepted")
	}
}

func BenchmarkFit(b *testing.B) {
	const n = 45000
	omega := make([]float64, 12)
	for i := range omega {
		omega[i] = 0.1 * float64(i+1)
	}
	x := samples(n, 0, omega[:1], []complex128{1}, 0)
	b.SetBytes(n)
	for b.Loop() {
		m, err := New(n, Hann, omega)
		if err != nil {
			b.Fatal(err)
		}
		m.Residual(x, x, m.Fit(x))
	}
}
