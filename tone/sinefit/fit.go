// Package sinefit fits tones of known frequency to samples, all of them at
// once, by linear least squares.
//
// The model is a mean, any number of lines and, for the first line, a steady
// drift of its amplitude and phase over the stretch:
//
//	x(t) = m + √2·Re[ P₀(1 + δt)·e^{jω₀t} + Σ P_i·e^{jω_i t} ]
//
// with t counted in samples from the middle of the stretch and ω in radians per
// sample. A joint fit needs no whole number of periods: lines only one bin
// apart are told apart, and how much that costs is in the variance. The normal
// matrix is closed form (sums of cosines are Dirichlet kernels), so a fit costs
// one pass over the samples for every line.
package sinefit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// A Model is a set of lines over a stretch of n samples, factorised once and
// fitted as often as wanted. It is not changed by use.
type Model struct {
	n      int
	window Window
	omega  []float64
	even   half // mean, cosines, t·sin of the first line
	odd    half // sines, t·cos of the first line
}

// half is one of the two systems the normal equations fall into: about the
// middle of the stretch even and odd functions have nothing to do with each
// other.
type half struct {
	normal   mat.Cholesky
	variance []float64 // of each coefficient, for white noise of unit variance
}

// worst is the largest condition number of a system of unit columns. Beyond it
// a coefficient would carry a thousand times its ordinary noise.
const worst = 1e6

