package acoustic

import (
	"math"
	"math/rand/v2"
	"testing"
)

// bigPiston returns r and dr of PistonResistance(y), with J1 by its series.
func bigPiston(y float64) (r, dr float64) {
	prec := uint(200 + 8*y)
	Y := bigFrom(prec, complex(y, 0))
	sum, weighted := bigSeries(Y.mul(Y).scale(-1), bigFrom(prec, 1), func(k float64) float64 { return k * (k + 1) })
	return real(bigFrom(prec, 1).add(sum.scale(-1)).complex128()), -real(weighted.scale(2).div(Y).complex128())
}

// bigStruve returns X and dX of PistonReactance(x), with H1 by its series,
// Abramowitz & Stegun 12.1.5.
func bigStruve(x float64) (X, dX float64) {
	prec := uint(200 + 4*x)
	w := bigFrom(prec, complex(x, 0))
	w = w.mul(w).scale(-1)
	// X = 2·H1/x ∝ x^{2k+1}
	sum, weighted := bigSeries(w, bigFrom(prec, complex(x, 0)).over(3),
		func(k float64) float64 { return (2*k + 1) * (2*k + 3) })
	X = real(sum.complex128()) * 4 / math.Pi
	return X, real(weighted.scale(2).add(sum).over(x).complex128()) * 4 / math.Pi
}

func pistonArguments() []float64 {
	at := []float64{1e-8, 1e-3, 0.1, 0.5, math.Nextafter(1, 0), 1, math.Nextafter(1, 2), 2, 3.8317, 29.999, 30, 30.001, 60}
	random := rand.New(rand.NewPCG(7, 8))
	for range 150 {
		at = append(at, math.Exp(-5+9*random.Float64()))
	}
	return at
}

func TestPistonAgainstWideArithmetic(t *testing.T) {
	var worst, worstX float64
	for _, y := range pistonArguments() {
		r, dr := PistonResistance(y)
		wr, wdr := bigPiston(y)
		e := math.Abs(r/wr - 1)
		// the slope has zeros: against its envelope, min(y, 1/y^1.5)
		es := math.Abs(dr-wdr) / min(y, 1/(y*math.Sqrt(y)))
		worst = max(worst, e, es)
		margin := 1.0
		if y <= 1 { // the short series cancel nothing
			margin = 1e-2
		}
		if !(e < 1e-13*margin && es < 2e-13*margin) {
			t.Errorf("PistonResistance(%g): errors %.1e, slope %.1e", y, e, es)
		}
		D, dD := Directivity(2 * y)
		if !(math.Abs(D-(1-wr)) < 3e-15 && math.Abs(dD+wdr/2) < 3e-15*(1+y)) {
			t.Errorf("Directivity(%g) = %v, %v; want %v, %v", 2*y, D, dD, 1-wr, -wdr/2)
		}
		X, dX := PistonReactance(y)
		wX, wdX := bigStruve(y)
		e = math.Abs(X/wX - 1)
		es = math.Abs(dX-wdX) / min(1, 1/(y*math.Sqrt(y)))
		worstX = max(worstX, e, es)
		if !(e < 1e-13*margin && es < 1e-13*margin) {
			t.Errorf("PistonReactance(%g): errors %.1e, slope %.1e", y, e, es)
		}
	}
	t.Logf("largest relative error: resistance %.1e, reactance %.1e", worst, worstX)
}

func TestPistonSlopes(t *testing.T) {
	functions := map[string]func(float64) (float64, float64){
		"PistonResistance": PistonResistance,
		"PistonReactance":  PistonReactance,
		"Directivity":      Directivity,
	}
	for name, f := range functions {
		for _, y := range []float64{0.1, 0.6, 0.99, 1.3, 2.5, 7, 28, 40, 300} {
			h := 1e-4 * min(y, 1)
			up, _ := f(y + h)
			down, _ := f(y - h)
			_, d := f(y)
			if want := (up - down) / (2 * h); math.Abs(d-want) > 1e-6*math.Abs(want)+1e-8 {
				t.Errorf("%s(%g): slope %.9g, differences %.9g", name, y, d, want)
			}
		}
	}
}

func TestPistonLimits(t *testing.T) {
	const y = 1e-4
	r, _ := PistonResistance(y)
	near(t, "r/(y²/2)", r/(y*y/2), 1, 2e-9)
	X, _ := PistonReactance(y)
	near(t, "X/(4x/3π)", X/(4*y/(3*math.Pi)), 1, 2e-9)
	// the mass of §302: ρa·8/(3π) per area, x = 2ka
	near(t, "X/(ka)", X/(y/2), PistonEnd, 2e-9)
	for _, huge := range []float64{1e5, 1e17, math.MaxFloat64, math.Inf(1)} {
		r, dr := PistonResistance(huge)
		X, dX := PistonReactance(huge)
		D, dD := Directivity(huge)
		for _, v := range []float64{r - 1, dr, X, dX, D, dD} {
			if !(math.Abs(v) < 1e-4) {
				t.Errorf("at %g: r %g %g, X %g %g, D %g %g", huge, r, dr, X, dX, D, dD)
				break
			}
		}
	}
	if D, dD := Directivity(0); D != 1 || dD != 0 {
		t.Errorf("Directivity(0) = %v, %v", D, dD)
	}
}
