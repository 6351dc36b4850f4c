package sweep

import (
	"math"
	"math/cmplx"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"
)

// An estimate is the transfer from source to load at one frequency.
type estimate struct {
	f      float64    // Hz
	h      complex128 // load voltage over source voltage
	se     float64    // standard error of h, root of E|δh|²
	coh    float64    // part of the weaker of load voltage and current that the source explains
	energy float64    // of the source about f, per octave
	width  float64    // of the band, Hz
}

// spectra are the Fourier transforms of the whole recording, rest to rest.
//
// The method: a linear circuit at rest before and after a recording obeys
// V2(f) = H(f)·V1(f) exactly at every bin of the transform of the whole
// recording, however the signal was made, settling and ringing included. So a
// stepped tone, a sweep and noise are one case. A recording cut out of a
// longer signal adds a transient at its ends whose spectrum is smooth; where
// it is needed a local polynomial in frequency takes it up (Schoukens,
// Vandersteen, Barbé, Pintelon, IEEE Trans. Instrum. Meas. 58, 2009).
type spectra struct {
	v1, v2 []complex128 // bins 0 … N/2
	step   float64      // Hz between bins
	rest   bool         // silent at both ends
}

// transform takes both channels, of equal length, at rate samples per second.
func transform(x1, x2 []float64, rate int) spectra {
	n := smooth(len(x1))
	s := spectra{step: float64(rate) / float64(n)}
	s.rest = quiet(x1, rate) && quiet(x2, rate)
	var wg sync.WaitGroup
	one := func(dst *[]complex128, x []float64) {
		defer wg.Done()
		padded := make([]float64, n)
		mean := 0.0
		for _, v := range x {
			mean += v
		}
		mean /= float64(len(x))
		for i, v := range x {
			padded[i] = v - mean
		}
		*dst = fourier.NewFFT(n).Coefficients(nil, padded)
	}
	wg.Add(2)
	go one(&s.v1, x1)
	go one(&s.v2, x2)
	wg.Wait()
	return s
}

// inverse is the signal of n samples whose transform is spec.
func inverse(spec []complex128, n int) []float64 {
	return fourier.NewFFT(n).Sequence(nil, spec)
}

// smooth is the smallest even number from n on without prime factors above 5,
// for which the transform is fast.
func smooth(n int) int {
	best := math.MaxInt
	for p5 := 1; p5 < 2*n; p5 *= 5 {
		for p3 := p5; p3 < 2*n; p3 *= 3 {
			p := 2 * p3
			for p < n {
				p *= 2
			}
			best = min(best, p)
		}
	}
	return best
}

// quiet reports whether x is 40 dB down over its first and last stretch.
func quiet(x []float64, rate int) bool {
	n := min(len(x)/20, rate/50)
	if n == 0 {
		return false
	}
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	power := func(x []float64) float64 {
		p := 0.0
		for _, v := range x {
			p += (v - mean) * (v - mean)
		}
		return p / float64(len(x))
	}
	limit := 1e-4 * power(x)
	return power(x[:n]) <= limit && power(x[len(x)-n:]) <= limit
}

// fewest is the least number of bins in a band: three complex unknowns for the
// transfer, three more for the transient, and some to judge the noise by.
const (
	fewest     = 9
	fewestEnds = 15
)

// estimates walks bands of 1/perOctave octave from one frequency to another.
func (s spectra) estimates(from, to float64, perOctave int) []estimate {
	least := fewest
	if !s.rest {
		least = fewestEnds
	}
	ratio := math.Pow(2, 1/float64(perOctave)) - 1
	top := min(len(s.v1), len(s.v2)) - 1
	if to > 0 {
		top = min(top, int(math.Ceil(to/s.step)))
	}
	k := max(3, int(from/s.step))
	var out []estimate
	for k < top {
		n := max(least, int(math.Round(float64(k)*ratio)))
		if k+n > top+1 {
			break
		}
		if e, ok := s.band(k, k+n); ok {
			out = append(out, e)
		}
		k += n
	}
	return out
}

// band fits V2 = H·V1 over the bins k0 ≤ k < k1, H a polynomial of the second
// degree in frequency, or of less where the energy is in few bins. The value
// is given at the centre of the energy.
func (s spectra) band(k0, k1 int) (estimate, bool) {
	a, b := s.v1[k0:k1], s.v2[k0:k1]
	n := float64(len(a))
	var e, e1, e2, eb, ec, ee float64
	for i, v := range a {
		p := real(v)*real(v) + imag(v)*imag(v)
		e += p
		ee += p * p
		e1 += p * float64(i)
		e2 += p * float64(i) * float64(i)
		w := b[i]
		eb += real(w)*real(w) + imag(w)*imag(w)
		w -= v
		ec += real(w)*real(w) + imag(w)*imag(w)
	}
	if !(e > 0) || !(ee > 0) {
		return estimate{}, false
	}
	centre := e1 / e
	spread := math.Sqrt(math.Max(0, e2/e-centre*centre))
	lines := e * e / ee // as many bins of equal energy; of noise, half the bins
	degree := 2
	switch {
	case lines < 2 || spread < 0.5:
		degree = 0
	case lines < 3:
		degree = 1
	}
	out := estimate{
		f:      (float64(k0) + centre) * s.step,
		energy: e * float64(k0) / n,
		width:  n * s.step,
	}
	fit := s.fit(a, b, centre, math.Max(spread, 1), degree, -1, eb)
	if !s.rest && len(a) >= fewestEnds {
		// Keep the transient only where it is plainly there: its unknowns cost
		// certainty, most where the signal itself is smooth in frequency.
		with := s.fit(a, b, centre, math.Max(spread, 1), degree, 2, eb)
		if with.ok && (!fit.ok || with.variance < 0.5*fit.variance) {
			fit = with
		}
	}
	if !fit.ok {
		return estimate{}, false
	}
	out.h = fit.h
	out.se = math.Sqrt(fit.variance * fit.cost)
	if weak := math.Min(eb, ec) / n; weak > 0 {
		out.coh = math.Min(1, math.Max(0, 1-fit.variance/weak))
	}
	return out, finite(out.f) && !cmplx.IsNaN(out.h) && !cmplx.IsInf(out.h) && finite(out.se)
}

