// Package large is what a driver does beyond small signals: how its force
// factor, stiffness and inductance change with displacement and current, where
// it strikes, and how its coil warms.
//
// Everything counts relative to the value at rest, so that a small signal finds
// the data sheet's driver. Displacement is positive out of the front face.
package large

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// Curve is a positive ratio to the value at rest, 1 at zero, as a function of
// a displacement [m] or a current [A]. It is smooth to the first derivative.
// Beyond the range it is known for it goes on with the slope of its end: along
// an exponential where it falls, along a line where it rises. The zero value is
// 1 everywhere.
type Curve struct {
	law   func(x float64) (v, slope float64) // between low and high; nil: 1
	low   end
	high  end
	bound bool
	table *table
}

type end struct{ at, v, slope float64 }

// beyond continues from an end by d, positive away from it upwards.
func (e end) beyond(x float64) (v, slope float64) {
	d := x - e.at
	if e.slope*d < 0 {
		m := e.slope / e.v
		v = e.v * math.Exp(m*d)
		return v, m * v
	}
	return e.v + e.slope*d, e.slope
}

// Constant reports whether the curve is 1 everywhere.
func (c *Curve) Constant() bool { return c.law == nil }

// At returns the ratio at x and its derivative.
func (c *Curve) At(x float64) (v, slope float64) {
	switch {
	case c.law == nil:
		return 1, 0
	case c.bound && x > c.high.at:
		return c.high.beyond(x)
	case c.bound && x < c.low.at:
		return c.low.beyond(x)
	}
	return c.law(x)
}

func bounded(law func(float64) (float64, float64), low, high float64) Curve {
	at := func(x float64) end {
		v, s := law(x)
		return end{x, v, s}
	}
	return Curve{law: law, low: at(low), high: at(high), bound: true}
}

// What a published xmax means: the displacement at which the force factor has
// fallen to 82 % or the compliance to 75 % of its value at rest, either of which
// makes about 10 % distortion (IEC 62458; Klippel, JAES 54, 2006).
const (
	ForceFactorAtLimit = 0.82
	ComplianceAtLimit  = 0.75
)

// ForceFactor is the curve a published xmax [m] implies for a motor whose force
// factor is highest at offset [m]: 1/(1 + q·((x − offset)/xmax)²) over its value
// at rest, which falls to 82 % at xmax on the side away from the offset. The
// form is assumed; an offset beyond xmax is an error.
func ForceFactor(xmax, offset float64) (Curve, error) {
	r := math.Abs(offset / xmax)
	if !(xmax > 0) || !(r <= 1) {
		return Curve{}, fmt.Errorf("found a motor whose force factor is highest %.4g mm off rest; wanted at most its xmax, %.4g mm", offset*1000, xmax*1000)
	}
	q := (1 - ForceFactorAtLimit) / (ForceFactorAtLimit*(1+r)*(1+r) - r*r) / (xmax * xmax)
	rest := 1 + q*offset*offset
	return Curve{law: func(x float64) (float64, float64) {
		d := x - offset
		v := 1 / (1 + q*d*d)
		return rest * v, -2 * q * d * rest * v * v
	}}, nil
}

// MaxAsymmetry is the largest asymmetry Stiffness takes: beyond it the parabola
// would come down to nothing within a few xmax.
const MaxAsymmetry = 0.3

// Stiffness is the curve a published xmax [m] implies for a suspension: a
// parabola 1 + s·x/xmax + t·(x/xmax)² that rises to 1/75 % at xmax on its stiffer
// side, where asymmetry is (K(xmax) − K(−xmax))/(K(xmax) + K(−xmax)). The form is
// assumed.
func Stiffness(xmax, asymmetry float64) (Curve, error) {
	a := math.Abs(asymmetry)
	if !(xmax > 0) || !(a <= MaxAsymmetry) {
		return Curve{}, fmt.Errorf("found a suspension asymmetry of %.4g; wanted from −%g to %g", asymmetry, MaxAsymmetry, MaxAsymmetry)
	}
	t := (1/ComplianceAtLimit - 1 - a) / (1 + a)
	s := asymmetry * (1 + t)
	return bounded(func(x float64) (float64, float64) {
		r := x / xmax
		return 1 + r*(s+t*r), (s + 2*t*r) / xmax
	}, -3*xmax, 3*xmax), nil
}

