package leastsquares

import "math"

// stepper finds the step p that minimises the quadratic model ½|Rp + q|² of the
// cost within the trust region |Dp| ≤ radius and within the bounds.
type stepper struct {
	n      int
	model  triangle  // [R | q] at the present point
	d      []float64 // D, the scale of each parameter
	lo, hi []float64 // bounds less the present point: lo ≤ 0 ≤ hi

	p       []float64 // the step
	damping float64   // λ that belongs to it
	full    float64   // what the model promises of the step without trust region
	fullD   float64   // |Dp| of that step

	fullP []float64 // that step

	fixed []bool
	z, y  []float64
	sub   []triangle // one of each size
	block []float64
	index []int
}

func newStepper(n int) *stepper {
	s := &stepper{n: n, model: newTriangle(n)}
	for _, v := range []*[]float64{&s.d, &s.lo, &s.hi, &s.p, &s.z, &s.y, &s.fullP} {
		*v = make([]float64, n)
	}
	s.fixed = make([]bool, n)
	s.sub = make([]triangle, n+1)
	for k := 1; k <= n; k++ {
		s.sub[k] = newTriangle(k)
	}
	s.block = make([]float64, 2*n*(n+1))
	s.index = make([]int, 0, n)
	return s
}

// prepare finds the full step once for a new model.
func (s *stepper) prepare() {
	s.damping = 0
	if !s.boxed(0) {
		// The model leaves a combination of parameters open: the least damping
		// that keeps it still.
		s.damping = 1e-14
		s.boxed(s.damping)
	}
	s.full = s.promise()
	s.fullD = s.length()
	copy(s.fullP, s.p)
}

// within sets the step for the radius. The length of the bounded step falls
// steadily with the damping, so that a bracketed search for the damping with
// |Dp| = radius (within a tenth) always ends.
func (s *stepper) within(radius float64) {
	least := s.damping
	if s.fullD <= 1.1*radius {
		copy(s.p, s.fullP)
		return
	}
	var steepest float64
	for j := range s.n {
		if s.lo[j] < s.hi[j] {
			steepest = math.Hypot(steepest, s.gradient(j)/s.d[j])
		}
	}
	low, high := least, max(steepest/radius, 2*least)
	// The inverse length is nearly linear in the damping.
	l0, h0 := least, 1/s.fullD
	l := math.Sqrt(max(low, 1e-3*high) * high)
	for range 20 {
		s.boxed(l)
		length := s.length()
		if math.Abs(length-radius) <= 0.1*radius {
			break
		}
		if length > radius {
			low = l
		} else {
			high = l
		}
		h := 1 / length
		next := l + (l-l0)*(1/radius-h)/(h-h0)
		l0, h0 = l, h
		if !(next > low && next < high) {
			next = math.Sqrt(max(low, 1e-3*high) * high)
		}
		l = next
	}
	if length := s.length(); length > 1.1*radius {
		for j := range s.p {
			s.p[j] *= radius / length
		}
	}
}

// length is |Dp|.
func (s *stepper) length() float64 {
	var sum float64
	for j, p := range s.p {
		v := s.d[j] * p
		sum += v * v
	}
	return math.Sqrt(sum)
}

// gradient is component j of Rᵀq.
func (s *stepper) gradient(j int) float64 {
	var g float64
	for i := 0; i <= j; i++ {
		g += s.model.at(i, j) * s.model.at(i, s.n)
	}
	return g
}

// promise is by how much the model says the step lowers the cost.
func (s *stepper) promise() float64 {
	var sum float64
	for i := range s.n {
		var v float64
		for j := i; j < s.n; j++ {
			v += s.model.at(i, j) * s.p[j]
		}
		sum -= v * (s.model.at(i, s.n) + 0.5*v)
	}
	return sum
}

// boxed sets p to the minimum of ½|Rp + q|² + ½λ|Dp|² within the bounds by an
// active set: solve for the free parameters, stop at the first bound met and
// fix what met it; once inside, free the parameter that pulls hardest away from
// its bound, until none does. It is false where the free columns depend on one
// another.
func (s *stepper) boxed(lambda float64) bool {
	clear(s.p)
	for j := range s.n {
		s.fixed[j] = !(s.lo[j] < s.hi[j])
	}
	for range 10*s.n + 10 {
		if !s.free(lambda) {
			return false
		}
		reach, at := 1.0, -1
		for _, j := range s.index {
			d := s.z[j] - s.p[j]
			limit := s.hi[j]
			if d < 0 {
				limit = s.lo[j]
			}
			if (d > 0 && s.z[j] > limit) || (d < 0 && s.z[j] < limit) {
				if t := (limit - s.p[j]) / d; at < 0 || t < reach {
					reach, at = t, j
				}
			}
		}
		for _, j := range s.index {
			s.p[j] += reach * (s.z[j] - s.p[j])
			s.p[j] = min(max(s.p[j], s.lo[j]), s.hi[j])
		}
		if at >= 0 {
			s.fixed[at] = true
			s.p[at] = s.hi[at]
			if s.z[at] < s.hi[at] {
				s.p[at] = s.lo[at]
			}
			continue
		}
		if !s.release(lambda) {
			return true
		}
	}
	return true
}

// free sets z to the minimum over the parameters that are not fixed, and index
// to their list.
func (s *stepper) free(lambda float64) bool {
	s.index = s.index[:0]
	for j := range s.n {
		if !s.fixed[j] {
			s.index = append(s.index, j)
		}
	}
	k := len(s.index)
	if k == 0 {
		return true
	}
	rows := s.n
	if lambda > 0 {
		rows += k
	}
	block := s.block[:rows*(k+1)]
	clear(block)
	root := math.Sqrt(lambda)
	for c, j := range s.index {
		for i := 0; i <= j; i++ {
			block[c*rows+i] = s.model.at(i, j)
		}
		if lambda > 0 {
			block[c*rows+s.n+c] = root * s.d[j]
		}
	}
	for i := range s.n {
		v := s.model.at(i, s.n)
		for j := i; j < s.n; j++ {
			if s.fixed[j] {
				v += s.model.at(i, j) * s.p[j]
			}
		}
		block[k*rows+i] = v
	}
	t := s.sub[k]
	t.clear()
	t.fold(block, rows)
	if !t.solve(s.y[:k]) {
		return false
	}
	for c, j := range s.index {
		s.z[j] = s.y[c]
	}
	return true
}

// release frees the fixed parameter whose bound holds back the most, if any.
func (s *stepper) release(lambda float64) bool {
	worst, at := 0.0, -1
	for j := range s.n {
		if !s.fixed[j] || !(s.lo[j] < s.hi[j]) {
			continue
		}
		g := lambda * s.d[j] * s.d[j] * s.p[j]
		var column, rest float64
		for i := 0; i <= j; i++ {
			v := s.model.at(i, s.n)
			for c := i; c < s.n; c++ {
				v += s.model.at(i, c) * s.p[c]
			}
			a := s.model.at(i, j)
			g += a * v
			column += a * a
			rest += v * v
		}
		if s.p[j] == s.hi[j] {
			g = -g
		}
		// g < 0: the cost falls towards the inside.
		if pull := -g / s.d[j]; g < -1e-13*math.Sqrt(column*rest) && pull > worst {
			worst, at = pull, j
		}
	}
	if at < 0 {
		return false
	}
	s.fixed[at] = false
	return true
}
