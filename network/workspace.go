package network

import (
	"math"
	"math/cmplx"
)

// Workspace is where one goroutine solves a plan.
type Workspace struct {
	plan    *Plan
	point   Point
	matrix  []complex128
	inverse []complex128 // of each pivot, by position
	growth  []float64    // the largest term each pivot was made of
	stamp   []complex128
	keep    []complex128
	weights []complex128
	y       []complex128

	pivoted bool // the fixed order lost digits here: solve by dense
	dense   *dense
}

// Workspace returns room to solve in.
func (p *Plan) Workspace() *Workspace {
	return &Workspace{
		plan:    p,
		matrix:  make([]complex128, p.entries+1),
		inverse: make([]complex128, p.n),
		growth:  make([]float64, p.n),
		stamp:   make([]complex128, p.widest),
		keep:    make([]complex128, p.keep),
		weights: make([]complex128, p.widest),
		y:       make([]complex128, p.n),
	}
}

// digitsKept is the smallest part of its largest term that a pivot may shrink
// to before the fixed elimination order is given up for a pivoted one at that
// frequency: it bounds the loss by cancellation to about four of sixteen
// digits.
const digitsKept = 1e-4

// Factor stamps every element at the frequency ω [rad/s] with the given values
// and factors the matrix. The values are read again by Gradient and must not
// change in between.
func (w *Workspace) Factor(omega float64, values []float64) error {
	p := w.plan
	w.point = Point{Omega: omega, Values: values}
	a := w.matrix
	clear(a)
	for i := range p.parts {
		q := &p.parts[i]
		entries := w.stamp[:len(q.slots)]
		q.element.Stamp(&w.point, entries, w.keep[q.keep:q.keep+q.kept])
		for j, s := range q.slots {
			a[s] += entries[j]
		}
	}
	for k := range p.pivots {
		w.growth[k] = size(a[p.pivots[k].diagonal])
	}
	w.pivoted = omega == 0 || !w.eliminate()
	if w.pivoted {
		return w.factorPivoted()
	}
	return nil
}

// eliminate factors in the plan's order, in place, and reports whether it kept
// its digits.
func (w *Workspace) eliminate() bool {
	p, a := w.plan, w.matrix
	for k := range p.pivots {
		v := &p.pivots[k]
		d := a[v.diagonal]
		if g := size(d); !(g > digitsKept*w.growth[k] && g <= math.MaxFloat64) {
			return false
		}
		inv := reciprocal(d)
		w.inverse[k] = inv
		right := p.links[v.right.first:v.right.after]
		targets := p.targets[v.targets.first:v.targets.after]
		for _, b := range p.links[v.below.first:v.below.after] {
			row := targets[:len(right)]
			targets = targets[len(right):]
			l := a[b.slot]
			if l == 0 {
				continue
			}
			l *= inv
			a[b.slot] = l
			diagonal := p.pivots[b.position].diagonal
			for j, target := range row {
				term := l * a[right[j].slot]
				a[target] -= term
				if target == diagonal {
					w.growth[b.position] = max(w.growth[b.position], size(term))
				}
			}
		}
	}
	return true
}

// Solve writes the solution of K x = b to x. Both are indexed by Unknown and
// have length Unknowns; x and b may be the same slice.
func (w *Workspace) Solve(b, x []complex128) {
	if w.pivoted {
		w.dense.solve(b, x)
		return
	}
	p, a, y := w.plan, w.matrix, w.y
	for k, u := range p.order {
		y[k] = b[u]
	}
	for k := range p.pivots {
		s := y[k]
		if s == 0 {
			continue
		}
		v := &p.pivots[k]
		for _, l := range p.links[v.below.first:v.below.after] {
			y[l.position] -= a[l.slot] * s
		}
	}
	for k := len(p.pivots) - 1; k >= 0; k-- {
		v := &p.pivots[k]
		s := y[k]
		for _, r := range p.links[v.right.first:v.right.after] {
			s -= a[r.slot] * y[r.position]
		}
		s *= w.inverse[k]
		y[k] = s
		x[p.order[k]] = s
	}
}

