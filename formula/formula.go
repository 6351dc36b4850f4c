// Package formula keeps scalars that are computed from other scalars, with
// exact derivatives.
//
// A design's dimensions are inputs; everything the solver needs (areas, end
// masses, a driver's moving mass from its Vas and fs) is computed from them
// step by step. A Graph remembers the steps: run it forwards to follow a
// changed dimension, backwards to carry a derivative from what the solver used
// to what a builder can cut. Steps are kept in the order they were written, so
// every step refers to earlier ones only.
package formula

import "math"

// Ref names one scalar of a Graph: its index in the slice that Values returns.
type Ref int32

// Unary is a function of one scalar with its derivative.
type Unary func(x float64) (value, slope float64)

// Binary is a function of two scalars with both partial derivatives.
type Binary func(x, y float64) (value, slopeX, slopeY float64)

type kind uint8

const (
	given kind = iota
	add
	sub
	mul
	div
	scale
	power
	square
	root
	unary
	binary
)

type step struct {
	kind kind
	a, b Ref
	k    float64
	f1   Unary
	f2   Binary
}

// Graph is a list of scalars and how each follows from earlier ones. The zero
// value is empty and ready for use. Building is not safe for concurrent use;
// a finished Graph is.
type Graph struct {
	steps []step
	value []float64
}

// Len returns how many scalars the graph holds.
func (g *Graph) Len() int { return len(g.steps) }

// Value returns the scalar as it was when the graph was built.
func (g *Graph) Value(r Ref) float64 { return g.value[r] }

// Values returns a fresh copy of all scalars as built, indexed by Ref.
func (g *Graph) Values() []float64 { return append([]float64(nil), g.value...) }

// Input adds a scalar that may be changed later.
func (g *Graph) Input(v float64) Ref { return g.push(step{kind: given}, v) }

// Const adds a scalar that follows from nothing.
func (g *Graph) Const(v float64) Ref { return g.Input(v) }

// Add returns a + b.
func (g *Graph) Add(a, b Ref) Ref { return g.run(step{kind: add, a: a, b: b}) }

// Sub returns a − b.
func (g *Graph) Sub(a, b Ref) Ref { return g.run(step{kind: sub, a: a, b: b}) }

// Mul returns a · b.
func (g *Graph) Mul(a, b Ref) Ref { return g.run(step{kind: mul, a: a, b: b}) }

// Div returns a / b.
func (g *Graph) Div(a, b Ref) Ref { return g.run(step{kind: div, a: a, b: b}) }

// Scale returns k · a.
func (g *Graph) Scale(k float64, a Ref) Ref { return g.run(step{kind: scale, a: a, k: k}) }

// Pow returns a to the constant power k, for a > 0.
func (g *Graph) Pow(a Ref, k float64) Ref {
	if k == 2 { // common, and much quicker
		return g.run(step{kind: square, a: a})
	}
	return g.run(step{kind: power, a: a, k: k})
}

// Sqrt returns the square root of a > 0.
func (g *Graph) Sqrt(a Ref) Ref { return g.run(step{kind: root, a: a}) }

// Apply returns f(a).
func (g *Graph) Apply(a Ref, f Unary) Ref { return g.run(step{kind: unary, a: a, f1: f}) }

// Apply2 returns f(a, b).
func (g *Graph) Apply2(a, b Ref, f Binary) Ref {
	return g.run(step{kind: binary, a: a, b: b, f2: f})
}

// Sum returns the sum of one or more scalars.
func (g *Graph) Sum(first Ref, rest ...Ref) Ref {
	for _, r := range rest {
		first = g.Add(first, r)
	}
	return first
}

// Product returns the product of one or more scalars.
func (g *Graph) Product(first Ref, rest ...Ref) Ref {
	for _, r := range rest {
		first = g.Mul(first, r)
	}
	return first
}

func (g *Graph) push(s step, v float64) Ref {
	g.steps = append(g.steps, s)
	g.value = append(g.value, v)
	return Ref(len(g.steps) - 1)
}

func (g *Graph) run(s step) Ref { return g.push(s, s.value(g.value)) }

func (s *step) value(v []float64) float64 {
	switch s.kind {
	case add:
		return v[s.a] + v[s.b]
	case sub:
		return v[s.a] - v[s.b]
	case mul:
		return v[s.a] * v[s.b]
	case div:
		return v[s.a] / v[s.b]
	case scale:
		return s.k * v[s.a]
	case power:
		return math.Pow(v[s.a], s.k)
	case square:
		return v[s.a] * v[s.a]
	case root:
		return math.Sqrt(v[s.a])
	case unary:
		y, _ := s.f1(v[s.a])
		return y
	case binary:
		y, _, _ := s.f2(v[s.a], v[s.b])
		return y
	}
	panic("formula: a given scalar has no step")
}

// Program is the part of a graph that follows from chosen inputs: what has to
// be run again when only those change.
type Program struct {
	graph *Graph
	order []Ref
}

// Following returns the steps that depend on any of the inputs, in order. With
// no inputs it returns every step.
func (g *Graph) Following(inputs ...Ref) *Program {
	p := &Program{graph: g}
	touched := make([]bool, len(g.steps))
	for _, r := range inputs {
		touched[r] = true
	}
	for i := range g.steps {
		s := &g.steps[i]
		if s.kind == given {
			continue
		}
		depends := len(inputs) == 0 || touched[s.a]
		switch s.kind {
		case add, sub, mul, div, binary:
			depends = depends || touched[s.b]
		}
		if depends {
			touched[i] = true
			p.order = append(p.order, Ref(i))
		}
	}
	return p
}

// Forward recomputes the program's scalars in v, indexed by Ref, after inputs
// in v were changed. It allocates nothing.
func (p *Program) Forward(v []float64) {
	steps := p.graph.steps
	for _, r := range p.order {
		v[r] = steps[r].value(v)
	}
}

// Backward carries derivatives from results to inputs: on entry d[r] is the
// derivative of some reading with respect to scalar r taken alone; on return
// the entries of inputs hold the total derivative through every step of the
// program. Entries are complex so that one pass serves the real and imaginary
// part of a complex reading. It allocates nothing.
func (p *Program) Backward(v []float64, d []complex128) {
	steps := p.graph.steps
	for n := len(p.order) - 1; n >= 0; n-- {
		r := p.order[n]
		w := d[r]
		if w == 0 {
			continue
		}
		s := &steps[r]
		switch s.kind {
		case add:
			d[s.a] += w
			d[s.b] += w
		case sub:
			d[s.a] += w
			d[s.b] -= w
		case mul:
			d[s.a] += times(w, v[s.b])
			d[s.b] += times(w, v[s.a])
		case div:
			q := 1 / v[s.b]
			d[s.a] += times(w, q)
			d[s.b] -= times(w, v[r]*q)
		case scale:
			d[s.a] += times(w, s.k)
		case power:
			d[s.a] += times(w, s.k*v[r]/v[s.a])
		case square:
			d[s.a] += times(w, 2*v[s.a])
		case root:
			d[s.a] += times(w, 0.5/v[r])
		case unary:
			_, k := s.f1(v[s.a])
			d[s.a] += times(w, k)
		case binary:
			_, ka, kb := s.f2(v[s.a], v[s.b])
			d[s.a] += times(w, ka)
			d[s.b] += times(w, kb)
		}
	}
}

func times(z complex128, k float64) complex128 {
	return complex(real(z)*k, imag(z)*k)
}
