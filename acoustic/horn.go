package acoustic

import "math"

// Chain joins the two ends of a passive piece of duct: p1 = A·p2 + B·U2,
// U1 = C·p2 + D·U2, both volume velocities from end 1 to end 2. A·D − B·C = 1.
type Chain struct{ A, B, C, D complex128 }

// Cone returns the chain matrix of a conical piece of length l [m] whose area
// goes from s1 to s2 [m²] (equal areas: a straight duct).
//
// z [Pa s/m²] and y [1/(Pa s)] are the immittances of a unit cube of the air,
// jωρ and jω/(ρc²) without loss; with wall loss take Z′·S and Y′/S of the duct
// at the mean radius. ω = 0 is no special case.
//
// Source: the spherical wave p·r = A·e^{−Γx} + B·e^{Γx} with Γ² = z·y; any
// text on horns, for instance N. H. Fletcher & T. D. Rossing, The Physics of
// Musical Instruments, chapter 8.
func Cone(z, y complex128, s1, s2, l float64) Chain {
	c, s, ds := Propagation(z * y * complex(l*l, 0))
	q := math.Sqrt(s2 / s1) // r2/r1
	mean := math.Sqrt(s1 * s2)
	return Chain{
		A: scale(q, c) - scale(q-1, s),
		B: scale(l/mean, z*s),
		C: y * (scale(l*mean, s) + scale(2*l*s1*(q-1)*(q-1), ds)),
		D: scale(1/q, c) + scale(1-1/q, s),
	}
}

// ExponentialHorn is [Cone] for a piece whose area grows as e^{2hx},
// h = ln(s2/s1)/(2l). Below its cut-off |Γ| = h the wave is evanescent; the
// formula passes through it without a special case.
//
// Source: A. G. Webster, Proc. Nat. Acad. Sci. 5 (1919) 275-282.
func ExponentialHorn(z, y complex128, s1, s2, l float64) Chain {
	g := math.Log(s2/s1) / 2 // h·l
	c, s, _ := Propagation(z*y*complex(l*l, 0) + complex(g*g, 0))
	q := math.Sqrt(s2 / s1)
	mean := math.Sqrt(s1 * s2)
	return Chain{
		A: scale(q, c-scale(g, s)),
		B: scale(l/mean, z*s),
		C: scale(l*mean, y*s),
		D: scale(1/q, c+scale(g, s)),
	}
}