// polynomialReach is how many xmax a polynomial is believed.
const polynomialReach = 1.5

// Polynomial is 1 + Σ c[n]·(x/xmax)^(n+1) up to one and a half xmax. It must not
// fall under a twentieth there.
func Polynomial(c []float64, xmax float64) (Curve, error) {
	if !(xmax > 0) {
		return Curve{}, fmt.Errorf("found no xmax; wanted one, as the polynomial counts in it")
	}
	law := func(x float64) (v, slope float64) {
		r := x / xmax
		for n := len(c) - 1; n >= 0; n-- {
			slope = slope*r + float64(n+1)*c[n]
			v = (v + c[n]) * r
		}
		return 1 + v, slope / xmax
	}
	for i := -60; i <= 60; i++ {
		r := float64(i) / 60 * polynomialReach
		if v, _ := law(r * xmax); !(v >= 0.05) {
			return Curve{}, fmt.Errorf("found a polynomial that comes down to %.3g of the value at rest at %.2f xmax; wanted at least 0.05 up to %g xmax both ways", v, r, polynomialReach)
		}
	}
	return bounded(law, -polynomialReach*xmax, polynomialReach*xmax), nil
}

// table is a piecewise cubic in each cell: Σ k[m]·(x − at[i])^m.
type table struct {
	at  []float64
	k   [][4]float64
	sum []float64 // ∫ from at[0] to at[i] of v·x dx
}

func (t *table) cell(x float64) int {
	i := sort.SearchFloat64s(t.at, x) - 1
	return max(0, min(i, len(t.k)-1))
}

func (t *table) value(x float64) (v, slope float64) {
	i := t.cell(x)
	d, k := x-t.at[i], &t.k[i]
	return k[0] + d*(k[1]+d*(k[2]+d*k[3])), k[1] + d*(2*k[2]+d*3*k[3])
}

// Table runs through given values, positive, at ascending places on both sides
// of zero, divided by its value at zero, which it returns. It is the cubic spline
// with continuous curvature (not-a-knot ends), which harmonics are made of; where
// that would swing beyond two neighbours by more than a fiftieth of the table's
// height, as in a coarse or kinked table, the cubics that keep between
// neighbours instead (Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5, 1984).
func Table(at, values []float64) (c Curve, rest float64, err error) {
	n := len(at)
	if n < 2 || len(values) != n || at[0] > 0 || at[n-1] < 0 {
		return c, 0, fmt.Errorf("found %d places and %d values; wanted as many, at least two, on both sides of rest", n, len(values))
	}
	for i := range at {
		if i > 0 && !(at[i] > at[i-1]) || !(values[i] > 0) || math.IsInf(values[i], 0) {
			return c, 0, fmt.Errorf("found %.4g at place %d of a table; wanted positive values at ascending places", values[i], i+1)
		}
	}
	t := &table{at: append([]float64(nil), at...)}
	if !t.fit(values, spline(at, values)) || t.swings(values) {
		t.fit(values, butland(at, values))
	}
	rest, _ = t.value(0)
	for i := range t.k {
		for j := range t.k[i] {
			t.k[i][j] /= rest
		}
	}
	t.sum = make([]float64, n)
	for i := range t.k {
		t.sum[i+1] = t.sum[i] + t.within(i, at[i+1]-at[i])
	}
	c = bounded(t.value, at[0], at[n-1])
	c.table = t
	return c, rest, nil
}

