package network

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ocarina/acoustic"
	"ocarina/air"
)

// Between the ends of a lossless cone or exponential horn the air is fastest
// where a dense scan of the closed formulas has it, and nothing is called inside
// that is not faster than both ends.
func TestFastestInsideATaper(t *testing.T) {
	const seed = 5
	m := air.Reference()
	r := rand.New(rand.NewPCG(seed, 0))
	between := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	inside := 0
	for n := range 60 {
		shape := []Taper{Conical, Exponential}[n%2]
		length, from, to := between(0.2, 3), between(5e-4, 0.05), between(5e-4, 0.05)
		d, p := horn(shape, length, from, to)
		d.To, d.Flow, d.Entry = 0, 1, 2
		f := between(20, 1500)
		point := &Point{Omega: 2 * math.Pi * f, Values: p.values}
		w := point.Omega
		keep := make([]complex128, d.Keep())
		x := []complex128{cmplx.Rect(1, 7*r.Float64()), cmplx.Rect(between(0.01, 100)*to/(w*m.Density*m.Speed), 7*r.Float64()), 0}
		body := d.body(point, keep)
		keep[0], keep[1], keep[2], keep[3] = body.a, body.b, body.c, body.d
		_, x[2] = body.apply(x[0], x[1])
		if n%3 == 0 { // a closed end: what flows at To is what the body takes
			d.From = Sealed
			x[1] = -body.c / body.d * x[0]
		}
		closed := acoustic.Cone
		if shape == Exponential {
			closed = acoustic.ExponentialHorn
		}
		speed := func(t float64) float64 {
			s, _, _ := d.profile(point, t)
			if t == 1 {
				return cmplx.Abs(x[1]) / s
			}
			c := closed(complex(0, w*m.Density), complex(0, w/m.Stiffness()), s, to, length*(1-t))
			return cmplx.Abs(c.C/complex(0, w)*x[0]+c.D*x[1]) / s
		}
		const points = 20000
		most, at := 0.0, 0.0
		for i := range points + 1 {
			if v := speed(float64(i) / points); v > most {
				most, at = v, float64(i)/points
			}
		}
		where, flow, found := d.fastest(point, x, keep)
		if !found {
			if at > 1e-4 && at < 1-1e-4 {
				t.Errorf("seed %d, %d: %.6g at %g is not found", seed, n, most, at)
			}
			continue
		}
		inside++
		s, _, _ := d.profile(point, where)
		if got := cmplx.Abs(flow) / s; math.Abs(got/most-1) > 1e-6 || math.Abs(where-at) > 2e-4 {
			t.Errorf("seed %d, %d: %.9g at %.6f, dense scan %.9g at %.6f", seed, n, got, where, most, at)
		}
		if _, other := d.Inside(point, x, where); cmplx.Abs(other/flow-1) > 1e-6 {
			t.Errorf("seed %d, %d: %v, from the end %v", seed, n, flow, other)
		}
	}
	if inside < 20 {
		t.Errorf("only %d of 60 have their fastest air inside", inside)
	}
}
