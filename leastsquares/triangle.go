package leastsquares

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// triangle is the upper triangle of a QR factorisation that takes in rows a
// block at a time, with the right-hand side as its last column: what is kept is
// [R | Qᵀb], n rows of n+1 numbers.
type triangle struct {
	n int
	a []float64
}

func newTriangle(n int) triangle { return triangle{n, make([]float64, n*(n+1))} }

func (t triangle) clear() { clear(t.a) }

func (t triangle) at(i, j int) float64 { return t.a[i*(t.n+1)+j] }

// column is the length of column j, which is that of the whole matrix.
func (t triangle) column(j int) float64 {
	var sum float64
	for i := 0; i <= j; i++ {
		v := t.at(i, j)
		sum += v * v
	}
	return math.Sqrt(sum)
}

// fold takes in rows by one Householder reflection for each column. The block
// lies column by column, each rows long, the right-hand side last; it is used up.
func (t triangle) fold(block []float64, rows int) {
	c := t.n + 1
	for k := range t.n {
		v := block[k*rows : (k+1)*rows]
		below := floats.Dot(v, v)
		if below == 0 {
			continue
		}
		head := t.a[k*c+k]
		length := -math.Copysign(math.Sqrt(head*head+below), head)
		v0 := head - length
		t.a[k*c+k] = length
		scale := 1 / (length * v0) // −2/|v|²
		for j := k + 1; j < c; j++ {
			b := block[j*rows : (j+1)*rows]
			w := scale * (v0*t.a[k*c+j] + floats.Dot(v, b))
			t.a[k*c+j] += w * v0
			floats.AddScaled(b, w, v)
		}
	}
}

// solve writes the x that minimises |Rx + Qᵀb| and says whether the columns
// are independent within rounding; if not, x is not to be used.
func (t triangle) solve(x []float64) bool {
	c := t.n + 1
	for i := t.n - 1; i >= 0; i-- {
		d := t.a[i*c+i]
		if !(math.Abs(d) > 1e-13*t.column(i)) {
			return false
		}
		s := -t.a[i*c+t.n]
		for j := i + 1; j < t.n; j++ {
			s -= t.a[i*c+j] * x[j]
		}
		x[i] = s / d
	}
	return true
}

// subtract takes the symmetric matrix S, given by its lower half, from the
// curvature RᵀR and keeps the gradient RᵀQᵀb: with RᵀR − S = Rᵀ(I − G)R and the
// Cholesky factor L of I − G, the new R is LᵀR and the new Qᵀb is L⁻¹Qᵀb. Where
// what is left is not clearly positive it leaves everything as it was and returns
// false. g is scratch of n² numbers.
func (t triangle) subtract(s, g []float64) bool {
	n, c := t.n, t.n+1
	for k := range n {
		if !(math.Abs(t.at(k, k)) > 1e-10*t.column(k)) {
			return false
		}
	}
	// G = R⁻ᵀSR⁻¹ row by row, lower half: first R⁻ᵀS, then from the right.
	for i := range n {
		for j := range n {
			v := s[max(i, j)*n+min(i, j)]
			for k := range i {
				v -= t.at(k, i) * g[k*n+j]
			}
			g[i*n+j] = v / t.at(i, i)
		}
	}
	for i := range n {
		for j := range n {
			v := g[i*n+j]
			for k := range j {
				v -= g[i*n+k] * t.at(k, j)
			}
			g[i*n+j] = v / t.at(j, j)
		}
	}
	for i := range n {
		for j := range i + 1 {
			v := -g[i*n+j]
			if i == j {
				v++
			}
			for k := range j {
				v -= g[i*n+k] * g[j*n+k]
			}
			if i > j {
				g[i*n+j] = v / g[j*n+j]
				continue
			}
			if !(v > 0.01) {
				return false
			}
			g[i*n+i] = math.Sqrt(v)
		}
	}
	for i := range n {
		v := t.a[i*c+n]
		for k := range i {
			v -= g[i*n+k] * t.a[k*c+n]
		}
		t.a[i*c+n] = v / g[i*n+i]
	}
	for i := range n {
		for j := n - 1; j >= i; j-- {
			var v float64
			for k := i; k <= j; k++ {
				v += g[k*n+i] * t.a[k*c+j]
			}
			t.a[i*c+j] = v
		}
	}
	return true
}
