package large

import (
	"math"
	"math/rand/v2"
	"testing"
)

func curve(t *testing.T, c Curve, err error) Curve {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestPublishedXmax holds the default curves to what xmax means (IEC 62458):
// on the worse side 82 % of Bl and 75 % of Cms are left there.
func TestPublishedXmax(t *testing.T) {
	const xmax = 4e-3
	for _, off := range []float64{0, 0.3e-3, -1e-3, xmax} {
		c, err := ForceFactor(xmax, off)
		c = curve(t, c, err)
		rest, slope := c.At(0)
		out, _ := c.At(xmax)
		in, _ := c.At(-xmax)
		if math.Abs(rest-1) > 1e-12 || math.Abs(math.Min(out, in)-0.82) > 1e-12 {
			t.Errorf("offset %g: %g at rest, %g and %g at xmax", off, rest, in, out)
		}
		if off != 0 && math.Signbit(slope) != math.Signbit(off) {
			t.Errorf("offset %g: slope %g at rest", off, slope)
		}
	}
	for _, asymmetry := range []float64{0, 0.1, -0.2, 0.3} {
		c, err := Stiffness(xmax, asymmetry)
		c = curve(t, c, err)
		rest, _ := c.At(0)
		out, _ := c.At(xmax)
		in, _ := c.At(-xmax)
		if rest != 1 || math.Abs(1/math.Max(out, in)-0.75) > 1e-12 {
			t.Errorf("asymmetry %g: %g at rest, %g and %g at xmax", asymmetry, rest, in, out)
		}
		if got := (out - in) / (out + in); math.Abs(got-asymmetry) > 1e-12 {
			t.Errorf("asymmetry %g, want %g", got, asymmetry)
		}
	}
}

func curves(t *testing.T) map[string]Curve {
	bell, err := ForceFactor(5e-3, 1e-3)
	bell = curve(t, bell, err)
	bowl, err := Stiffness(5e-3, -0.25)
	bowl = curve(t, bowl, err)
	poly, err := Polynomial([]float64{0.1, -0.2, 0.02, 0.01}, 5e-3)
	poly = curve(t, poly, err)
	table, _, err := Table([]float64{-6e-3, -3e-3, -1e-3, 0.5e-3, 2e-3, 5e-3}, []float64{3, 5.5, 6.8, 7, 6.5, 4})
	table = curve(t, table, err)
	return map[string]Curve{"bell": bell, "bowl": bowl, "polynomial": poly, "table": table, "held": table.Held(), "flat": {}}
}

func TestCurvesArePositiveAndSmooth(t *testing.T) {
	for name, c := range curves(t) {
		if v, _ := c.At(0); math.Abs(v-1) > 1e-12 {
			t.Errorf("%s: %g at rest", name, v)
		}
		for x := -40e-3; x <= 40e-3; x += 0.113e-3 {
			const h = 1e-8
			a, sa := c.At(x - h)
			b, sb := c.At(x + h)
			v, s := c.At(x)
			if !(v > 0) {
				t.Errorf("%s: %g at %g", name, v, x)
			}
			if d := (b - a) / (2 * h); math.Abs(d-s) > 1e-5*(1+math.Abs(s)) && name != "held" {
				t.Errorf("%s at %g: slope %g, by difference %g", name, x, s, d)
			}
			if math.Abs(sb-sa) > 1e-2*(1+math.Abs(s)) && name != "held" {
				t.Errorf("%s at %g: its slope jumps from %g to %g", name, x, sa, sb)
			}
		}
	}
}

func TestTableGoesThroughItsPoints(t *testing.T) {
	// A kink that a smooth spline would swing about.
	at, values := []float64{-6e-3, -3e-3, -1e-3, 0, 1e-3, 5e-3}, []float64{3, 3.1, 6.9, 7, 6.9, 2}
	c, rest, err := Table(at, values)
	if err != nil || math.Abs(rest-7) > 1e-12 {
		t.Fatal(rest, err)
	}
	for i, x := range at {
		if v, _ := c.At(x); math.Abs(v*rest-values[i]) > 1e-12 {
			t.Errorf("%g at %g, want %g", v*rest, x, values[i])
		}
	}
	for i := 1; i < len(at); i++ { // and is monotone between them
		last, _ := c.At(at[i-1])
		for k := 1; k <= 50; k++ {
			v, _ := c.At(at[i-1] + (at[i]-at[i-1])*float64(k)/50)
			if (v-last)*(values[i]-values[i-1]) < 0 {
				t.Errorf("turns back between %g and %g", at[i-1], at[i])
			}
			last = v
		}
	}
}

// TestTableFindsCurvature: a table of a smooth curve gives back its second
// derivative, which harmonics are made of.
func TestTableFindsCurvature(t *testing.T) {
	law := func(x float64) float64 { return 1 / (1 + 0.014*(x*1e3)*(x*1e3)) }
	var at, values []float64
	for x := -8e-3; x < 8.1e-3; x += 0.8e-3 {
		at, values = append(at, x), append(values, 5*law(x))
	}
	c, _, err := Table(at, values)
	if err != nil {
		t.Fatal(err)
	}
	for x := -6e-3; x <= 6e-3; x += 0.31e-3 {
		const h = 1e-5
		want := (law(x+h) - 2*law(x) + law(x-h)) / (h * h)
		if got := c.bend(x); math.Abs(got-want) > 300 {
			t.Errorf("%g: curvature %.0f, want %.0f", x, got, want)
		}
	}
}

// TestFieldHasAnEnergy holds flux and force of the coil's field to their common
// coenergy: ∂force/∂i = ∂flux/∂x, and the force is ∂/∂x∫flux di.
func TestFieldHasAnEnergy(t *testing.T) {
	of, _, err := Table([]float64{-8, -3, 0, 4, 9}, []float64{0.6, 0.85, 0.9, 0.8, 0.55})
	if err != nil {
		t.Fatal(err)
	}
	of = of.Held()
	rng := rand.New(rand.NewPCG(7, 7))
	for name, c := range curves(t) {
		for _, current := range []*Curve{nil, &of} {
			d := Driver{Inductance: c, OfCurrent: current}
			for range 40 {
				x, i := (rng.Float64()-0.5)*16e-3, (rng.Float64()-0.5)*24
				_, perX, perI := d.Flux(x, i)
				pull, _, pullI := d.Pull(x, i)
				if math.Abs(pullI-perX) > 1e-9*(1+math.Abs(perX)) {
					t.Errorf("%s at %g, %g: ∂force/∂i %g, ∂flux/∂x %g", name, x, i, pullI, perX)
				}
				// Coenergy by Simpson's rule, differentiated.
				energy := func(x float64) float64 {
					const n = 4000
					sum := 0.0
					for k := 0; k <= n; k++ {
						w := 2.0
						switch {
						case k == 0 || k == n:
							w = 1
						case k%2 == 1:
							w = 4
						}
						f, _, _ := d.Flux(x, i*float64(k)/n)
						sum += w * f
					}
					return sum * i / n / 3
				}
				const h = 1e-6
				if want := (energy(x+h) - energy(x-h)) / (2 * h); name != "held" && math.Abs(pull-want) > 1e-3*(1+math.Abs(want)) {
					t.Errorf("%s at %g, %g: force %g, from the energy %g", name, x, i, pull, want)
				}
				f1, _, _ := d.Flux(x, i+1e-6)
				f0, _, _ := d.Flux(x, i-1e-6)
				if want := (f1 - f0) / 2e-6; math.Abs(perI-want) > 1e-5 {
					t.Errorf("%s at %g, %g: ∂flux/∂i %g, by difference %g", name, x, i, perI, want)
				}
			}
		}
	}
}

func TestSpringStrikes(t *testing.T) {
	d := Driver{Stop: 8e-3}
	for _, c := range []struct{ x, force float64 }{
		{7.9e-3, 7.9e-3}, {-8e-3, -8e-3},
		// A tenth beyond: 2000·0.1³/3·Stop more.
		{8.8e-3, 8.8e-3 + 2.0/3*8e-3}, {-8.8e-3, -8.8e-3 - 2.0/3*8e-3},
	} {
		if f, _ := d.Spring(c.x); math.Abs(f-c.force) > 1e-12 {
			t.Errorf("%g m: %g, want %g", c.x, f, c.force)
		}
	}
	if _, k := d.Spring(8.8e-3); math.Abs(k-21) > 1e-9 {
		t.Errorf("stiffness a tenth past the stop: %g, want 21", k)
	}
}

func TestWarming(t *testing.T) {
	z := Rated(100)
	for _, c := range []struct{ seconds, want float64 }{
		{0, 0},
		{12, 0.9*(1-1/math.E) + 0.6*(1-math.Exp(-0.01))},
		{1e6, 1.5},
	} {
		if got := z.Rise(c.seconds); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("after %g s: %g K/W, want %g", c.seconds, got, c.want)
		}
	}
	if (Thermal{}).Rise(60) != 0 || Rated(0).Rise(60) != 0 {
		t.Error("a driver of unknown power warms up")
	}
}

func TestBadCurves(t *testing.T) {
	for name, err := range map[string]error{
		"offset beyond xmax":   second(ForceFactor(1e-3, 2e-3)),
		"no xmax":              second(ForceFactor(0, 0)),
		"asymmetry":            second(Stiffness(1e-3, 0.5)),
		"falls to nothing":     second(Polynomial([]float64{0, -0.6}, 1e-3)),
		"polynomial, no xmax":  second(Polynomial([]float64{0.1}, 0)),
		"table of one":         third(Table([]float64{0}, []float64{1})),
		"table that descends":  third(Table([]float64{-1, 1, 0.5}, []float64{1, 1, 1})),
		"table with a zero":    third(Table([]float64{-1, 0, 1}, []float64{1, 0, 1})),
		"table of one side":    third(Table([]float64{1, 2}, []float64{1, 1})),
		"table without number": third(Table([]float64{-1, 1}, []float64{math.NaN(), 1})),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func second(_ Curve, err error) error           { return err }
func third(_ Curve, _ float64, err error) error { return err }