// SolveTransposed writes the solution of Kᵀ λ = t to lambda: the adjoint of a
// reading J = tᵀx. Both slices may be the same.
func (w *Workspace) SolveTransposed(t, lambda []complex128) {
	if w.pivoted {
		w.dense.solveTransposed(t, lambda)
		return
	}
	p, a, y := w.plan, w.matrix, w.y
	for k, u := range p.order {
		y[k] = t[u]
	}
	for k := range p.pivots {
		if y[k] == 0 {
			continue
		}
		v := &p.pivots[k]
		s := y[k] * w.inverse[k]
		y[k] = s
		for _, r := range p.links[v.right.first:v.right.after] {
			y[r.position] -= a[r.slot] * s
		}
	}
	for k := len(p.pivots) - 1; k >= 0; k-- {
		v := &p.pivots[k]
		s := y[k]
		for _, l := range p.links[v.below.first:v.below.after] {
			s -= a[l.slot] * y[l.position]
		}
		y[k] = s
		lambda[p.order[k]] = s
	}
}

// Gradient adds the derivative of a reading J = tᵀx with respect to every value
// to grad, indexed by Value, and returns its derivative with respect to ω, both
// as far as they come through the matrix: given the solution x and the adjoint
// lambda of the last Factor. What t itself depends on is the caller's.
func (w *Workspace) Gradient(lambda, x, grad []complex128) (omega complex128) {
	p := w.plan
	for i := range p.parts {
		q := &p.parts[i]
		weights := w.weights[:len(q.places)]
		for j, at := range q.places {
			if at.Row == Ground || at.Column == Ground {
				weights[j] = 0
				continue
			}
			weights[j] = -lambda[at.Row] * x[at.Column]
		}
		omega += q.element.Slopes(&w.point, w.keep[q.keep:q.keep+q.kept], weights, grad)
	}
	return omega
}

// Reduce writes the network as seen from terminals: the matrix H (row-major,
// len(at)²) of the terminals' unknowns per unit source in each terminal's
// equation. The inverse of H is the Schur complement of the matrix on the
// terminals: what is left of the network when everything else is eliminated. A
// part that depends on the state (a cone's spring, the loss at a port's end) is
// a source in a terminal's equation that depends on that terminal's unknown.
func (w *Workspace) Reduce(at []Unknown, h []complex128) {
	b := make([]complex128, w.plan.n)
	for j, u := range at {
		clear(b)
		b[u] = 1
		w.Solve(b, b)
		for i, v := range at {
			h[i*len(at)+j] = b[v]
		}
	}
}

// Matrix writes the whole matrix K as stamped at the point, row-major, for
// checks.
func (w *Workspace) Matrix(omega float64, values []float64) []complex128 {
	p := w.plan
	k := make([]complex128, p.n*p.n)
	point := Point{Omega: omega, Values: values}
	keep := make([]complex128, p.keep)
	for i := range p.parts {
		q := &p.parts[i]
		entries := make([]complex128, len(q.places))
		q.element.Stamp(&point, entries, keep[q.keep:q.keep+q.kept])
		for j, at := range q.places {
			if at.Row != Ground && at.Column != Ground {
				k[int(at.Row)*p.n+int(at.Column)] += entries[j]
			}
		}
	}
	return k
}

// Point returns the frequency and values of the last Factor.
func (w *Workspace) Point() *Point { return &w.point }

func size(z complex128) float64 { return math.Abs(real(z)) + math.Abs(imag(z)) }

// reciprocal is 1/z without the care for infinities that Go's division takes;
// pivots are finite and far from the ends of the number range.
func reciprocal(z complex128) complex128 {
	d := 1 / (real(z)*real(z) + imag(z)*imag(z))
	return complex(real(z)*d, -imag(z)*d)
}

// dense is an LU factorisation with rows and columns brought to like size and
// the largest pivot of each column taken, and each solution refined once:
// slower, and safe where a pivot of the fixed order vanishes.
type dense struct {
	n        int
	a        []complex128
	matrix   []complex128 // before it was factored
	row, col []float64    // scale factors, powers of two
	swap     []int
	y, r     []complex128
}

func (w *Workspace) factorPivoted() error {
	p := w.plan
	if w.dense == nil {
		n := p.n
		w.dense = &dense{n: n, a: make([]complex128, n*n), matrix: make([]complex128, n*n), row: make([]float64, n), col: make([]float64, n), swap: make([]int, n), y: make([]complex128, n), r: make([]complex128, n)}
	}
	d := w.dense
	clear(d.a)
	for i := range p.parts {
		q := &p.parts[i]
		entries := w.stamp[:len(q.slots)]
		q.element.Stamp(&w.point, entries, w.keep[q.keep:q.keep+q.kept])
		for j, at := range q.places {
			if at.Row != Ground && at.Column != Ground {
				d.a[int(at.Row)*d.n+int(at.Column)] += entries[j]
			}
		}
	}
	least := 1e-14 // of a pivot's size: less is rounding
	if w.point.Omega == 0 {
		least = 1e-40 // ways past one another differ by as little as that
	}
	if u := d.factor(least); u >= 0 {
		return &SingularError{Unknown: p.net.names[u], Omega: w.point.Omega}
	}
	return nil
}

