package leastsquares

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// rank is the singular value, next to the largest, below which a combination
// of scaled parameters counts as open.
const rank = 1e-12

// knowledge is what data and priors say at the present point about the
// parameters that are not held.
type knowledge struct {
	index   []int   // those parameters
	sigma   float64 // weight of the priors that the residuals call for; or as given
	noise   float64 // standard deviation of plain residuals that would tell as much
	decided float64 // number of parameters that the data decide
	excess  float64 // variance of the data's pull, next to what sigma says
	rough   bool    // the loss counts most residuals as outlying

	jacobian  triangle
	length    []float64 // of each of its columns
	curvature float64   // mean of ψ′
	scale     []float64
	vectors   *mat.Dense // in scaled parameters
	values    []float64  // information along each
	share     []float64  // the data's part of it
	open      []bool
}

// knowledge of an M-estimator follows P. J. Huber, Robust Statistics, 1981,
// section 7.6: with ψ = ∂(½s²ρ)/∂r the covariance is that of plain residuals of
// variance K²·Σψ²/(m−p)/(mean ψ′)², K = 1 + p/m·var ψ′/(mean ψ′)². For the
// plain loss this is the usual Σr²/(m−p).
func (s *solver) knowledge() *knowledge {
	n, m := len(s.x), float64(len(s.r))
	k := &knowledge{curvature: 1, excess: 1, jacobian: s.data}
	for j := range n {
		if lo, hi := s.p.bounds(j); lo < hi {
			k.index = append(k.index, j)
		}
	}
	pull, vary := sumSquares(s.r), 0.0
	if kind := s.p.Loss.Kind; kind != Squares {
		k.jacobian = newTriangle(n)
		s.gather(k.jacobian, Squares)
		var d, dd, w float64
		pull = 0
		for _, r := range s.r {
			z := r * r / (s.scale * s.scale)
			_, d1, d2 := kind.rho(z)
			c := d1 + 2*z*d2
			pull += d1 * r * d1 * r
			d += c
			dd += c * c
			w += d1
		}
		d, dd, w = d/m, dd/m, w/m
		k.curvature = d
		if d < 0.1*w {
			k.curvature, k.rough = 0.1*w, true
		}
		vary = max(0, dd-d*d) / (k.curvature * k.curvature)
	}
	k.length = make([]float64, n)
	for j := range n {
		k.length[j] = k.jacobian.column(j)
	}
	s.decompose(k, s.sigma)

	found := 0.0
	if left := m - k.decided; left > 1e-9*m {
		f := 1 + k.decided/m*vary
		found = f * math.Sqrt(pull/left/k.curvature)
	}
	if s.p.Noise > 0 {
		k.sigma, k.noise = s.p.Noise, s.p.Noise
		if s.p.Loss.Kind != Squares {
			k.excess = found * found / (k.sigma * k.sigma)
			k.noise = found / math.Sqrt(k.curvature)
		}
		return k
	}
	k.sigma, k.noise = found, found/math.Sqrt(k.curvature)
	s.decompose(k, k.sigma)
	return k
}

// decompose finds the independent directions of the information matrix
// c·JᵀJ/σ² + diag(1/τ²) in scaled parameters.
func (s *solver) decompose(k *knowledge, sigma float64) {
	c := math.Sqrt(k.curvature)
	sigma = max(sigma, 1e-150)
	for _, j := range k.index {
		// Rounding lets no datum tell a parameter better than to 1e-8 of its
		// prior.
		if q, ok := s.p.prior(j); ok {
			sigma = max(sigma, 1e-8*c*k.length[j]*q.Sigma)
		}
	}
	n := len(k.index)
	k.scale, k.values, k.share, k.open = make([]float64, n), make([]float64, n), make([]float64, n), make([]bool, n)
	k.decided = 0
	if n == 0 {
		return
	}
	rows := len(s.x)
	b := mat.NewDense(rows+n, n, nil)
	for a, j := range k.index {
		q, ok := s.p.prior(j)
		switch {
		case ok:
			k.scale[a] = q.Sigma
			b.Set(rows+a, a, 1)
		case k.length[j] > 0:
			k.scale[a] = sigma / (c * k.length[j])
		default:
			k.scale[a] = max(1, math.Abs(s.x[j]))
		}
		for i := 0; i <= j; i++ {
			b.Set(i, a, k.jacobian.at(i, j)*(c/sigma)*k.scale[a])
		}
	}
	values, vectors := singular(b)
	k.vectors = vectors
	least := rank * max(1, values[0])
	for d, v := range values {
		k.open[d] = !(v > least)
		v = max(v, least)
		k.values[d] = v * v
		var part float64
		for i := range rows {
			var sum float64
			for a := range n {
				sum += b.At(i, a) * vectors.At(a, d)
			}
			part += sum * sum
		}
		if !k.open[d] {
			k.share[d] = min(1, part/k.values[d])
			k.decided += k.share[d]
		}
	}
}

