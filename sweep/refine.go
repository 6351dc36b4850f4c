package sweep

import "math"

// A reading is an extreme worked out between the points: its place x = ln f,
// its height y = ln|Z| and the curvature of y there, each with a deviation.
type reading struct {
	x, y, curve    float64
	sx, sy, scurve float64
}

// features works out all turns but the two ends.
func (c *curve) features(ts []turn) []Feature {
	if len(ts) < 3 {
		return nil
	}
	guide := c.fit(ts)
	var out []Feature
	for i := 1; i+1 < len(ts); i++ {
		r, ok := c.local(ts, i, guide)
		if !ok {
			r, ok = guide.read(ts, i)
		}
		if !ok {
			r = c.vertex(ts[i])
		}
		f := Feature{Kind: Dip}
		if ts[i].peak {
			f.Kind = Peak
		}
		f.Frequency, f.Height, f.Q = math.Exp(r.x), math.Exp(r.y), math.Sqrt(math.Abs(r.curve))/2
		f.FrequencyError, f.HeightError = f.Frequency*r.sx, f.Height*r.sy
		if r.curve != 0 {
			f.QError = f.Q * r.scurve / (2 * math.Abs(r.curve))
		}
		out = append(out, f)
	}

	// The heights between the points tell the prominences.
	level := make([]float64, len(ts))
	level[0], level[len(ts)-1] = c.s[ts[0].at], c.s[ts[len(ts)-1].at]
	for i, f := range out {
		level[i+1] = math.Log(f.Height)
	}
	for i := range out {
		out[i].Prominence = 20 / math.Ln10 * stands(level, i+1, ts[i+1].sign())
	}
	return out
}

// stands is by how much level i stands above (sign +1) or below (−1) the way to
// the next level beyond it, on the side where the way is higher.
func stands(level []float64, i int, sign float64) float64 {
	side := func(step int) float64 {
		foot := 0.0
		for j := i + step; j >= 0 && j < len(level) && sign*(level[j]-level[i]) <= 0; j += step {
			foot = math.Max(foot, sign*(level[i]-level[j]))
		}
		return foot
	}
	return math.Min(side(-1), side(1))
}

func (t turn) sign() float64 {
	if t.peak {
		return 1
	}
	return -1
}

// onTop is the least number of points on the top of a feature from which it is
// worked out by itself.
const onTop = 7

// local works a turn out from the points about it: the guide, a sum of
// resonances fitted to the whole sweep, and a polynomial for what the guide
// misses there. The window grows from the top as long as that is as good as
// the noise, and holds no more than what lies between the neighbouring turns.
// Without a guide the polynomial is of the fourth degree, with one of the
// second. It fails if there are too few points on the top.
func (c *curve) local(ts []turn, i int, guide *resonances) (reading, bool) {
	t := ts[i]
	sign := t.sign()
	left, right := ts[i-1].at, ts[i+1].at
	window := func(fall float64) (from, to int) {
		from, to = t.at, t.at
		for from > left && sign*(c.s[t.at]-c.s[from]) < fall {
			from--
		}
		for to < right && sign*(c.s[t.at]-c.s[to]) < fall {
			to++
		}
		return from, to
	}
	prom := c.swing(ts, i)
	top := math.Min(0.5, 0.7*prom)
	terms, under := 5, func(float64) float64 { return 0 }
	bySum, guided := guide.read(ts, i)
	if guided {
		terms, under = 3, guide.at
	}
	if from, to := window(top); to-from+1 < onTop+terms-3 {
		return reading{}, false
	}
	var best reading
	found := false
	last := 0
	for fall := top / 64; fall <= top*1.01; fall *= 1.5874 {
		from, to := window(fall)
		if n := to - from + 1; n < onTop+terms-3 || n == last {
			continue
		} else {
			last = n
		}
		p, ok := c.polynomial(from, to, terms, under)
		if !ok {
			continue
		}
		good := p.excess < 1+2*math.Sqrt(2/float64(last-terms))
		if !found && !good && terms < 5 && last >= onTop+2 {
			if more, ok := c.polynomial(from, to, 5, under); ok && more.excess < p.excess {
				p = more
			}
		}
		if found && !good {
			break
		}
		if r, ok := p.read(sign, under); ok {
			if found {
				// By what the window matters, the answer is uncertain too.
				r.sx = math.Hypot(r.sx, (r.x-best.x)/2)
				r.sy = math.Hypot(r.sy, (r.y-best.y)/2)
				r.scurve = math.Hypot(r.scurve, (r.curve-best.curve)/2)
			}
			best, found = r, true
		}
		if !good {
			break
		}
	}
	if guided {
		// The guide errs too, and not all of it is for the polynomial to mend.
		best.sx = math.Hypot(best.sx, bySum.sx)
		best.sy = math.Hypot(best.sy, bySum.sy)
		best.scurve = math.Hypot(best.scurve, bySum.scurve)
	}
	return best, found
}