func (d *dense) equilibrate() {
	for i := range d.row {
		d.row[i], d.col[i] = 1, 1
	}
	for pass := 0; pass < 4; pass++ {
		for i := 0; i < d.n; i++ {
			var rm, cm float64
			for j := 0; j < d.n; j++ {
				rm = math.Max(rm, size(d.a[i*d.n+j]))
				cm = math.Max(cm, size(d.a[j*d.n+i]))
			}
			if r := halve(rm); r != 1 {
				d.row[i] *= r
				for j := 0; j < d.n; j++ {
					d.a[i*d.n+j] *= complex(r, 0)
				}
			}
			if c := halve(cm); c != 1 {
				d.col[i] *= c
				for j := 0; j < d.n; j++ {
					d.a[j*d.n+i] *= complex(c, 0)
				}
			}
		}
	}
}

// halve is a power of two that brings m half way (in its exponent) to one.
func halve(m float64) float64 {
	if m == 0 || math.IsInf(m, 0) || math.IsNaN(m) {
		return 1
	}
	_, e := math.Frexp(m)
	return math.Ldexp(1, -e/2)
}

// factor returns the index of an undetermined unknown, whose pivot is not above
// least, or −1.
func (d *dense) factor(least float64) int {
	d.equilibrate()
	copy(d.matrix, d.a)
	n, a := d.n, d.a
	for k := 0; k < n; k++ {
		best := k
		for i := k + 1; i < n; i++ {
			if size(a[i*n+k]) > size(a[best*n+k]) {
				best = i
			}
		}
		d.swap[k] = best
		if s := size(a[best*n+k]); !(s > least) || math.IsInf(s, 0) {
			return k
		}
		if best != k {
			for j := 0; j < n; j++ {
				a[k*n+j], a[best*n+j] = a[best*n+j], a[k*n+j]
			}
		}
		inv := 1 / a[k*n+k]
		for i := k + 1; i < n; i++ {
			l := a[i*n+k] * inv
			a[i*n+k] = l
			if l == 0 {
				continue
			}
			for j := k + 1; j < n; j++ {
				a[i*n+j] -= l * a[k*n+j]
			}
		}
	}
	return -1
}

func (d *dense) solve(b, x []complex128) {
	n, y, r := d.n, d.y, d.r
	for i := range r {
		r[i] = b[i] * complex(d.row[i], 0)
	}
	copy(y, r)
	d.substitute(y)
	for i := 0; i < n; i++ {
		for j, k := range d.matrix[i*n : i*n+n] {
			r[i] -= k * y[j]
		}
	}
	d.substitute(r)
	for i := range y {
		x[i] = (y[i] + r[i]) * complex(d.col[i], 0)
	}
}

func (d *dense) substitute(y []complex128) {
	n, a := d.n, d.a
	for k := 0; k < n; k++ {
		y[k], y[d.swap[k]] = y[d.swap[k]], y[k]
	}
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			y[i] -= a[i*n+j] * y[j]
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			y[i] -= a[i*n+j] * y[j]
		}
		y[i] /= a[i*n+i]
	}
}

func (d *dense) solveTransposed(t, x []complex128) {
	n, y, r := d.n, d.y, d.r
	for i := range r {
		r[i] = t[i] * complex(d.col[i], 0)
	}
	copy(y, r)
	d.substituteTransposed(y)
	for i := 0; i < n; i++ {
		for j, k := range d.matrix[i*n : i*n+n] {
			r[j] -= k * y[i]
		}
	}
	d.substituteTransposed(r)
	for i := range y {
		x[i] = (y[i] + r[i]) * complex(d.row[i], 0)
	}
}

func (d *dense) substituteTransposed(y []complex128) {
	n, a := d.n, d.a
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			y[i] -= a[j*n+i] * y[j]
		}
		y[i] /= a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			y[i] -= a[j*n+i] * y[j]
		}
	}
	for k := n - 1; k >= 0; k-- {
		y[k], y[d.swap[k]] = y[d.swap[k]], y[k]
	}
}

// Finite reports whether every number of a solution is finite.
func Finite(x []complex128) bool {
	for _, z := range x {
		if cmplx.IsNaN(z) || cmplx.IsInf(z) {
			return false
		}
	}
	return true
}