// singular returns the singular values of b, the largest first, and its right
// singular vectors as columns.
func singular(b *mat.Dense) ([]float64, *mat.Dense) {
	var svd mat.SVD
	if !svd.Factorize(b, mat.SVDThinV) {
		panic("least squares: no singular values of a finite matrix")
	}
	var v mat.Dense
	svd.VTo(&v)
	return svd.Values(nil), &v
}

func (s *solver) result(stopped Reason) *Result {
	n := len(s.x)
	k := s.knowledge()
	res := &Result{
		X: s.x, Cost: s.cost, PriorCost: s.priorCost(), SumSquares: sumSquares(s.r), Residuals: s.r,
		Noise: k.noise, DegreesOfFreedom: max(0, float64(len(s.r))-k.decided),
		Covariance: make([]float64, n*n), StandardError: make([]float64, n), Correlation: make([]float64, n*n),
		DataError: make([]float64, n), Determined: make([]bool, n), Learned: make([]float64, n),
		Scale: make([]float64, n), Bounds: make([]Bound, n),
		Stopped: stopped, Iterations: s.iterations, Evaluations: s.evaluations,
	}
	if s.p.Noise > 0 {
		res.Noise = s.p.Noise
	}
	if s.p.Loss.Kind != Squares {
		res.LossScale = s.scale
	}
	for j := range n {
		res.Correlation[j*n+j] = 1
		switch lo, hi := s.p.bounds(j); s.x[j] {
		case lo:
			res.Bounds[j] = AtLower
			if hi == lo {
				res.Bounds[j] = Held
			}
		case hi:
			res.Bounds[j] = AtUpper
		}
	}
	s.posterior(k, res)
	s.dataAlone(k, res)
	s.doubts(k, res)
	res.Warnings = s.warnings
	return res
}

// posterior fills in what data and priors say together.
func (s *solver) posterior(k *knowledge, res *Result) {
	n := len(k.index)
	if n == 0 {
		return
	}
	c := mat.NewDense(n, n, nil)
	for d, value := range k.values {
		v := k.vectors.ColView(d)
		c.RankOne(c, 1/value, v, v)
	}
	if k.excess != 1 {
		// The data pull by more, or less, than the curvature alone tells:
		// A⁻¹(excess·(A − Λ) + Λ)A⁻¹.
		lambda := mat.NewDiagDense(n, nil)
		for a, j := range k.index {
			if _, ok := s.p.prior(j); ok {
				lambda.SetDiag(a, 1)
			}
		}
		var part mat.Dense
		part.Product(c, lambda, c)
		part.Scale(1-k.excess, &part)
		c.Scale(k.excess, c)
		c.Add(c, &part)
	}
	all := len(s.x)
	for a, i := range k.index {
		res.Scale[i] = k.scale[a]
		res.StandardError[i] = bounded(k.scale[a] * math.Sqrt(max(0, c.At(a, a))))
		for b, j := range k.index {
			res.Covariance[i*all+j] = bounded(k.scale[a] * k.scale[b] * c.At(a, b))
			if a != b {
				if norm := math.Sqrt(c.At(a, a) * c.At(b, b)); norm > 0 {
					res.Correlation[i*all+j] = min(1, max(-1, c.At(a, b)/norm))
				}
			}
		}
	}
	for d := n - 1; d >= 0; d-- {
		v := k.vectors.ColView(d)
		sigma := math.Sqrt(max(0, mat.Inner(v, c, v)))
		dir := Direction{
			Vector: make([]float64, all), Change: make([]float64, all),
			Sigma: sigma, DataShare: k.share[d], Open: k.open[d],
			IllDetermined: k.open[d] || k.share[d] < 0.5 || sigma > 30,
		}
		sign := 1.0
		if largest(v) < 0 {
			sign = -1
		}
		for a, j := range k.index {
			dir.Vector[j] = sign * v.AtVec(a)
			dir.Change[j] = bounded(sigma * dir.Vector[j] * k.scale[a])
		}
		res.Directions = append(res.Directions, dir)
	}
}

