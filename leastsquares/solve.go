package leastsquares

import (
	"context"
	"fmt"
	"math"
)

// blockRows is how many rows of the Jacobian are folded at once: few enough
// that a block stays in the nearest cache.
const blockRows = 128

type solver struct {
	ctx context.Context
	p   *Problem
	opt Options

	x, r, jac    []float64 // present point
	xt, rt, jact []float64 // trial point
	cost         float64   // F at the present point

	scale float64 // the loss's s
	sigma float64 // weight σ of the priors
	prior bool    // whether any parameter has a prior

	data   triangle  // weighted Jacobian and residuals
	step   *stepper  // the same with the priors' rows
	short  []float64 // n×n, lower half: what a robust loss lacks in curvature
	work   []float64
	block  []float64
	spare  []float64 // m numbers
	radius float64
	gamble bool // the last step was taken: ask for derivatives with the next

	iterations, evaluations int
	warnings                []string
}

// Solve brings the residuals of p down from x0. A start outside the bounds is
// moved onto them, with a warning.
//
// It returns an error for a problem that makes no sense or cannot be evaluated
// at its start. Otherwise Result.Stopped tells whether a minimum was reached;
// when the context ends, or no progress is possible, the best point so far is
// returned with all that is known there.
func Solve(ctx context.Context, p Problem, x0 []float64, opt Options) (*Result, error) {
	if err := p.check(x0); err != nil {
		return nil, err
	}
	if opt.MaxIterations <= 0 {
		opt.MaxIterations = 500
	}
	if !(opt.CostTolerance > 0) {
		opt.CostTolerance = 1e-14
	}
	if !(opt.StepTolerance > 0) {
		opt.StepTolerance = 1e-13
	}
	m, n := p.Residuals, p.Parameters
	s := &solver{
		ctx: ctx, p: &p, opt: opt,
		x: make([]float64, n), r: make([]float64, m), jac: make([]float64, m*n),
		xt: make([]float64, n), rt: make([]float64, m), jact: make([]float64, m*n),
		data: newTriangle(n), step: newStepper(n),
		block: make([]float64, max(blockRows, n)*(n+1)), spare: make([]float64, m),
		short: make([]float64, n*n), work: make([]float64, n*n),
		gamble: true,
	}
	for j := range n {
		lo, hi := p.bounds(j)
		s.x[j] = min(max(x0[j], lo), hi)
		if s.x[j] != x0[j] {
			s.warn("%s starts at %g outside its bounds and is moved to %g", p.name(j), x0[j], s.x[j])
		}
		if _, ok := p.prior(j); ok {
			s.prior = true
		}
	}
	if err := s.start(); err != nil {
		return nil, err
	}
	return s.result(s.passes()), nil
}

func (s *solver) warn(format string, args ...any) {
	s.warnings = append(s.warnings, fmt.Sprintf(format, args...))
}

// start evaluates the first point.
func (s *solver) start() error {
	s.evaluations++
	if err := s.p.Evaluate(s.x, s.r, s.jac); err != nil {
		return fmt.Errorf("least squares: the start is impossible: %w", err)
	}
	for i, v := range s.r {
		if !finite(v) {
			return fmt.Errorf("least squares: residual %d is %g at the start", i+1, v)
		}
	}
	for k, v := range s.jac {
		if !finite(v) {
			n := s.p.Parameters
			return fmt.Errorf("least squares: at the start the derivative of residual %d by %s is %g", k/n+1, s.p.name(k%n), v)
		}
	}
	return nil
}

// passes settles the loss's scale and the priors' weight, where they follow
// from the residuals, by solving in turn with what the last solution gave.
func (s *solver) passes() Reason {
	s.scale, s.sigma = s.p.Loss.Scale, s.p.Noise
	robust := s.p.Loss.Kind != Squares
	ownScale := robust && s.scale == 0
	ownSigma := s.prior && s.sigma == 0
	size := spread(s.r, s.spare)
	if !(size > 0) {
		size = math.Sqrt(sumSquares(s.r) / float64(len(s.r)))
	}
	if !(size > 0) {
		size = 1
	}
	least := 1e-12 * size
	if ownScale {
		s.scale = s.p.Loss.Kind.tuning() * size
	}
	if s.sigma == 0 {
		s.sigma = size
		if robust {
			s.sigma = s.scale / s.p.Loss.Kind.tuning()
		}
	}
	if !ownScale && !ownSigma {
		return s.minimise(s.opt.CostTolerance)
	}
	change := 1.0
	for range 30 {
		if change < 1e-5 {
			return s.minimise(s.opt.CostTolerance)
		}
		reason := s.minimise(max(s.opt.CostTolerance, min(1e-4, 1e-2*change*change)))
		if reason == Cancelled || reason == MaxIterations {
			return reason
		}
		change = 0
		k := s.knowledge()
		if ownScale {
			m := float64(len(s.r))
			next := max(least, spread(s.r, s.spare)*math.Sqrt(m/max(1, m-k.decided)))
			next *= s.p.Loss.Kind.tuning()
			change = math.Abs(next/s.scale - 1)
			s.scale = next
		}
		if ownSigma {
			next := max(least, k.sigma)
			change = max(change, math.Abs(next/s.sigma-1))
			s.sigma = next
		}
	}
	s.warn("the size of the noise did not settle: loss scale and standard errors are rough")
	return s.minimise(s.opt.CostTolerance)
}