// New prepares a fit of lines at omega, in radians per sample, to n samples.
// Lines outside (0, π), or so close to each other, to 0 or to π that the
// stretch cannot tell them apart, are an error.
func New(n int, window Window, omega []float64) (*Model, error) {
	if len(omega) == 0 || n < 2*len(omega)+3 {
		return nil, fmt.Errorf("sine fit: %d samples cannot hold %d lines", n, len(omega))
	}
	for _, w := range omega {
		if !(w > 0 && w < math.Pi) {
			return nil, fmt.Errorf("sine fit: a line at %g rad a sample, want one between 0 and π", w)
		}
	}
	m := &Model{n: n, window: window, omega: omega}
	for _, h := range []struct {
		half *half
		gram func(series []float64) *mat.SymDense
	}{{&m.even, m.gramEven}, {&m.odd, m.gramOdd}} {
		if err := h.half.prepare(h.gram(window.series()), h.gram(window.squared())); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// scale makes the drift column as large as the others.
func (m *Model) scale() float64 { return 2 / float64(m.n) }

func (m *Model) gramEven(series []float64) *mat.SymDense {
	lines := len(m.omega)
	g := mat.NewSymDense(lines+2, nil)
	cos := func(i int) float64 { // the mean is a cosine of frequency 0
		if i == 0 {
			return 0
		}
		return m.omega[i-1]
	}
	for i := 0; i <= lines; i++ {
		for k := i; k <= lines; k++ {
			minus, _, _ := kernel(cos(i)-cos(k), m.n, series)
			plus, _, _ := kernel(cos(i)+cos(k), m.n, series)
			g.SetSym(i, k, (minus+plus)/2)
		}
		_, minus, _ := kernel(m.omega[0]-cos(i), m.n, series)
		_, plus, _ := kernel(m.omega[0]+cos(i), m.n, series)
		g.SetSym(i, lines+1, -m.scale()*(minus+plus)/2)
	}
	_, _, zero := kernel(0, m.n, series)
	_, _, twice := kernel(2*m.omega[0], m.n, series)
	g.SetSym(lines+1, lines+1, m.scale()*m.scale()*(twice-zero)/2)
	return g
}

func (m *Model) gramOdd(series []float64) *mat.SymDense {
	lines := len(m.omega)
	g := mat.NewSymDense(lines+1, nil)
	for i, a := range m.omega {
		for k := i; k < lines; k++ {
			minus, _, _ := kernel(a-m.omega[k], m.n, series)
			plus, _, _ := kernel(a+m.omega[k], m.n, series)
			g.SetSym(i, k, (minus-plus)/2)
		}
		_, minus, _ := kernel(a-m.omega[0], m.n, series)
		_, plus, _ := kernel(a+m.omega[0], m.n, series)
		g.SetSym(i, lines, -m.scale()*(minus+plus)/2)
	}
	_, _, zero := kernel(0, m.n, series)
	_, _, twice := kernel(2*m.omega[0], m.n, series)
	g.SetSym(lines, lines, -m.scale()*m.scale()*(zero+twice)/2)
	return g
}

// prepare factorises the normal matrix g and finds the variances: with weights
// w and white noise the covariance is g⁻¹·q·g⁻¹, q made with w².
func (h *half) prepare(g, q *mat.SymDense) error {
	n := g.SymmetricDim()
	unit := mat.NewSymDense(n, nil)
	for i := range n {
		for k := i; k < n; k++ {
			unit.SetSym(i, k, g.At(i, k)/math.Sqrt(g.At(i, i)*g.At(k, k)))
		}
	}
	var check mat.Cholesky
	if ok := check.Factorize(unit); !ok || check.Cond() > worst {
		return fmt.Errorf("sine fit: the stretch is too short to tell its lines apart")
	}
	h.normal.Factorize(g)
	var inverse mat.SymDense
	if err := h.normal.InverseTo(&inverse); err != nil {
		return fmt.Errorf("sine fit: %w", err)
	}
	var half, cov mat.Dense
	half.Mul(&inverse, q)
	cov.Mul(&half, &inverse)
	h.variance = make([]float64, n)
	for i := range n {
		h.variance[i] = cov.At(i, i)
	}
	return nil
}

// A Fit is what was found in one stretch.
type Fit struct {
	Mean   float64
	Phasor []complex128 // RMS, one for each line, at the middle of the stretch
	// Drift of the first line for each sample: the real part is the relative
	// growth of its amplitude, the imaginary part how much higher than assumed
	// its frequency is, in radians per sample. Zero if the line has no amplitude.
	Drift complex128
}

// Fit fits the model to x, which must have the model's length.
func (m *Model) Fit(x []float64) Fit {
	m.check(x)
	lines := len(m.omega)
	mid := float64(m.n-1) / 2
	weighted, moment := make([]float64, m.n), make([]float64, m.n)
	var sum float64
	for i, weight := range m.window.Weights(m.n) {
		w := x[i] * weight
		weighted[i], moment[i] = w, w*(float64(i)-mid)*m.scale()
		sum += w
	}
	spectrum := Spectrum(weighted, m.omega)
	drift := Spectrum(moment, m.omega[:1])[0]

	even := mat.NewVecDense(lines+2, nil)
	odd := mat.NewVecDense(lines+1, nil)
	even.SetVec(0, sum)
	for i, s := range spectrum {
		even.SetVec(i+1, real(s))
		odd.SetVec(i, -imag(s))
	}
	even.SetVec(lines+1, -imag(drift))
	odd.SetVec(lines, real(drift))
	m.even.solve(even)
	m.odd.solve(odd)

	f := Fit{Mean: even.AtVec(0), Phasor: make([]complex128, lines)}
	for i := range f.Phasor {
		f.Phasor[i] = complex(even.AtVec(i+1), -odd.AtVec(i)) / math.Sqrt2
	}
	if p := f.Phasor[0]; p != 0 {
		f.Drift = complex(odd.AtVec(lines), -even.AtVec(lines+1)) * complex(m.scale()/math.Sqrt2, 0) / p
	}
	return f
}

func (m *Model) check(x []float64) {
	if len(x) != m.n {
		panic(fmt.Sprintf("sinefit: %d samples for a model of %d", len(x), m.n))
	}
}

func (h *half) solve(v *mat.VecDense) {
	if err := h.normal.SolveVecTo(v, v); err != nil {
		// The condition was bounded in prepare.
		panic(err)
	}
}

// Drifts are the drifts of all lines: that of the first as fitted, those of the
// others as what Residual left shows of them, each line as if it stood alone. A
// line without amplitude has none.
func (m *Model) Drifts(left []float64, f Fit) []complex128 {
	m.check(left)
	mid := float64(m.n-1) / 2
	moment := make([]float64, m.n)
	for i, w := range m.window.Weights(m.n) {
		moment[i] = left[i] * w * (float64(i) - mid)
	}
	// √2·Re(P·δ·t·e^{jωt}) against t·e^{−jωt} is P·δ·Σwt²/√2.
	_, _, spread := kernel(0, m.n, m.window.series())
	drifts := Spectrum(moment, m.omega)
	for i, p := range f.Phasor {
		if p == 0 {
			drifts[i] = 0
			continue
		}
		drifts[i] *= complex(-math.Sqrt2/spread, 0) / p
	}
	drifts[0] += f.Drift
	return drifts
}

// Variance is the mean square of the error |P − P̂| of line i's RMS phasor for
// white noise of unit variance: 2·(sum of squared weights)/(sum of weights)² for
// a line that stands alone, more for one with close neighbours.
func (m *Model) Variance(i int) float64 {
	return (m.even.variance[i+1] + m.odd.variance[i]) / 2
}

// MeanVariance is the variance of the mean for white noise of unit variance.
func (m *Model) MeanVariance() float64 { return m.even.variance[0] }

// FrequencyVariance is the variance of the imaginary part of Drift for white
// noise of unit variance and a first line of the RMS value a.
func (m *Model) FrequencyVariance(a float64) float64 {
	lines := len(m.omega)
	v := (m.even.variance[lines+1] + m.odd.variance[lines]) / 2
	return v * m.scale() * m.scale() / (2 * a * a)
}

// Residual writes x less the fitted lines and mean to dst, of the model's
// length; dst may be x.
func (m *Model) Residual(dst, x []float64, f Fit) {
	m.check(x)
	m.check(dst)
	for i, v := range x {
		dst[i] = v - f.Mean
	}
	Subtract(dst, -float64(m.n-1)/2, m.omega, f.Phasor, f.Drift)
}