// largest is the entry of v that is largest in size.
func largest(v mat.Vector) float64 {
	var most float64
	for i := range v.Len() {
		if math.Abs(v.AtVec(i)) > math.Abs(most) {
			most = v.AtVec(i)
		}
	}
	return most
}

// dataAlone fills in what the data would say without the priors.
func (s *solver) dataAlone(k *knowledge, res *Result) {
	n, rows := len(k.index), len(s.x)
	if n == 0 {
		return
	}
	b := mat.NewDense(max(rows, n), n, nil)
	unit := make([]float64, n)
	for a, j := range k.index {
		unit[a] = k.scale[a]
		if k.length[j] > 0 {
			unit[a] = 1 / k.length[j]
			for i := 0; i <= j; i++ {
				b.Set(i, a, k.jacobian.at(i, j)*unit[a])
			}
		}
	}
	values, vectors := singular(b)
	for a, j := range k.index {
		determined := true
		var sum float64
		for d, v := range values {
			w := vectors.At(a, d)
			if !(v > rank) {
				v = rank
				determined = determined && math.Abs(w) < 1e-6
			}
			sum += w * w / (v * v)
		}
		noise := k.noise
		if k.length[j] == 0 {
			noise = 1
		}
		res.DataError[j] = bounded(noise * unit[a] * math.Sqrt(sum))
		res.Determined[j] = determined
		if q, ok := s.p.prior(j); ok {
			left := res.StandardError[j] / q.Sigma
			res.Learned[j] = min(1, max(0, 1-left*left))
		} else if determined {
			res.Learned[j] = 1
		}
	}
}

// doubts puts into words what a reader of the result must know.
func (s *solver) doubts(k *knowledge, res *Result) {
	switch res.Stopped {
	case Stalled:
		s.warn("no step lowers the cost although the derivatives say that one should: they may not belong to the residuals")
	case MaxIterations:
		s.warn("not yet at a minimum after %d iterations", res.Iterations)
	case Cancelled:
		s.warn("cancelled before a minimum was reached")
	}
	if res.DegreesOfFreedom <= 1e-9*float64(len(s.r)) && s.p.Noise == 0 {
		s.warn("%d residuals for %d free parameters leave nothing to estimate the noise from: the standard errors are unknown", len(s.r), len(k.index))
	}
	if k.rough {
		s.warn("most residuals lie beyond the loss scale %.3g: the standard errors are rough", s.scale)
	}
	for j, b := range res.Bounds {
		lo, hi := s.p.bounds(j)
		switch b {
		case AtLower:
			s.warn("%s is at its lower bound %g", s.p.name(j), lo)
		case AtUpper:
			s.warn("%s is at its upper bound %g", s.p.name(j), hi)
		}
	}
	for _, d := range res.Directions {
		if !d.Open {
			continue
		}
		var names []string
		for j, v := range d.Vector {
			if math.Abs(v) > 0.05 {
				names = append(names, s.p.name(j))
			}
		}
		what := "its value"
		if len(names) > 1 {
			what = "one combination of them"
		}
		s.warn("%s: nothing decides %s", strings.Join(names, ", "), what)
	}
	s.warnings = slices.Compact(s.warnings)
}

func bounded(v float64) float64 {
	return min(max(v, -math.MaxFloat64), math.MaxFloat64)
}
