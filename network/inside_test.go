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
		w, c := point.Omega, d.contour(point)
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
			s := c.area(t)
			if t == 1 {
				return cmplx.Abs(x[1]) / s
			}
			m := closed(complex(0, w*m.Density), complex(0, w/m.Stiffness()), s, to, length*(1-t))
			return cmplx.Abs(m.C/complex(0, w)*x[0]+m.D*x[1]) / s
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
		s := c.area(where)
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

// In a horn of hundreds of waves, whose pieces are kept in groups, the fastest
// air is as fast as anywhere by the closed formula.
func TestFastestInsideALongHorn(t *testing.T) {
	m := air.Reference()
	d, p := horn(Exponential, 60, 0.02, 0.01)
	d.To, d.Flow, d.Entry = 0, 1, 2
	point := &Point{Omega: 2 * math.Pi * 3000, Values: p.values}
	w, c := point.Omega, d.contour(point)
	keep := make([]complex128, d.Keep())
	x := []complex128{1, complex(0.3*0.01/(w*m.Density*m.Speed), 0), 0}
	body := d.body(point, keep)
	keep[0], keep[1], keep[2], keep[3] = body.a, body.b, body.c, body.d
	_, x[2] = body.apply(x[0], x[1])
	speed := func(t float64) float64 {
		s := c.area(t)
		m := acoustic.ExponentialHorn(complex(0, w*m.Density), complex(0, w/m.Stiffness()), s, 0.01, 60*(1-t))
		return cmplx.Abs(m.C/complex(0, w)*x[0]+m.D*x[1]) / s
	}
	most := 0.0
	for i := range 40000 {
		most = math.Max(most, speed(float64(i)/40000))
	}
	where, flow, inside := d.fastest(point, x, keep)
	got := cmplx.Abs(flow) / c.area(where)
	if !inside || got < most*(1-1e-6) || got > most*1.01 || math.Abs(got/speed(where)-1) > 1e-4 {
		t.Errorf("%t: %.9g at %.9g, there %.9g, scanned %.9g", inside, got, where, speed(where), most)
	}
}
