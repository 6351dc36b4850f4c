package sweep

import (
	"context"
	"math"
	"math/cmplx"

	"ocarina/leastsquares"
)

// resonances is a whole sweep as a sum: a resistance, a lossy coil (Leach, J.
// Audio Eng. Soc. 50, 2002) and one resonance for each peak,
//
//	Z = R + K·(jf/f1)^n + Σ Aₖ·(1 + jbₖ)/(1 + jQₖ·v),  v = f/fₖ − fₖ/f.
//
// Any load of lumped parts is such a sum of partial fractions if little damped.
// It serves to read between points that lie far apart: the flanks of a peak
// tell its top.
type resonances struct {
	c     *curve
	mid   float64   // ln f1
	p     []float64 // ln R, ln K, n, then ln fₖ, ln Qₖ, ln Aₖ, bₖ
	cov   []float64
	error float64 // root mean square of what the sum misses, nepers
	miss  float64 // the same beyond the noise
}

const (
	common    = 3  // parameters of resistance and coil
	each      = 4  // of a resonance
	mostPeaks = 16 // with more, the sweep is no box's and not worth the time
)

// ln is ln Z at x = ln f with parameters p; d, if not nil, takes its
// derivatives.
func (m *resonances) ln(x float64, p []float64, d []complex128) complex128 {
	r := math.Exp(p[0])
	n := p[2]
	u := x - m.mid
	coil := cmplx.Rect(math.Exp(p[1]+n*u), n*math.Pi/2)
	z := complex(r, 0) + coil
	if d != nil {
		d[0] = complex(r, 0)
		d[1] = coil
		d[2] = coil * complex(u, math.Pi/2)
	}
	for k := common; k < len(p); k += each {
		v := 2 * math.Sinh(x-p[k])
		q, a := math.Exp(p[k+1]), math.Exp(p[k+2])
		h := complex(a, 0) / complex(1, q*v)
		t := h * complex(1, p[k+3])
		z += t
		if d != nil {
			s := t / complex(1, q*v) * complex(0, -q) // over v
			d[k] = s * complex(-2*math.Cosh(x-p[k]), 0)
			d[k+1] = s * complex(v, 0)
			d[k+2] = t
			d[k+3] = h * 1i
		}
	}
	for k := range d {
		d[k] /= z
	}
	return cmplx.Log(z)
}

// fit fits the sum to the whole curve; nil if there is no peak to begin with or
// nothing fits.
func (c *curve) fit(ts []turn) *resonances {
	m := &resonances{c: c, mid: (c.x[0] + c.x[len(c.x)-1]) / 2}
	low := math.Inf(1)
	for _, v := range c.s {
		low = math.Min(low, v)
	}
	last := len(c.s) - 1
	rise := math.Max(math.Exp(c.s[last])-math.Exp(low), 0.1*math.Exp(low))
	start := []float64{low - 0.05, math.Log(rise) + 0.7*(m.mid-c.x[last]), 0.7}
	lower := []float64{low - 5, low - 20, 0.2}
	upper := []float64{low + 1, low + 5, 1}
	prior := []leastsquares.Prior{{Mean: start[0], Sigma: 2}, {Mean: start[1], Sigma: 5}, {Mean: 0.7, Sigma: 0.5}}
	for i, t := range ts {
		if !t.peak || t.at == 0 || t.at == last {
			continue
		}
		// Q from the width at half the height above the rest, in logarithms.
		fall := math.Ln2
		if i > 0 && i+1 < len(ts) {
			fall = math.Min(fall, 0.5*c.swing(ts, i))
		}
		a, b := c.cross(t.at, -1, fall), c.cross(t.at, 1, fall)
		q := math.Sqrt(math.Expm1(2*fall)) / math.Max(b-a, 1e-4)
		q = math.Max(0.2, math.Min(500, q))
		height := math.Max(math.Exp(c.s[t.at])-math.Exp(low), 0.01*math.Exp(low))
		start = append(start, c.x[t.at], math.Log(q), math.Log(height), 0)
		near := math.Max(0.02, (c.x[min(t.at+2, last)]-c.x[max(t.at-2, 0)])/2)
		lower = append(lower, c.x[t.at]-near, -3, math.Log(height)-5, -2)
		upper = append(upper, c.x[t.at]+near, 8, math.Log(height)+5, 2)
		prior = append(prior, leastsquares.Prior{}, leastsquares.Prior{Mean: math.Log(q), Sigma: 3}, leastsquares.Prior{Mean: math.Log(height), Sigma: 3}, leastsquares.Prior{Sigma: 0.3})
	}
	p, n := len(start), len(c.x)
	rows := n
	if c.phase != nil {
		rows = 2 * n
	}
	if p == common || p > common+each*mostPeaks || rows < p {
		return nil
	}
	d := make([]complex128, p)
	// What the sum cannot follow counts as noise too: no point is trusted
	// beyond a thousandth.
	sigma := make([]float64, n)
	for i := range sigma {
		sigma[i] = math.Hypot(c.sigma[i], 1e-3)
	}
	problem := leastsquares.Problem{
		Residuals: rows, Parameters: p, Lower: lower, Upper: upper, Prior: prior, Noise: 1,
		Evaluate: func(b, r, jac []float64) error {
			for i, x := range c.x {
				l := m.ln(x, b, d)
				w := 1 / sigma[i]
				r[i] = (real(l) - c.y[i]) * w
				if c.phase != nil {
					r[n+i] = wrap(imag(l)-c.phase[i]) * w
				}
				for k := 0; jac != nil && k < p; k++ {
					jac[i*p+k] = real(d[k]) * w
					if c.phase != nil {
						jac[(n+i)*p+k] = imag(d[k]) * w
					}
				}
			}
			return nil
		},
	}
	found, err := leastsquares.Solve(context.Background(), problem, start, leastsquares.Options{MaxIterations: 60, CostTolerance: 1e-6, StepTolerance: 1e-7})
	if err != nil {
		return nil
	}
	m.p = found.X
	m.cov = found.Covariance
	excess := math.Max(1, found.SumSquares/math.Max(1, float64(rows-p)))
	for i := range m.cov {
		m.cov[i] *= excess
	}
	for i, x := range c.x {
		e := m.at(x) - c.y[i]
		m.error += e * e / float64(n)
		m.miss += (e*e - 1.2*c.sigma[i]*c.sigma[i]) / float64(n)
	}
	m.error, m.miss = math.Sqrt(m.error), math.Sqrt(math.Max(0, m.miss))
	return m
}