// minimise goes down from the present point with scale and sigma as they are.
func (s *solver) minimise(tolerance float64) Reason {
	s.cost = s.evaluateCost()
	s.factor()
	t := s.step
	first := s.radius == 0
	if first {
		// As far as x itself; or, from a start that is next to nothing, as far as
		// moves the residuals by a thousandth.
		s.radius = max(s.size(s.x), 1e-3*math.Sqrt(2*s.cost))
	}
	refused := 0
	for {
		if s.ctx.Err() != nil {
			return Cancelled
		}
		if t.full <= 0 || s.cost == 0 || t.fullD <= s.opt.StepTolerance*s.size(s.x) {
			return Converged
		}
		if s.iterations >= s.opt.MaxIterations {
			return MaxIterations
		}
		last := t.full <= tolerance*s.cost
		if last {
			t.within(math.Inf(1))
		} else {
			t.within(s.radius)
		}
		length, promise := t.length(), t.promise()
		taken, gain := s.try()
		s.iterations++

		near := t.full <= 1e-9*s.cost
		if taken {
			if first {
				s.radius = min(s.radius, length)
			}
			if !last {
				s.resize(gain/promise, gain, length)
			}
			taken = (gain >= 1e-4*promise || near && gain >= -1e-9*s.cost) && s.accept(gain >= 1e-4*promise)
		} else {
			s.radius = 0.25 * min(s.radius, length)
		}
		if taken {
			first = false
			refused = 0
		} else {
			refused++
			s.gamble = false
		}
		if s.opt.Progress != nil {
			s.opt.Progress(Progress{s.iterations, s.evaluations, append([]float64(nil), s.x...), s.cost, taken})
		}
		if last || !taken && t.full <= 1e-13*s.cost {
			return Converged
		}
		if refused > 0 && (s.radius <= epsilon*s.size(s.x) || refused > 60) {
			// Where rounding hides what is left to gain this is as good as a
			// minimum.
			if t.full <= 1e-8*s.cost {
				return Converged
			}
			return Stalled
		}
	}
}

const epsilon = 0x1p-52

// resize follows Moré: shrink by the parabola through what was found where the
// model was wrong, widen where it was right.
func (s *solver) resize(ratio, gain, length float64) {
	if !(ratio > 0.25) {
		var slope float64
		for j, p := range s.step.p {
			slope += s.step.gradient(j) * p
		}
		shrink := 0.5
		if gain < 0 {
			shrink = max(0.1, 0.5*slope/(slope+gain))
		}
		s.radius = shrink * min(s.radius, 10*length)
	} else if ratio >= 0.75 || length >= s.step.fullD {
		s.radius = max(s.radius, 2*length)
	}
}

// size is |Dx|.
func (s *solver) size(x []float64) float64 {
	var sum float64
	for j, v := range x {
		v *= s.step.d[j]
		sum += v * v
	}
	return math.Sqrt(sum)
}

// try evaluates the point one step ahead: whether it is possible, and by how
// much it lowers the cost.
func (s *solver) try() (possible bool, gain float64) {
	for j, p := range s.step.p {
		lo, hi := s.p.bounds(j)
		s.xt[j] = min(max(s.x[j]+p, lo), hi)
	}
	if !s.evaluate(s.gamble) {
		return false, 0
	}
	gain = s.gain()
	return finite(gain), gain
}

func (s *solver) evaluate(derivatives bool) bool {
	jac := s.jact
	if !derivatives {
		jac = nil
	}
	s.evaluations++
	return allFinite(s.xt) && s.p.Evaluate(s.xt, s.rt, jac) == nil && allFinite(s.rt) && allFinite(jac)
}

// accept makes the trial point the present one. Near the minimum rounding hides
// whether the cost falls; there a step that does not lower it visibly is kept
// only if it brings the gradient down, as the model's promise tells.
func (s *solver) accept(lower bool) bool {
	if !s.gamble && !s.evaluate(true) {
		return false
	}
	before := s.step.full
	s.swap()
	if !lower && !(s.step.full < 0.8*before) {
		s.swap()
		return false
	}
	s.gamble = true
	return true
}

