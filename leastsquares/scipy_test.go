package leastsquares

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os/exec"
	"testing"

	"ocarina/internal/need"
)

// The second judge is scipy.optimize.least_squares, with derivatives by its
// complex step and with all tolerances at rounding.
const scipyScript = `
import json, sys
import numpy as np
from scipy.optimize import least_squares
models = {
  "rosenbrock": lambda b, x: np.array([10*(b[1]-b[0]**2), 1-b[0]]),
  "decay": lambda b, x: b[0]*np.exp(-b[1]*x) + b[2],
  "resonance": lambda b, x: np.log(b[0]*(1 + b[2]/(1 + (b[3]*(x/b[1]-b[1]/x))**2))),
  "mgh09": lambda b, x: b[0]*(x*x+x*b[1])/(x*x+x*b[2]+b[3]),
}
out = []
for p in json.load(sys.stdin):
  x, y = np.array(p["X"]), np.array(p["Y"])
  lo = [-np.inf if v is None else v for v in p["Lower"]]
  hi = [np.inf if v is None else v for v in p["Upper"]]
  best = None
  for method in ["trf", "dogbox"]:
    s = least_squares(lambda b: models[p["Model"]](b, x) - y, p["Start"], jac="cs", bounds=(lo, hi), method=method,
      loss=p["Loss"], f_scale=p["Scale"], xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=20000)
    if best is None or s.cost < best.cost: best = s
  out.append({"X": list(best.x), "Cost": best.cost})
json.dump(out, sys.stdout)
`

var scipyModels = map[string]func(b []float64, x float64, d []float64) float64{
	"decay": func(b []float64, x float64, d []float64) float64 {
		e := math.Exp(-b[1] * x)
		d[0], d[1], d[2] = e, -b[0]*x*e, 1
		return b[0]*e + b[2]
	},
	"resonance": func(b []float64, x float64, d []float64) float64 {
		u := x/b[1] - b[1]/x
		q := 1 / (1 + b[3]*b[3]*u*u)
		v := 1 + b[2]*q
		k := -b[2] * q * q * 2 * b[3] * u / v
		d[0], d[1], d[2], d[3] = 1/b[0], k*b[3]*(-x/(b[1]*b[1])-1/x), q/v, k*u
		return math.Log(b[0] * v)
	},
	"mgh09": func(b []float64, x float64, d []float64) float64 {
		u, v := x*x+x*b[1], 1/(x*x+x*b[2]+b[3])
		y := b[0] * u * v
		d[0], d[1], d[2], d[3] = u*v, b[0]*x*v, -y*v*x, -y*v
		return y
	},
}

