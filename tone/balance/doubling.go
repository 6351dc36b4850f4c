package balance

import "gonum.org/v1/gonum/mat"

// mostDoubling is the largest matrix that is looked at for doubling.
const mostDoubling = 800

// Halved prepares a tone [Hz] with the lines at every half of it, up to a number
// of harmonics and a half.
func (n *Net) Halved(frequency float64, harmonics int) (*Problem, error) {
	lines := []Line{{}}
	for k := 1; k <= 2*harmonics+1; k++ {
		lines = append(lines, Line{Frequency: float64(k) * frequency / 2, First: k, index: k})
	}
	return n.prepare(lines, []int{2})
}

// Doubles says whether a state of one tone would not last: whether what begins
// between its lines, at half the tone and its odd multiples, grows until the
// motion repeats itself every second period only. half is the tone Halved, with
// coils warmed alike.
//
// Of a small change of the state the even lines of half stay among themselves, and
// so do the odd ones. Where the determinant of the balance's derivative on the odd
// ones passes zero a multiplier of the change over one period passes −1; at rest it
// is one, and below zero an odd number of them has passed (Nayfeh & Balachandran,
// Applied Nonlinear Dynamics, 1995, ch. 3).
func (s *State) Doubles(half *Problem) bool {
	n := half.n
	var odd []int
	for l, line := range half.Lines {
		if line.First%2 == 1 {
			odd = append(odd, l)
		}
	}
	size := 2 * n * len(odd)
	if size > mostDoubling {
		return false
	}
	y := make([]complex128, n*len(half.Lines))
	for l := range s.p.Lines {
		if 2*l < len(half.Lines) {
			copy(y[2*l*n:(2*l+1)*n], s.scaled[l*n:(l+1)*n])
		}
	}
	q := half.solver()
	q.m.evaluate(y)
	change := mat.NewDense(size, size, nil)
	w := make([]complex128, len(y))
	for a, l := range odd {
		for j := range n {
			for part, unit := range [2]complex128{1, 1i} {
				clear(w)
				w[l*n+j] = unit
				q.m.differential(w, q.s)
				q.apply(w, q.s)
				for b, m := range odd {
					for i, z := range w[m*n : (m+1)*n] {
						row := 2 * (b*n + i)
						change.Set(row, 2*(a*n+j)+part, real(z))
						change.Set(row+1, 2*(a*n+j)+part, imag(z))
					}
				}
			}
		}
	}
	var lu mat.LU
	lu.Factorize(change)
	_, sign := lu.LogDet()
	return sign < 0
}
