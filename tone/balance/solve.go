package balance

import (
	"errors"
	"math"
)

// tolerance is how far the balance may be off, as part of the largest signal of
// each kind at drive 1 times the drive.
const tolerance = 1e-9

const (
	newtonSteps  = 40
	krylovSteps  = 60
	smallestStep = 1.0 / 128
)

// ErrNotFound says that Newton's method did not settle.
var ErrNotFound = errors.New("no steady state was found")

// State is a steady state.
type State struct {
	Drive  float64
	Steps  int       // of Newton's method
	Added  []float64 // resistance of each coil by its warming, ohm
	Misfit float64   // how far the balance is off, as tolerance counts
	Leap   bool      // it does not go on from the state before it: the cone jumps
	// Tipped says that a cone's middle is not held at rest by this drive, and that
	// this is a state to one side. In a symmetric driver there is its mirror image
	// too.
	Tipped bool

	p       *Problem
	scaled  []complex128 // signals
	sources []complex128
}

// solver is the memory of one solve.
type solver struct {
	p        *Problem
	m        *moving
	r, trial []complex128 // residual
	z, step  []complex128
	s        []complex128
	g        []complex128
	lu       []complex128 // of each line's preconditioner, n×n
	made     bool         // there is one
	moved    bool         // the state is no longer the one it was made at
	basis    [][]complex128
	h        []float64
	givens   [][2]float64
	rhs      []float64
}

func (p *Problem) solver() *solver {
	size := p.n * len(p.Lines)
	v := func() []complex128 { return make([]complex128, size) }
	return &solver{p: p, m: &p.moving, r: v(), trial: v(), z: v(), step: v(), s: v(), g: make([]complex128, p.n*p.n),
		lu: make([]complex128, p.n*p.n*len(p.Lines)), h: make([]float64, (krylovSteps+1)*(krylovSteps+1)),
		givens: make([][2]float64, krylovSteps), rhs: make([]float64, krylovSteps+1)}
}

// apply subtracts H·s from y, in place.
func (q *solver) apply(y, s []complex128) {
	n := q.p.n
	for l, h := range q.p.h {
		a := s[l*n : (l+1)*n]
		out := y[l*n : (l+1)*n]
		for i := range out {
			row := h[i*n : (i+1)*n]
			var sum complex128
			for j, v := range a {
				sum += row[j] * v
			}
			out[i] -= sum
		}
		if l == 0 { // the offset is real
			for i := range out {
				out[i] = complex(real(out[i]), 0)
			}
		}
	}
}

// residual writes y − drive·y₁ − H·s(y) to r and returns its norm over the
// drive.
func (q *solver) residual(drive float64, y, r []complex128) float64 {
	q.m.evaluate(y)
	copy(r, y)
	q.apply(r, q.m.s)
	k := complex(drive, 0)
	sum := 0.0
	for i, v := range q.p.alone {
		r[i] -= k * v
		sum += real(r[i])*real(r[i]) + imag(r[i])*imag(r[i])
	}
	return math.Sqrt(sum) / drive
}

// precondition factors I − H·mean(∂s/∂y) at each line.
func (q *solver) precondition() {
	q.made, q.moved = true, false
	n := q.p.n
	for l, h := range q.p.h {
		q.m.averaged(l, q.g)
		a := q.lu[l*n*n : (l+1)*n*n]
		clear(a)
		// Of the derivatives all but a few are zero: a rim hangs on its own air
		// alone, a cone on its travel and current.
		for k := range n {
			for j, g := range q.g[k*n : (k+1)*n] {
				if g == 0 {
					continue
				}
				for i := range n {
					a[i*n+j] -= h[i*n+k] * g
				}
			}
		}
		for i := range n {
			a[i*n+i]++
		}
		if l == 0 { // the offset is real
			for i, v := range a {
				a[i] = complex(real(v), 0)
			}
		}
		factor(a, n)
	}
}