// swap exchanges the present and the trial point.
func (s *solver) swap() {
	s.x, s.xt = s.xt, s.x
	s.r, s.rt = s.rt, s.r
	s.jac, s.jact = s.jact, s.jac
	s.cost = s.evaluateCost()
	s.factor()
}

// gain is the cost at the present point less that at the trial point, summed
// as differences so that it stays exact where the two are close.
func (s *solver) gain() float64 {
	var sum float64
	if kind := s.p.Loss.Kind; kind == Squares {
		for i, a := range s.r {
			b := s.rt[i]
			sum += (a - b) * (a + b)
		}
	} else {
		inverse := 1 / (s.scale * s.scale)
		for i, a := range s.r {
			b := s.rt[i]
			va, _, _ := kind.rho(a * a * inverse)
			vb, _, _ := kind.rho(b * b * inverse)
			sum += va - vb
		}
		sum /= inverse
	}
	for j := range s.x {
		if q, ok := s.p.prior(j); ok {
			w := s.sigma / q.Sigma
			sum += w * (s.x[j] - s.xt[j]) * w * (s.x[j] + s.xt[j] - 2*q.Mean)
		}
	}
	return 0.5 * sum
}

func (s *solver) evaluateCost() float64 {
	if s.p.Loss.Kind == Squares {
		return 0.5*sumSquares(s.r) + s.priorCost()
	}
	inverse := 1 / (s.scale * s.scale)
	var sum float64
	for _, a := range s.r {
		v, _, _ := s.p.Loss.Kind.rho(a * a * inverse)
		sum += v
	}
	return 0.5*sum/inverse + s.priorCost()
}

func (s *solver) priorCost() float64 {
	var sum float64
	for j := range s.x {
		if q, ok := s.p.prior(j); ok {
			v := s.sigma * (s.x[j] - q.Mean) / q.Sigma
			sum += v * v
		}
	}
	return 0.5 * sum
}

// factor makes the quadratic model at the present point.
func (s *solver) factor() {
	n := len(s.x)
	s.gather(s.data, s.p.Loss.Kind)
	t := s.step
	copy(t.model.a, s.data.a)
	if s.prior {
		block := s.block[:n*(n+1)]
		clear(block)
		for j := range n {
			if q, ok := s.p.prior(j); ok {
				block[j*n+j] = s.sigma / q.Sigma
				block[n*n+j] = s.sigma * (s.x[j] - q.Mean) / q.Sigma
			}
		}
		t.model.fold(block, n)
	}
	for j := range n {
		lo, hi := s.p.bounds(j)
		t.lo[j], t.hi[j] = lo-s.x[j], hi-s.x[j]
	}
	if s.p.Loss.Kind != Squares && !t.model.subtract(s.short, s.work) {
		// Try again without what stays at its bound, which may well curve the
		// wrong way there.
		pressed := false
		for j := range n {
			if g := t.gradient(j); t.lo[j] == 0 && g > 0 || t.hi[j] == 0 && g < 0 {
				pressed = true
				for i := range n {
					s.short[max(i, j)*n+min(i, j)] = 0
				}
			}
		}
		if pressed {
			t.model.subtract(s.short, s.work)
		}
	}
	for j := range n {
		t.d[j] = max(0.9*t.d[j], t.model.column(j))
		if t.d[j] == 0 {
			t.d[j] = 1
		}
	}
	t.prepare()
}

// gather reduces Jacobian and residuals to a triangle. With a robust loss the
// rows carry the weights ρ′; by how much that overstates the curvature goes to
// s.short.
func (s *solver) gather(into triangle, kind Kind) {
	n := len(s.x)
	into.clear()
	if kind != Squares {
		clear(s.short)
	}
	inverse := 1 / (s.scale * s.scale)
	for from := 0; from < len(s.r); from += blockRows {
		rows := min(blockRows, len(s.r)-from)
		for i := range rows {
			line := s.jac[(from+i)*n : (from+i+1)*n]
			r := s.r[from+i]
			if kind == Squares {
				for j, v := range line {
					s.block[j*rows+i] = v
				}
				s.block[n*rows+i] = r
				continue
			}
			w, short := kind.weight(r * r * inverse)
			if short > 0 {
				for a, u := range line {
					u *= short
					to := s.short[a*n:]
					for b, v := range line[:a+1] {
						to[b] += u * v
					}
				}
			}
			w = math.Sqrt(w)
			for j, v := range line {
				s.block[j*rows+i] = w * v
			}
			s.block[n*rows+i] = w * r
		}
		into.fold(s.block[:rows*(n+1)], rows)
	}
}

func sumSquares(v []float64) float64 {
	var sum float64
	for _, a := range v {
		sum += a * a
	}
	return sum
}