// A fitted is the outcome of one least-squares fit of a band.
type fitted struct {
	h        complex128
	variance float64 // of the residual, per bin
	cost     float64 // variance of h over that of the residual
	ok       bool
}

// fit solves b ≈ (h0 + h1 r + …)·a + (t0 + t1 r + …) with r = (i−centre)/scale,
// h up to degree dh, t up to dt or none for −1. eb is Σ|b|².
func (s spectra) fit(a, b []complex128, centre, scale float64, dh, dt int, eb float64) fitted {
	const most = 6
	var g [most][most]complex128
	var y [most]complex128
	nh, nt := dh+1, dt+1
	p := nh + nt
	if nt == 0 {
		// Without a transient the matrix is real and made of moments.
		var m [5]float64
		for i, v := range a {
			r := (float64(i) - centre) / scale
			w := real(v)*real(v) + imag(v)*imag(v)
			c := b[i] * complex(real(v), -imag(v))
			for j := 0; j <= 2*dh; j++ {
				m[j] += w
				if j <= dh {
					y[j] += c
					c = complex(real(c)*r, imag(c)*r)
				}
				w *= r
			}
		}
		for i := range nh {
			for j := range nh {
				g[i][j] = complex(m[i+j], 0)
			}
		}
	} else {
		// The transient is measured in units of the mean source, so that the
		// matrix is balanced.
		unit := 0.0
		for _, v := range a {
			unit += real(v)*real(v) + imag(v)*imag(v)
		}
		unit = math.Sqrt(unit / float64(len(a)))
		var phi [most]complex128
		for i, v := range a {
			r := complex((float64(i)-centre)/scale, 0)
			q := v
			for j := range nh {
				phi[j] = q
				q *= r
			}
			q = complex(unit, 0)
			for j := range nt {
				phi[nh+j] = q
				q *= r
			}
			for j := range p {
				c := cmplx.Conj(phi[j])
				y[j] += c * b[i]
				for l := j; l < p; l++ {
					g[j][l] += c * phi[l]
				}
			}
		}
		for j := range p {
			for l := range j {
				g[j][l] = cmplx.Conj(g[l][j])
			}
		}
	}
	x, cost, ok := solve(g, y, p)
	if !ok || len(a) <= p {
		return fitted{}
	}
	rss := eb
	for j := range p {
		rss -= real(cmplx.Conj(y[j]) * x[j])
	}
	return settle(x[0], rss, eb, len(a), p, cost)
}

// settle turns a sum of squared residuals of n bins and p unknowns into a
// variance.
func settle(h complex128, rss, eb float64, n, p int, cost float64) fitted {
	rss = math.Max(rss, 1e-15*eb) // what rounding leaves of it
	// A residual of few bins is itself uncertain: the deviation of Student's t
	// over that of the normal distribution.
	free := float64(n - p)
	return fitted{h, rss / free, cost * free / math.Max(free-1, 0.5), true}
}

// solve solves the Hermitian system g x = y of p unknowns by Cholesky's method
// and returns the first diagonal element of the inverse beside x.
func solve(g [6][6]complex128, y [6]complex128, p int) (x [6]complex128, first float64, ok bool) {
	var l [6][6]complex128
	for i := range p {
		for j := 0; j <= i; j++ {
			s := g[i][j]
			for k := range j {
				s -= l[i][k] * cmplx.Conj(l[j][k])
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(real(s) > 1e-10*real(g[i][i])) {
				return x, 0, false
			}
			l[i][i] = complex(math.Sqrt(real(s)), 0)
		}
	}
	back := func(y [6]complex128) (x [6]complex128) {
		for i := range p {
			s := y[i]
			for k := range i {
				s -= l[i][k] * x[k]
			}
			x[i] = s / l[i][i]
		}
		for i := p - 1; i >= 0; i-- {
			s := x[i]
			for k := i + 1; k < p; k++ {
				s -= cmplx.Conj(l[k][i]) * x[k]
			}
			x[i] = s / l[i][i]
		}
		return x
	}
	unit := back([6]complex128{1})
	return back(y), real(unit[0]), true
}