// cross walks from a point in one direction until the curve has changed by
// fall, and returns where, between points.
func (c *curve) cross(at, step int, fall float64) float64 {
	for i := at + step; i >= 0 && i < len(c.x); i += step {
		if d := math.Abs(c.s[at] - c.s[i]); d >= fall {
			before := math.Abs(c.s[at] - c.s[i-step])
			u := (fall - before) / (d - before)
			return c.x[i-step] + u*(c.x[i]-c.x[i-step])
		}
	}
	if step < 0 {
		return c.x[0]
	}
	return c.x[len(c.x)-1]
}

// serves reports whether the sum follows the sweep well enough to lean on.
func (m *resonances) serves() bool { return m != nil && m.error < 0.05 }

// at is ln|Z| of the sum at x = ln f.
func (m *resonances) at(x float64) float64 { return real(m.ln(x, m.p, nil)) }

// read reads the extreme of turn i off the sum. It fails where the sum misses
// the sweep, or has no extreme there.
func (m *resonances) read(ts []turn, i int) (reading, bool) {
	if !m.serves() {
		return reading{}, false
	}
	t := ts[i]
	sign := t.sign()
	c := m.c
	near := 0.15*c.swing(ts, i) + 4*c.se[t.at]
	left, right := t.at, t.at
	for left > ts[i-1].at && (left > t.at-2 || math.Abs(c.s[left]-c.s[t.at]) < near) {
		left--
	}
	for right < ts[i+1].at && (right < t.at+2 || math.Abs(c.s[right]-c.s[t.at]) < near) {
		right++
	}
	from, to := c.x[left], c.x[right]
	x, y, bend, ok := extreme(func(x float64) float64 { return sign * m.at(x) }, from, to)
	if !ok {
		return reading{}, false
	}
	out := reading{x: x, y: sign * y, curve: sign * bend}

	// A change of a parameter moves the extreme by its effect on the slope over
	// the bend, and with it the bend.
	p := len(m.p)
	const h = 3e-4
	at := [3][]complex128{make([]complex128, p), make([]complex128, p), make([]complex128, p)}
	for k := range at {
		m.ln(x+h*float64(k-1), m.p, at[k])
	}
	third := sign * (m.at(x+2*h) - 2*m.at(x+h) + 2*m.at(x-h) - m.at(x-2*h)) / (2 * h * h * h)
	dx, dy, dc := make([]float64, p), make([]float64, p), make([]float64, p)
	for k := range p {
		a, b, c := sign*real(at[0][k]), sign*real(at[1][k]), sign*real(at[2][k])
		dx[k] = -(c - a) / (2 * h) / bend
		dy[k] = b
		dc[k] = (a+c-2*b)/(h*h) + third*dx[k]
	}
	deviation := func(d []float64) float64 {
		v := 0.0
		for k := range p {
			for l := range p {
				v += d[k] * m.cov[k*p+l] * d[l]
			}
		}
		return math.Sqrt(math.Max(0, v))
	}
	// What the sum misses beyond the noise is no noise: over the width of the
	// feature, 1/(2Q), it may tilt or bend the top.
	bent := math.Abs(bend)
	out.sx = math.Hypot(deviation(dx), m.miss/math.Sqrt(bent))
	out.sy = math.Hypot(deviation(dy), m.miss)
	out.scurve = math.Hypot(deviation(dc), m.miss*bent)
	return out, finite(out.sx) && finite(out.sy) && finite(out.scurve)
}

// extreme finds the highest place of f within from…to (golden section), and
// the second derivative there.
func extreme(f func(float64) float64, from, to float64) (x, y, bend float64, ok bool) {
	const g = 0.6180339887498949
	a, b := from, to
	// The section needs one hill: begin about the highest of some values.
	const grid = 16
	best := a
	for k := 0; k <= grid; k++ {
		if v := from + (to-from)*float64(k)/grid; f(v) > f(best) {
			best = v
		}
	}
	a, b = math.Max(from, best-(to-from)/grid), math.Min(to, best+(to-from)/grid)
	p, q := b-g*(b-a), a+g*(b-a)
	fp, fq := f(p), f(q)
	for b-a > 1e-4 {
		if fp > fq {
			b, q, fq = q, p, fp
			p = b - g*(b-a)
			fp = f(p)
		} else {
			a, p, fp = p, q, fq
			q = a + g*(b-a)
			fq = f(q)
		}
	}
	x = (a + b) / 2
	const h = 3e-4
	for range 4 { // parabolas end it
		y0, y1, y2 := f(x-h), f(x), f(x+h)
		bend = (y0 + y2 - 2*y1) / (h * h)
		if !(bend < 0) {
			return x, y1, bend, false
		}
		x -= math.Max(-h, math.Min(h, (y2-y0)/(2*h)/bend))
	}
	return x, f(x), bend, x > from && x < to
}
