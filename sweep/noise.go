package sweep

import (
	"math"
	"sort"
)

// noise sets sigma from how far each point lies off the cubic through its four
// neighbours. The lowest third of these distances speaks: resonances bend the
// curve in fewer places than that, however far apart the points are. counts is
// how many readings each point is the mean of, step the rounding step of the
// readings, ohm.
func (c *curve) noise(counts []float64, step float64) {
	n := len(c.x)
	c.sigma = make([]float64, n)
	var off []float64 // distance over what unit noise would give
	for i := 2; i+2 < n; i++ {
		var v, w2 float64
		at := [4]int{i - 2, i - 1, i + 1, i + 2}
		for _, a := range at {
			w := 1.0
			for _, b := range at {
				if a != b {
					w *= (c.x[i] - c.x[b]) / (c.x[a] - c.x[b])
				}
			}
			v += w * c.y[a]
			w2 += w * w / counts[a]
		}
		off = append(off, math.Abs(c.y[i]-v)/math.Sqrt(1/counts[i]+w2))
	}
	const third = 0.45376 // below it lie 35 of 100 normal deviates, signs apart
	unit := func(off []float64) float64 { return quantile(off, 0.35) / third }
	all := 1e-9
	if len(off) > 0 {
		all = math.Max(all, unit(off))
	}
	const about = 100 // points on either side: noise differs along a sweep
	for i := range c.sigma {
		u := all
		if len(off) > 4*about && i%50 == 0 {
			from := min(max(0, i-about), len(off)-2*about)
			u = math.Max(1e-9, unit(off[from:from+2*about]))
		} else if len(off) > 4*about {
			u = c.sigma[i-1] * math.Sqrt(counts[i-1])
		}
		// Rounding is noise too, though it may hide from the differences.
		u = math.Max(u, 0.5*step*math.Exp(-c.y[i]))
		c.sigma[i] = u / math.Sqrt(counts[i])
	}
}

// step is the rounding step of |Z| in ohm, if it is plainly rounded: to whole
// hundredths, say; else zero.
func (s *Sweep) step() float64 {
	for d, step := 0, 1.0; d <= 4; d, step = d+1, step/10 {
		whole := true
		for _, m := range s.Magnitude {
			if q := m / step; math.Abs(q-math.Round(q)) > 1e-7*q {
				whole = false
				break
			}
		}
		if whole {
			return step
		}
	}
	return 0
}

// quantile is the q-th part of x in order; x stays as it is.
func quantile(x []float64, q float64) float64 {
	o := append([]float64(nil), x...)
	sort.Float64s(o)
	return o[int(q*float64(len(o)-1))]
}

// smooth fits parabolas over windows that grow as long as their values agree
// within the noise: wide where the curve is smooth, narrow where it is sharp
// (intersection of confidence intervals: Goldenshluger and Nemirovski, Math.
// Methods Statist. 6, 1997).
func (c *curve) smooth() {
	n := len(c.x)
	c.s = append([]float64(nil), c.y...)
	c.se = append([]float64(nil), c.sigma...)
	const width = 2.0             // deviations on either side
	const widest = math.Ln2 / 3.0 // half a window
	for i := range n {
		lo, hi := c.y[i]-width*c.sigma[i], c.y[i]+width*c.sigma[i]
		for half := 2; ; half += 1 + half/3 {
			from, to := i-half, i+half
			if from < 0 || to >= n {
				break
			}
			if c.x[to]-c.x[from] > 2*widest {
				break
			}
			v, se, ok := c.parabola(i, from, to)
			if !ok {
				break
			}
			lo, hi = math.Max(lo, v-width*se), math.Min(hi, v+width*se)
			if lo > hi {
				break
			}
			c.s[i], c.se[i] = v, se
		}
	}
}

// parabola fits y over from…to and returns the value at i and its deviation.
func (c *curve) parabola(i, from, to int) (v, se float64, ok bool) {
	scale := c.x[to] - c.x[from]
	var m [5]float64
	var b [3]float64
	for j := from; j <= to; j++ {
		w := 1 / (c.sigma[j] * c.sigma[j])
		r := (c.x[j] - c.x[i]) / scale
		for k, p := 0, w; k < 5; k, p = k+1, p*r {
			m[k] += p
			if k < 3 {
				b[k] += p * c.y[j]
			}
		}
	}
	// First row of the inverse of the moment matrix.
	c0 := m[2]*m[4] - m[3]*m[3]
	c1 := m[2]*m[3] - m[1]*m[4]
	c2 := m[1]*m[3] - m[2]*m[2]
	det := m[0]*c0 + m[1]*c1 + m[2]*c2
	if !(det > 1e-12*m[0]*m[2]*m[4]) {
		return 0, 0, false
	}
	return (c0*b[0] + c1*b[1] + c2*b[2]) / det, math.Sqrt(c0 / det), true
}