// factor is Gauss elimination in place without row exchanges, inverse pivots on
// the diagonal: the matrix is the identity and a part that is small as long as
// the state's parts are. A vanishing pivot is replaced, which costs the
// preconditioner its quality and no more.
func factor(a []complex128, n int) {
	for k := range n {
		d := a[k*n+k]
		m := real(d)*real(d) + imag(d)*imag(d)
		if !(m > 1e-24) || math.IsInf(m, 0) {
			d, m = 1, 1
		}
		inv := complex(real(d)/m, -imag(d)/m)
		a[k*n+k] = inv
		for i := k + 1; i < n; i++ {
			f := a[i*n+k] * inv
			a[i*n+k] = f
			if f == 0 {
				continue
			}
			for j := k + 1; j < n; j++ {
				a[i*n+j] -= f * a[k*n+j]
			}
		}
	}
}

// relax applies the preconditioner in place.
func (q *solver) relax(y []complex128) {
	n := q.p.n
	for l := range q.p.Lines {
		a, x := q.lu[l*n*n:(l+1)*n*n], y[l*n:(l+1)*n]
		for i := 1; i < n; i++ {
			sum := x[i]
			for j := range i {
				sum -= a[i*n+j] * x[j]
			}
			x[i] = sum
		}
		for i := n - 1; i >= 0; i-- {
			sum := x[i]
			for j := i + 1; j < n; j++ {
				sum -= a[i*n+j] * x[j]
			}
			x[i] = sum * a[i*n+i]
		}
	}
}

func dot(a, b []complex128) float64 {
	s := 0.0
	for i, x := range a {
		s += real(x)*real(b[i]) + imag(x)*imag(b[i])
	}
	return s
}

// vector returns the kth vector of the basis.
func (q *solver) vector(k int) []complex128 {
	if k == len(q.basis) {
		q.basis = append(q.basis, make([]complex128, len(q.r)))
	}
	return q.basis[k]
}

// A preconditioner of more than cheap signals costs more than the steps it saves
// near the state it was made at: it is kept until a solve takes more than patience
// steps.
const (
	cheap    = 24
	patience = 12
)

// newton writes the step −J⁻¹·r to q.step, to a part of r.
func (q *solver) newton(r []complex128, part float64) {
	if q.moved && (q.p.n <= cheap || !q.made) {
		q.precondition()
	}
	if q.krylov(r, part) > patience && q.moved {
		q.precondition()
		q.krylov(r, part)
	}
}

// krylov is newton by GMRES with the preconditioner there is; it returns how many
// steps it took.
func (q *solver) krylov(r []complex128, part float64) (k int) {
	v := q.vector(0)
	for i := range r {
		v[i] = -r[i]
	}
	q.relax(v)
	norm := math.Sqrt(dot(v, v))
	clear(q.step)
	if norm == 0 {
		return 0
	}
	shrink(v, norm)
	q.rhs[0] = norm
	const width = krylovSteps + 1
	for ; k < krylovSteps; k++ {
		w := q.vector(k + 1)
		copy(w, q.vector(k))
		q.m.differential(w, q.s)
		q.apply(w, q.s)
		q.relax(w)
		h := q.h[k*width : (k+1)*width]
		for i := 0; i <= k; i++ {
			b := q.basis[i]
			h[i] = dot(w, b)
			c := complex(h[i], 0)
			for j := range w {
				w[j] -= c * b[j]
			}
		}
		length := math.Sqrt(dot(w, w))
		for i := range k {
			c, s := q.givens[i][0], q.givens[i][1]
			h[i], h[i+1] = c*h[i]+s*h[i+1], -s*h[i]+c*h[i+1]
		}
		m := math.Hypot(h[k], length)
		if m == 0 {
			break
		}
		c, s := h[k]/m, length/m
		q.givens[k] = [2]float64{c, s}
		h[k] = m
		q.rhs[k+1] = -s * q.rhs[k]
		q.rhs[k] *= c
		if math.Abs(q.rhs[k+1]) <= part*norm || length <= 1e-300 {
			k++
			break
		}
		shrink(w, length)
	}
	for i := k - 1; i >= 0; i-- {
		sum := q.rhs[i]
		for j := i + 1; j < k; j++ {
			sum -= q.h[j*width+i] * q.rhs[j]
		}
		q.rhs[i] = sum / q.h[i*width+i]
	}
	for i := range k {
		c := complex(q.rhs[i], 0)
		for j, b := range q.basis[i] {
			q.step[j] += c * b
		}
	}
	return k
}