// A polynomial fits what a curve has over a guide, in u = (x − mid)/scale.
type polynomial struct {
	mid, scale float64
	terms      int
	a          [5]float64
	inv        [5][5]float64 // covariance for the noise as estimated
	excess     float64       // mean square of the residuals over that of the noise
}

func (c *curve) polynomial(from, to, terms int, under func(float64) float64) (polynomial, bool) {
	p := polynomial{terms: terms, mid: (c.x[from] + c.x[to]) / 2, scale: (c.x[to] - c.x[from]) / 2}
	var g [5][5]float64
	var b [5]float64
	for j := from; j <= to; j++ {
		w := 1 / (c.sigma[j] * c.sigma[j])
		phi := powers((c.x[j] - p.mid) / p.scale)
		d := c.y[j] - under(c.x[j])
		for k := range terms {
			b[k] += w * phi[k] * d
			for l := range terms {
				g[k][l] += w * phi[k] * phi[l]
			}
		}
	}
	var ok bool
	if p.inv, ok = invert(g, terms); !ok {
		return p, false
	}
	for k := range terms {
		for l := range terms {
			p.a[k] += p.inv[k][l] * b[l]
		}
	}
	for j := from; j <= to; j++ {
		d := (c.y[j] - under(c.x[j]) - p.value((c.x[j]-p.mid)/p.scale)) / c.sigma[j]
		p.excess += d * d
	}
	p.excess /= float64(to - from + 1 - terms)
	return p, true
}

func (p *polynomial) value(u float64) float64 {
	phi := powers(u)
	v := 0.0
	for k := range p.terms {
		v += p.a[k] * phi[k]
	}
	return v
}

// read reads the extreme of guide and polynomial together.
func (p *polynomial) read(sign float64, under func(float64) float64) (reading, bool) {
	f := func(x float64) float64 { return sign * (under(x) + p.value((x-p.mid)/p.scale)) }
	x, y, bend, ok := extreme(f, p.mid-p.scale, p.mid+p.scale)
	if !ok {
		return reading{}, false
	}
	deviation := func(d [5]float64) float64 {
		v := 0.0
		for k := range p.terms {
			for l := range p.terms {
				v += d[k] * p.inv[k][l] * d[l]
			}
		}
		return math.Sqrt(math.Max(0, v) * math.Max(1, p.excess))
	}
	// The place moves by slope over bend; so does the bend, by the third
	// derivative.
	const h = 1e-3
	third := (f(x+2*h) - 2*f(x+h) + 2*f(x-h) - f(x-2*h)) / (2 * h * h * h)
	u := (x - p.mid) / p.scale
	slope := [5]float64{0, 1, 2 * u, 3 * u * u, 4 * u * u * u}
	curve := [5]float64{0, 0, 2, 6 * u, 12 * u * u}
	for k := range slope {
		slope[k] /= p.scale * bend
		curve[k] = curve[k]/(p.scale*p.scale) - third*slope[k]
	}
	r := reading{
		x: x, y: sign * y, curve: sign * bend,
		sx: deviation(slope), sy: deviation(powers(u)), scurve: deviation(curve),
	}
	return r, finite(r.sx) && finite(r.sy) && finite(r.scurve)
}

func powers(u float64) [5]float64 { return [5]float64{1, u, u * u, u * u * u, u * u * u * u} }

// invert inverts the first n rows and columns of a symmetric positive matrix
// (Gauss and Jordan).
func invert(g [5][5]float64, n int) (inv [5][5]float64, ok bool) {
	for i := range n {
		inv[i][i] = 1
	}
	for i := range n {
		if !(g[i][i] > 0) {
			return inv, false
		}
		d := 1 / g[i][i]
		for j := range n {
			g[i][j] *= d
			inv[i][j] *= d
		}
		for k := range n {
			if k == i {
				continue
			}
			m := g[k][i]
			for j := range n {
				g[k][j] -= m * g[i][j]
				inv[k][j] -= m * inv[i][j]
			}
		}
	}
	return inv, true
}

// vertex is the extreme of the parabola through a point and its neighbours:
// the answer where nothing better fits. Its deviations are the distances
// between the points and what the parabola adds.
func (c *curve) vertex(t turn) reading {
	i := min(max(t.at, 1), len(c.x)-2)
	h1, h2 := c.x[i]-c.x[i-1], c.x[i+1]-c.x[i]
	d1, d2 := (c.s[i]-c.s[i-1])/h1, (c.s[i+1]-c.s[i])/h2
	bend := 2 * (d2 - d1) / (h1 + h2)
	slope := (d1*h2 + d2*h1) / (h1 + h2)
	gap := math.Max(h1, h2) / 2
	if !(t.sign()*bend < 0) {
		return reading{x: c.x[i], y: c.s[i], sx: gap, sy: c.se[i]}
	}
	dx := math.Max(-h1, math.Min(h2, -slope/bend))
	dy := slope*dx + bend*dx*dx/2
	return reading{
		x: c.x[i] + dx, y: c.s[i] + dy, curve: bend,
		sx: gap, sy: math.Hypot(c.se[i], dy+0.1*bend*gap*gap), scurve: math.Abs(bend),
	}
}
