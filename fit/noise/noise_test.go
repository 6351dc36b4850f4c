package noise

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestDeviation(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	r := make([]float64, 20000)
	for i := range r {
		r[i] = 0.3 * rng.NormFloat64()
		if i%50 == 0 {
			r[i] = 9
		}
	}
	if d := Deviation(r); math.Abs(d/0.3-1) > 0.05 {
		t.Errorf("deviation %.4f, want 0.3 whatever one point in fifty does", d)
	}
	if d := Deviation(nil); d != 0 {
		t.Errorf("deviation of nothing is %g", d)
	}
}

// The spread of means over long stretches of a first-order process, directly.
func TestTogether(t *testing.T) {
	for _, rho := range []float64{0, 0.5, 0.8} {
		rng := rand.New(rand.NewPCG(2, 2))
		const stretch, count = 400, 500
		var means float64
		r := make([]float64, 0, stretch*count)
		x := 0.0
		for range count {
			mean := 0.0
			for range stretch {
				x = rho*x + math.Sqrt(1-rho*rho)*rng.NormFloat64()
				r = append(r, x)
				mean += x / stretch
			}
			means += mean * mean / count
		}
		want := math.Sqrt(means * stretch)
		if got := Together(r, 1); math.Abs(got/want-1) > 0.1 {
			t.Errorf("correlation %.1f: means spread %.2f times wider, told %.2f", rho, want, got)
		}
	}
}