func shrink(v []complex128, norm float64) {
	c := complex(1/norm, 0)
	for i := range v {
		v[i] *= c
	}
}

// solve improves y until it balances at the drive.
func (q *solver) solve(drive float64, y []complex128) (steps int, misfit float64, err error) {
	misfit = q.residual(drive, y, q.r)
	for steps = 0; steps < newtonSteps; steps++ {
		if misfit <= tolerance {
			return steps, misfit, nil
		}
		if math.IsNaN(misfit) || math.IsInf(misfit, 0) {
			return steps, misfit, ErrNotFound
		}
		q.moved = true
		q.newton(q.r, math.Max(1e-6, math.Min(0.03, 0.3*misfit)))
		for t := 1.0; ; t /= 2 {
			if t < smallestStep {
				return steps, misfit, ErrNotFound
			}
			c := complex(t, 0)
			for i := range y {
				q.z[i] = y[i] + c*q.step[i]
			}
			if now := q.residual(drive, q.z, q.trial); now < (1-t/10)*misfit {
				misfit = now
				copy(y, q.z)
				q.r, q.trial = q.trial, q.r
				break
			} else if t == 1 && misfit < 1e-7 && now < 2*misfit { // rounding
				return steps, misfit, nil
			}
		}
	}
	return steps, misfit, ErrNotFound
}

// Follower goes up in drive, each state from the ones before.
type Follower struct {
	p          *Problem
	q          *solver
	last, past *State
}

// Follow starts from rest.
func (p *Problem) Follow() *Follower { return &Follower{p: p, q: p.solver()} }

// Last returns the last state found, or nil.
func (f *Follower) Last() *State { return f.last }

// refinements is how often a step in drive is halved before it is given up.
const refinements = 7

// To finds the state at a drive, one in which every cone's middle is held, where
// it can. Where it finds none, Last is the highest below it that was found.
func (f *Follower) To(drive float64) (*State, error) {
	tipped := f.last != nil && f.last.Tipped
	s, err := f.find(drive)
	if err != nil {
		return nil, err
	}
	s.Tipped = tipped
	for c := range f.p.net.Cones {
		if f.Softness(c) < 0 {
			f.tip(c)
		}
	}
	return f.last, nil
}

// aside are the offsets, in peaks of the fundamental, from which a tipped state
// is looked for.
var aside = [...]float64{0.3, -0.3, 1, -1}

// tip puts a state to one side in the place of the last one, whose middle is not
// held; it leaves it where it finds none.
func (f *Follower) tip(cone int) {
	n := f.p.n
	s, past := f.last, f.past
	for _, part := range aside {
		y := append([]complex128(nil), s.scaled...)
		y[2*cone] += complex(part*abs(s.scaled[n+2*cone]), 0)
		found, err := f.try(s.Drive, y)
		if err != nil {
			continue
		}
		found.Leap, found.Tipped = s.Leap, true
		f.past, f.last = nil, found
		if f.Softness(cone) > 0 {
			return
		}
	}
	f.past, f.last = past, s
}

func (f *Follower) find(drive float64) (*State, error) {
	if s, err := f.try(drive, f.guess(drive)); err == nil {
		return f.take(s), nil
	}
	if f.last == nil || f.last.Drive > drive {
		if err := f.rise(drive); err != nil {
			return nil, err
		}
	}
	if s, err := f.climb(f.last.Drive, drive, refinements); err == nil {
		return s, nil
	}
	s, err := f.around(drive)
	if err != nil {
		return nil, ErrNotFound
	}
	s.Leap = true
	f.past, f.last = nil, s
	return s, nil
}

