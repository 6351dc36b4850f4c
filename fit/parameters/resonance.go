package parameters

import (
	"math"

	"ocarina/sweep"
)

// resonance is the tallest peak of a sweep.
type resonance struct {
	frequency, height float64
	points            int // within the resonance's half-power width
}

// peakOf finds the tallest peak: between the points, if need be.
func peakOf(s *sweep.Sweep) (resonance, error) {
	var r resonance
	q := 1.0
	for _, v := range s.Features() {
		if v.Kind == sweep.Peak && v.Height > r.height && v.Prominence > 1 {
			r.frequency, r.height, q = v.Frequency, v.Height, v.Q
		}
	}
	if r.height == 0 {
		return r, ErrNoResonance
	}
	for _, f := range s.Frequency {
		if math.Abs(math.Log(f/r.frequency)) < 1/(2*math.Max(q, 0.5)) {
			r.points++
		}
	}
	if r.points >= 30 {
		r.vertex(s)
	}
	return r, nil
}

// vertex takes the peak of a dense sweep from the parabola through as many points
// about it as bend little.
func (r *resonance) vertex(s *sweep.Sweep) {
	top := 0
	for i, f := range s.Frequency {
		if math.Abs(math.Log(f/r.frequency)) < 0.05 && (top == 0 || s.Magnitude[i] > s.Magnitude[top]) {
			top = i
		}
	}
	half := max(r.points/45, 1)
	if top < half || top+half >= s.Len() {
		return
	}
	// Least squares of y = a + b·u + c·u² about the top.
	var m [5]float64
	var t [3]float64
	for i := top - half; i <= top+half; i++ {
		u, y := math.Log(s.Frequency[i]/s.Frequency[top]), math.Log(s.Magnitude[i]/s.Magnitude[top])
		for k, p := 0, 1.0; k < 5; k, p = k+1, p*u {
			m[k] += p
			if k < 3 {
				t[k] += p * y
			}
		}
	}
	a, b, c, ok := solve3([3][3]float64{{m[0], m[1], m[2]}, {m[1], m[2], m[3]}, {m[2], m[3], m[4]}}, t)
	if !ok || !(c < 0) {
		return
	}
	u := -b / (2 * c)
	if math.Abs(u) > math.Abs(math.Log(s.Frequency[top+half]/s.Frequency[top])) {
		return
	}
	r.frequency, r.height = s.Frequency[top]*math.Exp(u), s.Magnitude[top]*math.Exp(a+u*(b+u*c))
}

// solve3 solves three equations by Cramer's rule.
func solve3(m [3][3]float64, t [3]float64) (a, b, c float64, ok bool) {
	det := func(m [3][3]float64) float64 {
		return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	}
	d := det(m)
	if d == 0 {
		return 0, 0, 0, false
	}
	var x [3]float64
	for k := range x {
		n := m
		for i := range n {
			n[i][k] = t[i]
		}
		x[k] = det(n) / d
	}
	return x[0], x[1], x[2], true
}

// flanks returns the frequencies on either side of the resonance at which |Z|
// comes down to re·√(height/re).
func (r *resonance) flanks(s *sweep.Sweep, re float64) (f1, f2 float64, ok bool) {
	if !(r.height > re) {
		return 0, 0, false
	}
	level := math.Log(re * math.Sqrt(r.height/re))
	n := s.Len()
	top := 0
	for top < n-1 && s.Frequency[top] < r.frequency {
		top++
	}
	// The peak itself is a point of the curve: the flanks begin there.
	for i := top; i < n; i++ {
		if math.Log(s.Magnitude[i]) < level {
			f2 = r.cross(s, i-1, i, level)
			break
		}
	}
	for i := top - 1; i >= 0; i-- {
		if math.Log(s.Magnitude[i]) < level {
			f1 = r.cross(s, i, i+1, level)
			break
		}
	}
	return f1, f2, f1 > 0 && f2 > 0
}

// cross finds where the curve passes a level [ln ohm] between two neighbouring
// points, of which the peak may take the place of one; in a dense sweep by the
// cubic through four points.
func (r *resonance) cross(s *sweep.Sweep, i, j int, level float64) float64 {
	at := func(k int) (x, y float64) { return math.Log(s.Frequency[k]), math.Log(s.Magnitude[k]) }
	if i < 1 || j+1 >= s.Len() || s.Frequency[i] < r.frequency && s.Frequency[j] > r.frequency || r.points < 8 {
		xa, ya := math.Log(r.frequency), math.Log(r.height)
		xb, yb := xa, ya
		if i >= 0 && !(s.Frequency[i] < r.frequency && s.Frequency[j] > r.frequency && s.Magnitude[i] > math.Exp(level)) {
			xa, ya = at(i)
		}
		if j < s.Len() && !(s.Frequency[i] < r.frequency && s.Frequency[j] > r.frequency && s.Magnitude[j] > math.Exp(level)) {
			xb, yb = at(j)
		}
		if ya == yb {
			return math.Exp(xa)
		}
		return math.Exp(xa + (level-ya)/(yb-ya)*(xb-xa))
	}
	// Inverse interpolation: ln f as a cubic of ln|Z| through four points of one
	// flank.
	k := [4]int{i - 1, i, j, j + 1}
	var x float64
	for a := range k {
		xa, ya := at(k[a])
		w := 1.0
		for b := range k {
			if a != b {
				_, yb := at(k[b])
				if ya == yb {
					return math.Exp((xa + math.Log(s.Frequency[j])) / 2)
				}
				w *= (level - yb) / (ya - yb)
			}
		}
		x += w * xa
	}
	low, high := math.Log(s.Frequency[i]), math.Log(s.Frequency[j])
	return math.Exp(math.Min(math.Max(x, low), high))
}
