package sweep

import "math"

// Kinds of features.
const (
	Peak = "peak"
	Dip  = "dip"
)

// A Feature is a place where |Z| is higher or lower than on either side.
type Feature struct {
	Kind      string  // Peak or Dip
	Frequency float64 // Hz, where |Z| is extreme: between the points if need be
	Height    float64 // |Z| there, ohm

	// Q is half the square root of the curvature of ln|Z| over ln f at the
	// extreme. A tall peak has the Q of its resonance; a peak r times as high
	// as what it stands on has Q·√(1 − 1/r²).
	Q float64

	// Prominence is by how much |Z| must fall from a peak before it can come
	// to more, or to an end of the sweep, on the side where that is less; of a
	// dip, must rise before it can come to less. dB.
	Prominence float64

	// Standard errors of the three, in their units: from the noise of the
	// sweep and from how far the answer depends on the points taken in.
	FrequencyError, HeightError, QError float64
}

// Features finds the peaks and dips of |Z| in ascending frequency; they
// alternate. A peak or dip counts if it stands out from the noise of the sweep,
// which is estimated from the sweep itself, by more than chance allows; a
// ripple, six or more small swings of like height, counts as noise. A lone
// point off a dense curve is no feature. The ends of the sweep are none.
func (s *Sweep) Features() []Feature {
	if s.Len() < 5 {
		return nil
	}
	c := s.curve()
	c.smooth()
	return c.features(c.turns())
}

// A curve is a sweep over x = ln f, dense stretches averaged.
type curve struct {
	x, y  []float64 // ln Hz, ln ohm
	phase []float64 // rad, or nil
	sigma []float64 // standard deviation of y
	s     []float64 // y smoothed
	se    []float64 // standard deviation of s
}

// perOctaveKept is how many points an octave keeps: enough for a Q of 100.
const perOctaveKept = 384

// curve averages the sweep into cells and estimates its noise.
func (s *Sweep) curve() *curve {
	c := &curve{}
	n := s.Len()
	cell := math.Ln2 / perOctaveKept
	var counts []float64
	for i := 0; i < n; {
		x0 := math.Log(s.Frequency[i])
		var x, y, p, m float64
		ref := 0.0
		if s.Phase != nil {
			ref = s.Phase[i]
		}
		for ; i < n; i++ {
			xi := math.Log(s.Frequency[i])
			if m > 0 && xi-x0 > cell {
				break
			}
			x += xi
			y += math.Log(s.Magnitude[i])
			if s.Phase != nil {
				p += ref + wrap(s.Phase[i]-ref)
			}
			m++
		}
		c.x = append(c.x, x/m)
		c.y = append(c.y, y/m)
		if s.Phase != nil {
			c.phase = append(c.phase, p/m)
		}
		counts = append(counts, m)
	}
	c.noise(counts, s.step())
	if s.Error != nil {
		// The recording's own account of its errors, where it says more.
		i := 0
		for j := range c.x {
			w := 0.0
			for k := 0; k < int(counts[j]); k++ {
				w += s.Error[i] * s.Error[i]
				i++
			}
			c.sigma[j] = math.Max(c.sigma[j], math.Sqrt(w)/counts[j])
		}
	}
	return c
}

// turn is an extreme of the smoothed curve, or an end of it.
type turn struct {
	at   int
	peak bool
}

// smallRipple is the prominence, in nepers, up to which swings of like height
// may be a ripple: 0.5 dB.
const smallRipple = 0.0576

// turns finds the extremes that matter, with both ends.
func (c *curve) turns() []turn {
	// Of n independent points of pure noise the extremes lie about
	// √(2 ln n) deviations out, to either side; and of few points the
	// deviation itself is ill known.
	n := float64(len(c.s))
	k := 1.5 + 2*math.Sqrt(2*math.Log(n)) + 18/math.Sqrt(n)
	limit := func(i int) float64 { return k * c.se[i] }
	ts := c.zigzag(limit)

	var small []float64
	for i := 1; i+1 < len(ts); i++ {
		if p := c.swing(ts, i); p < smallRipple {
			small = append(small, p)
		}
	}
	if len(small) >= 6 {
		ripple := 2.5 * quantile(small, 0.5)
		ts = c.zigzag(func(i int) float64 { return math.Max(limit(i), ripple) })
	}
	return c.drop(ts)
}

// zigzag walks the smoothed curve and turns where it comes back by more than
// the limit. The first and the last turn are not come back to from both sides:
// they are ends, wherever they lie.
func (c *curve) zigzag(limit func(int) float64) []turn {
	s := c.s
	hi, lo, dir := 0, 0, 0
	var ts []turn
	for i := range s {
		if s[i] > s[hi] {
			hi = i
		}
		if s[i] < s[lo] {
			lo = i
		}
		switch {
		case dir >= 0 && s[hi]-s[i] > math.Max(limit(hi), limit(i)):
			ts = append(ts, turn{hi, true})
			dir, lo = -1, i
			for j := hi; j < i; j++ {
				if s[j] < s[lo] {
					lo = j
				}
			}
			hi = lo
		case dir <= 0 && s[i]-s[lo] > math.Max(limit(lo), limit(i)):
			ts = append(ts, turn{lo, false})
			dir, hi = 1, i
			for j := lo; j < i; j++ {
				if s[j] > s[hi] {
					hi = j
				}
			}
			lo = hi
		}
	}
	switch {
	case dir > 0:
		ts = append(ts, turn{hi, true})
	case dir < 0:
		ts = append(ts, turn{lo, false})
	}
	return ts
}

// swing is the smaller of the swings to the neighbours, nepers.
func (c *curve) swing(ts []turn, i int) float64 {
	at := c.s[ts[i].at]
	return math.Min(math.Abs(at-c.s[ts[i-1].at]), math.Abs(at-c.s[ts[i+1].at]))
}

// drop takes out turns that rest on one point of a dense curve: with the point
// replaced by its neighbours' mean, most of the swing is gone. A resonance
// that sharp would need a Q beyond any box.
func (c *curve) drop(ts []turn) []turn {
	for i := 1; i+1 < len(ts); i++ {
		at := ts[i].at
		if at < 2 || at+2 >= len(c.x) || c.x[at+2]-c.x[at-2] > math.Ln2/10 {
			continue
		}
		sign := 1.0
		if !ts[i].peak {
			sign = -1
		}
		beside := math.Max(sign*c.y[at-1], sign*c.y[at+1])
		if p := c.swing(ts, i); sign*c.y[at]-beside > 0.6*p {
			// Its partner is the neighbour with the smaller swing.
			j := i - 1
			if math.Abs(c.s[ts[i+1].at]-c.s[at]) < math.Abs(c.s[at]-c.s[ts[i-1].at]) {
				j = i
			}
			if j == 0 || j+1 == len(ts)-1 {
				continue
			}
			ts = append(ts[:j:j], ts[j+2:]...)
			i = max(0, j-2)
		}
	}
	return ts
}