// softest is how many times a drive is halved to find one that is nearly linear.
const softest = 60

// rise comes to within twice a drive from where the network is nearly linear,
// doubling the drive.
func (f *Follower) rise(drive float64) error {
	f.past, f.last = nil, nil
	soft := drive
	for range softest {
		soft /= 2
		if s, err := f.try(soft, f.guess(soft)); err == nil {
			f.take(s)
			break
		}
	}
	if f.last == nil {
		return ErrNotFound
	}
	for soft *= 2; soft < drive*(1-1e-9); soft *= 2 {
		if _, err := f.find(soft); err != nil {
			return err
		}
	}
	return nil
}

// climb takes half the way first.
func (f *Follower) climb(from, to float64, left int) (*State, error) {
	if left == 0 {
		return nil, ErrNotFound
	}
	half := (from + to) / 2
	s, err := f.try(half, f.guess(half))
	if err != nil {
		if s, err = f.climb(from, half, left-1); err != nil {
			return nil, err
		}
	}
	f.take(s)
	if s, err = f.try(to, f.guess(to)); err == nil {
		return f.take(s), nil
	}
	return f.climb(half, to, left-1)
}

func (f *Follower) take(s *State) *State {
	if f.last != s {
		f.past, f.last = f.last, s
	}
	return s
}

func (f *Follower) guess(drive float64) []complex128 {
	y := make([]complex128, len(f.p.alone))
	switch {
	case f.last == nil || f.last.Drive > drive:
		for i, v := range f.p.alone {
			y[i] = v * complex(drive, 0)
		}
	case f.past == nil || f.past.Drive >= f.last.Drive:
		for i, v := range f.p.alone {
			y[i] = f.last.scaled[i] + v*complex(drive-f.last.Drive, 0)
		}
	default:
		k := complex((drive-f.last.Drive)/(f.last.Drive-f.past.Drive), 0)
		for i, v := range f.last.scaled {
			y[i] = v + k*(v-f.past.scaled[i])
		}
	}
	return y
}

func (f *Follower) try(drive float64, y []complex128) (*State, error) {
	steps, misfit, err := f.q.solve(drive, y)
	if err != nil {
		return nil, err
	}
	s := &State{Drive: drive, Steps: steps, Misfit: misfit, p: f.p, scaled: y, sources: append([]complex128(nil), f.p.moving.s...)}
	for i := range f.p.moving.warm {
		s.Added = append(s.Added, f.p.moving.warm[i].added)
	}
	return s, nil
}

// Resume makes a follower of this problem go on from a state of another with
// the same tones and other lines.
func (f *Follower) Resume(s *State) error {
	y := make([]complex128, len(f.p.alone))
	n := f.p.n
	at := map[[2]int]int{}
	for l, line := range s.p.Lines {
		at[[2]int{line.First, line.Second}] = l
	}
	for l, line := range f.p.Lines {
		if from, ok := at[[2]int{line.First, line.Second}]; ok {
			copy(y[l*n:(l+1)*n], s.scaled[from*n:(from+1)*n])
			for j := range n {
				y[l*n+j] *= complex(s.p.scale[j]/f.p.scale[j], 0)
			}
		}
	}
	found, err := f.try(s.Drive, y)
	if err != nil {
		return err
	}
	found.Leap, found.Tipped = s.Leap, s.Tipped
	f.past, f.last = nil, found
	return nil
}

// Softness returns how much farther a small steady force moves a cone's middle
// while it is driven than while it is at rest, at the last state found. Below
// zero the middle is not held: the least push sends the cone to one side, to
// another state.
func (f *Follower) Softness(cone int) float64 {
	p, q, s := f.p, f.q, f.last
	n := p.n
	q.m.evaluate(s.scaled)
	q.moved = true
	clear(q.trial)
	at := 2 * cone
	for j := range n {
		q.trial[j] = -complex(real(p.h[0][j*n+at]), 0)
	}
	q.newton(q.trial, 1e-6)
	return real(q.step[at]) / real(p.h[0][at*n+at])
}