// fit makes the cells of slopes at the places; without slopes it does nothing.
func (t *table) fit(values, slopes []float64) bool {
	t.k = t.k[:0]
	if slopes == nil {
		return false
	}
	for i := range len(values) - 1 {
		h := t.at[i+1] - t.at[i]
		s := (values[i+1] - values[i]) / h
		t.k = append(t.k, [4]float64{values[i], slopes[i], (3*s - 2*slopes[i] - slopes[i+1]) / h, (slopes[i] + slopes[i+1] - 2*s) / (h * h)})
	}
	return true
}

// swings reports whether a cell goes too far beyond its ends.
func (t *table) swings(values []float64) bool {
	low, high := values[0], values[0]
	for _, v := range values {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	most := (high - low) / 50
	for i := range t.k {
		a, b := math.Min(values[i], values[i+1]), math.Max(values[i], values[i+1])
		for n := 1; n < 16; n++ {
			v, _ := t.value(t.at[i] + (t.at[i+1]-t.at[i])*float64(n)/16)
			if v < a-most || v > b+most {
				return true
			}
		}
	}
	return false
}

func spline(at, v []float64) []float64 {
	if len(at) == 3 { // one parabola
		h, g := at[1]-at[0], at[2]-at[1]
		a, b := (v[1]-v[0])/h, (v[2]-v[1])/g
		bend := (b - a) / (h + g)
		return []float64{a - bend*h, a + bend*h, b + bend*g}
	}
	var c interp.NotAKnotCubic
	if len(at) < 3 || c.Fit(at, v) != nil {
		return nil
	}
	slopes := make([]float64, len(at))
	for i, x := range at {
		slopes[i] = c.PredictDerivative(x)
	}
	return slopes
}

func butland(at, v []float64) []float64 {
	n := len(at)
	secant := func(i int) float64 { return (v[i+1] - v[i]) / (at[i+1] - at[i]) }
	s := make([]float64, n)
	for i := 1; i < n-1; i++ {
		a, b := secant(i-1), secant(i)
		if a*b <= 0 {
			continue
		}
		h, g := at[i]-at[i-1], at[i+1]-at[i]
		k := (h + 2*g) / (3 * (h + g))
		s[i] = a * b / (k*b + (1-k)*a)
	}
	edge := func(first, inner float64) float64 { // the parabola's slope, kept monotone
		m := 1.5*first - 0.5*inner
		if m*first <= 0 {
			return 0
		}
		return m
	}
	s[0], s[n-1] = edge(secant(0), s[1]), edge(secant(n-2), s[n-2])
	if n == 2 {
		s[0], s[1] = secant(0), secant(0)
	}
	return s
}

// within returns ∫ v·x dx over the first d of a cell.
func (t *table) within(i int, d float64) float64 {
	sum, p := 0.0, 1.0
	for m, k := range t.k[i] {
		p *= d
		sum += k * p * (t.at[i]/float64(m+1) + d/float64(m+2))
	}
	return sum
}

// Moment returns ∫₀ˣ v(y)·y dy, what the energy of an inductance that depends on
// its current is made of. Beyond a table's ends the end's value holds: use Held.
func (c *Curve) Moment(x float64) float64 {
	if c.table == nil {
		return x * x / 2
	}
	t := c.table
	part := func(x float64) float64 {
		n := len(t.at) - 1
		switch {
		case x > t.at[n]:
			return t.sum[n] + c.high.v*(x*x-t.at[n]*t.at[n])/2
		case x < t.at[0]:
			return c.low.v * (x*x - t.at[0]*t.at[0]) / 2
		}
		i := t.cell(x)
		return t.sum[i] + t.within(i, x-t.at[i])
	}
	return part(x) - part(0)
}

// Held is a curve that keeps the value of its ends beyond them.
func (c Curve) Held() Curve {
	c.low.slope, c.high.slope = 0, 0
	return c
}
