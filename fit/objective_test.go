package fit

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ocarina/design"
	"ocarina/response"
)

// Exact derivatives of every residual by every parameter against differences.
func TestDerivatives(t *testing.T) {
	for _, entry := range []string{"dunlin", "plover", "knot", "curlew", "godwit", "avocet", "redshank"} {
		d := demo(t, entry)
		f, err := start(d, measure(t, build(t, d), 20, 800, 40, 0, rand.New(rand.NewPCG(1, 1))), Options{})
		if err != nil {
			t.Fatal(err)
		}
		o := f.objective(readings(f.sweep, 0, math.Inf(1), mostPoints))
		n, m := len(f.free), o.residuals()
		x := make([]float64, n)
		for j := range x {
			x[j] = 0.03 + 0.002*float64(j)
		}
		r, jacobian := make([]float64, m), make([]float64, m*n)
		if err := o.evaluate(x, r, jacobian); err != nil {
			t.Fatal(err)
		}
		up, down := make([]float64, m), make([]float64, m)
		for j := range x {
			const h = 1e-5
			at := x[j]
			x[j] = at + h
			o.evaluate(x, up, nil)
			x[j] = at - h
			o.evaluate(x, down, nil)
			x[j] = at
			most, off := 0.0, 0.0
			for i := range r {
				want := (up[i] - down[i]) / (2 * h)
				most = math.Max(most, math.Abs(want))
				off = math.Max(off, math.Abs(jacobian[i*n+j]-want))
			}
			if off > 1e-5*most+1e-9 {
				t.Errorf("%s: derivatives by %s are off by %.2g of at most %.2g", entry, f.free[j].name(), off, most)
			}
		}
	}
}

// Handles change nothing while they are nought, and a leak turned up is the leak
// a design writes.
func TestHandles(t *testing.T) {
	d := parse(t, linkedBox)
	plain := build(t, d)
	m, diags := design.BuildWith(d, design.Handles{Leaks: true, Resistances: true})
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	b := response.NewBench(m)
	compare := func(what string, p, q *response.Bench) {
		t.Helper()
		for _, f := range []float64{12, 70, 106, 290, 640} {
			if err := p.Solve(f); err != nil {
				t.Fatal(err)
			}
			if err := q.Solve(f); err != nil {
				t.Fatal(err)
			}
			if u, v := p.Impedance(0), q.Impedance(0); cmplx.Abs(u/v-1) > 1e-12 {
				t.Errorf("%s: %v against %v at %g Hz", what, u, v, f)
			}
		}
	}
	compare("nought", plain, b)
	b.Values[m.Dimensions[m.Find("far", "leak", 0)].Ref] = 1 / 5e5
	b.Values[m.Dimensions[m.Find("mouth", "resistance", 0)].Ref] = 7000
	b.Follow()
	leaky := parse(t, linkedBox+"\nleak \"hole\" {\n  from = chamber.far\n  to = outside\n  resistance = \"5e5 Pa*s/m3\"\n}\n")
	if err := leaky.SetText("mouth", "resistance", "7000 Pa*s/m3"); err != nil {
		t.Fatal(err)
	}
	compare("leaking", build(t, leaky), b)
}
