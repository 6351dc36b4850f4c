package formula

import (
	"math"
	"testing"
)

// volume is a small design: a box less a port's body, and the mass of the port.
func build() (g *Graph, inputs []Ref, out Ref) {
	g = new(Graph)
	w, h, d := g.Input(0.31), g.Input(0.22), g.Input(0.4)
	r, l := g.Input(0.03), g.Input(0.12)
	gross := g.Product(w, h, d)
	area := g.Scale(math.Pi, g.Pow(r, 2))
	net := g.Sub(gross, g.Mul(area, l))
	wall := g.Pow(net, 2.0/3)
	xi := g.Sqrt(g.Div(area, wall))
	end := g.Apply(xi, func(x float64) (float64, float64) { return 1 - 1.35*x + 0.31*x*x*x, -1.35 + 0.93*x*x })
	length := g.Add(l, g.Mul(end, r))
	out = g.Apply2(length, area, func(x, y float64) (float64, float64, float64) { return x / y, 1 / y, -x / (y * y) })
	return g, []Ref{w, h, d, r, l}, out
}

func TestBackwardAgreesWithDifferences(t *testing.T) {
	g, inputs, out := build()
	all := g.Following()
	v := g.Values()
	d := make([]complex128, g.Len())
	d[out] = complex(1, -2)
	all.Backward(v, d)
	for n, in := range inputs {
		at := func(x float64) float64 {
			u := g.Values()
			u[in] = x
			all.Forward(u)
			return u[out]
		}
		h := 1e-5 * v[in]
		want := (at(v[in]+h) - at(v[in]-h)) / (2 * h)
		if got := real(d[in]); math.Abs(got-want) > 1e-8*math.Abs(want) {
			t.Errorf("input %d: derivative %.10g, differences %.10g", n, got, want)
		}
		if got := imag(d[in]); math.Abs(got+2*want) > 2e-8*math.Abs(want) {
			t.Errorf("input %d: imaginary part %.10g, want %.10g", n, got, -2*want)
		}
	}
}

func TestFollowingRunsOnlyWhatDepends(t *testing.T) {
	g, inputs, out := build()
	length := inputs[4]
	p := g.Following(length)
	if all := g.Following(); len(p.order) >= len(all.order) {
		t.Fatalf("the program of one input has %d steps of %d", len(p.order), len(all.order))
	}
	v, whole := g.Values(), g.Values()
	v[length], whole[length] = 0.2, 0.2
	p.Forward(v)
	g.Following().Forward(whole)
	if v[out] != whole[out] || v[out] == g.Value(out) {
		t.Fatalf("changed length gives %v, whole graph %v, as built %v", v[out], whole[out], g.Value(out))
	}
}

func TestForwardAllocatesNothing(t *testing.T) {
	g, _, out := build()
	p, v, d := g.Following(), g.Values(), make([]complex128, g.Len())
	if n := testing.AllocsPerRun(10, func() { p.Forward(v); d[out] = 1; p.Backward(v, d) }); n != 0 {
		t.Fatalf("%v allocations", n)
	}
}