func TestScipy(t *testing.T) {
	python := need.SciPy(t)
	rng := rand.New(rand.NewPCG(11, 7))
	decayX := steps(0, 0.1, 60)
	decayY := make([]float64, len(decayX))
	for i, x := range decayX {
		decayY[i] = 3*math.Exp(-0.8*x) + 0.5 + 0.03*rng.NormFloat64()
		if i%9 == 4 {
			decayY[i] += 1.5 * rng.Float64()
		}
	}
	ringX := make([]float64, 200)
	ringY := make([]float64, len(ringX))
	for i := range ringX {
		x := 10 * math.Pow(20, float64(i)/199)
		u := x/42 - 42/x
		ringX[i] = x
		ringY[i] = math.Log(6*(1+9/(1+16*u*u))) + 0.01*rng.NormFloat64()
		if i%25 == 3 {
			ringY[i] -= 0.4
		}
	}
	var mgh nistSet
	for _, s := range nistSets {
		if s.name == "MGH09" {
			mgh = s
		}
	}
	open := func(n int) []*float64 { return make([]*float64, n) }
	at := func(v ...float64) []*float64 {
		p := make([]*float64, len(v))
		for i := range v {
			if !math.IsInf(v[i], 0) {
				p[i] = &v[i]
			}
		}
		return p
	}
	inf := math.Inf(1)
	type input struct {
		Name, Model   string
		X, Y, Start   []float64
		Lower, Upper  []*float64
		Loss          string
		Scale         float64
		kind          Kind
		expectAtBound int
	}
	two := []float64{0, 0}
	inputs := []input{
		{Name: "Rosenbrock", Model: "rosenbrock", X: two, Y: two, Start: []float64{-1.2, 1}, Lower: open(2), Upper: open(2), Loss: "linear", Scale: 1},
		{Name: "Rosenbrock held above the valley", Model: "rosenbrock", X: two, Y: two, Start: []float64{2, 2}, Lower: at(-inf, 1.5), Upper: open(2), Loss: "linear", Scale: 1, expectAtBound: 1},
		{Name: "Rosenbrock in a corner", Model: "rosenbrock", X: two, Y: two, Start: []float64{-1.2, 0.2}, Lower: at(-2, -1), Upper: at(0.8, 0.3), Loss: "linear", Scale: 1, expectAtBound: 1},
		{Name: "decay, squares", Model: "decay", X: decayX, Y: decayY, Start: []float64{1, 1, 0.1}, Lower: open(3), Upper: open(3), Loss: "linear", Scale: 1},
		{Name: "decay, soft L1", Model: "decay", X: decayX, Y: decayY, Start: []float64{1, 1, 0.1}, Lower: open(3), Upper: open(3), Loss: "soft_l1", Scale: 0.05, kind: SoftL1},
		{Name: "decay, Huber", Model: "decay", X: decayX, Y: decayY, Start: []float64{1, 1, 0.1}, Lower: open(3), Upper: open(3), Loss: "huber", Scale: 0.05, kind: Huber},
		{Name: "decay, Cauchy", Model: "decay", X: decayX, Y: decayY, Start: []float64{1, 1, 0.1}, Lower: open(3), Upper: open(3), Loss: "cauchy", Scale: 0.05, kind: Cauchy},
		{Name: "decay, soft L1, bounds", Model: "decay", X: decayX, Y: decayY, Start: []float64{1, 1, 0.1}, Lower: at(0, 0.9, 0), Upper: at(10, 5, 0.4), Loss: "soft_l1", Scale: 0.05, kind: SoftL1, expectAtBound: 1},
		{Name: "resonance, Huber", Model: "resonance", X: ringX, Y: ringY, Start: []float64{5, 36, 5, 3}, Lower: open(4), Upper: open(4), Loss: "huber", Scale: 0.02, kind: Huber},
		{Name: "resonance, Cauchy, bounds", Model: "resonance", X: ringX, Y: ringY, Start: []float64{5, 45, 5, 3}, Lower: at(1, 42.3, 1, 1), Upper: at(20, 60, 30, 20), Loss: "cauchy", Scale: 0.02, kind: Cauchy, expectAtBound: 1},
		{Name: "MGH09 in a box", Model: "mgh09", X: mgh.x, Y: mgh.y, Start: []float64{0.25, 0.3, 0.3, 0.1}, Lower: at(0, 0.22, 0, 0), Upper: at(1, 1, 1, 0.13), Loss: "linear", Scale: 1, expectAtBound: 1},
	}
	in, err := json.Marshal(inputs)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", scipyScript)
	cmd.Stdin = bytes.NewReader(in)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	answer, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, complaints.String())
	}
	var want []struct {
		X    []float64
		Cost float64
	}
	if err := json.Unmarshal(answer, &want); err != nil {
		t.Fatal(err)
	}
	for k, in := range inputs {
		t.Run(in.Name, func(t *testing.T) {
			n := len(in.Start)
			d := make([]float64, n)
			p := Problem{
				Residuals: len(in.Y), Parameters: n, Loss: Loss{in.kind, in.Scale},
				Lower: make([]float64, n), Upper: make([]float64, n),
				Evaluate: func(b, r, jac []float64) error {
					if in.Model == "rosenbrock" {
						r[0], r[1] = 10*(b[1]-b[0]*b[0]), 1-b[0]
						if jac != nil {
							jac[0], jac[1], jac[2], jac[3] = -20*b[0], 10, -1, 0
						}
						return nil
					}
					for i, x := range in.X {
						r[i] = scipyModels[in.Model](b, x, d) - in.Y[i]
						if jac != nil {
							copy(jac[i*n:], d)
						}
					}
					return nil
				},
			}
			for j := range n {
				p.Lower[j], p.Upper[j] = -inf, inf
				if v := in.Lower[j]; v != nil {
					p.Lower[j] = *v
				}
				if v := in.Upper[j]; v != nil {
					p.Upper[j] = *v
				}
			}
			res, err := Solve(context.Background(), p, in.Start, Options{})
			if err != nil {
				t.Fatal(err)
			}
			w := want[k]
			t.Logf("%d evaluations, cost %.12g (scipy %.12g), x %.8g", res.Evaluations, res.Cost, w.Cost, res.X)
			if res.Stopped != Converged || res.Evaluations > 35 {
				t.Errorf("%v after %d evaluations", res.Stopped, res.Evaluations)
			}
			if math.Abs(res.Cost-w.Cost) > 1e-9*w.Cost+1e-20 {
				t.Errorf("cost %.12g, scipy %.12g", res.Cost, w.Cost)
			}
			for j := range n {
				// scipy keeps a hair inside the bounds.
				if math.Abs(res.X[j]-w.X[j]) > 2e-6*math.Abs(w.X[j]) {
					t.Errorf("parameter %d: %.10g, scipy %.10g", j, res.X[j], w.X[j])
				}
			}
			var pressed int
			for _, b := range res.Bounds {
				if b != Inside {
					pressed++
				}
			}
			if (pressed > 0) != (in.expectAtBound > 0) {
				t.Errorf("bounds %v: the case should press on %d", res.Bounds, in.expectAtBound)
			}
		})
	}
}
