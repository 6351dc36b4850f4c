package tone

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"ocarina/response"
)

// TestPassiveDriftsAlong holds a passive's farthest travel to its equation of
// motion on the box's pressure, driven by the cone's spectrum: a cone that drifts
// presses it off its middle for good.
func TestPassiveDriftsAlong(t *testing.T) {
	const (
		density, speed      = 1.2, 344.0
		volume, area        = 9e-3, 140e-4
		mass, give, drag    = 80e-3, 0.9e-3, 1.1
		passive             = 200e-4
		frequency, drive    = 95.0, 45.0
		least, steps, exact = 0.1, 4096, 1e-4
	)
	text := strings.Replace(fmt.Sprintf(sealed, `large {
			bl_shape  = [0.1, -0.16]
			kms_shape = [-0.15, 0.25]
		}`), "drive {", `passive "flat" {
		sd    = "200 cm2"
		mms   = "80 g"
		cms   = "0.9 mm/N"
		rms   = "1.1 N*s/m"
		xmax  = "2 mm"
		front = outside
		rear  = chamber.box
	}
	drive {`, 1)
	c, s := at(t, read(t, text), frequency, drive, Options{Cold: true})
	step := c.step(s)
	spring := density * speed * speed / volume
	moved := func(k int) complex128 {
		w := 2 * math.Pi * frequency * float64(k)
		z := complex(1/give-w*w*mass+passive*passive*spring, w*drag)
		return -s.Displacement(0, k) * complex(area*passive*spring, 0) / z
	}
	rest := real(moved(0))
	far := 0.0
	for q := range steps {
		x := rest
		for k := 1; k <= 12; k++ {
			x += math.Sqrt2 * real(moved(k)*cmplx.Exp(complex(0, 2*math.Pi*float64(k*q)/steps)))
		}
		far = math.Max(far, math.Abs(x))
	}
	if math.Abs(rest) < least*far {
		t.Fatalf("rests %.4g m off its middle and travels %.4g m: nothing to see", rest, far)
	}
	if got := step.Passives["flat"]; math.Abs(got/1000/far-1) > exact {
		t.Errorf("travels %.6f mm, want %.6f", got, far*1000)
	}
	for _, u := range step.used {
		if u.name == "excursion:flat" && math.Abs(u.part*2e-3/far-1) > exact {
			t.Errorf("uses %.4f of its xmax, want %.4f", u.part, far/2e-3)
		}
	}
}

// TestHardStrike: a cone that strikes hard makes more harmonics than a ladder
// begins with; it takes as many as it needs.
func TestHardStrike(t *testing.T) {
	text := fmt.Sprintf(vented, `xmech = "6 mm"
		large {
			bl_shape  = [0.08, -0.1]
			kms_shape = [0.1, 0.1]
		}`, "")
	const frequency, drive = 34.0, 100.0
	find := func(o Options) Step {
		o.Tones, o.Drives, o.Cold = []float64{frequency}, []float64{drive / 4, drive / 2, drive}, true
		return ladder(t, text, o).Tones[0].Steps[2]
	}
	got, want := find(Options{}), find(Options{Harmonics: 64})
	for k := range 5 {
		// A third of what is asked of a harmonic against integration in time.
		if d := math.Abs(*got.Harmonics[k] - *want.Harmonics[k]); d > 0.1 {
			t.Errorf("harmonic %d: %.3f dB, with many harmonics %.3f", k+1, *got.Harmonics[k], *want.Harmonics[k])
		}
	}
	a, b := got.Mounts["cone"].Offset, want.Mounts["cone"].Offset
	if math.Abs(a-b) > 0.01*math.Abs(b) {
		t.Errorf("offset %.5f mm, with many harmonics %.5f", a, b)
	}
}

// TestFarApart: where the first limit, the clean and the safe drive lie does not
// depend on which drives were asked for, be they far apart, all beyond, or absurd.
func TestFarApart(t *testing.T) {
	m := open(t, "testdata/dunlin.hcl")
	find := func(f float64, drives ...float64) Tone {
		l, err := Predict(m, Options{Tones: []float64{f}, Drives: drives})
		if err != nil {
			t.Fatal(err)
		}
		return l.Tones[0]
	}
	for _, f := range []float64{112, 144} {
		own := find(f, response.LogSpaced(0.1, 60, 60)...)
		for _, drives := range [][]float64{{1, 1000}, {300}, {0.2, 1e5}, {1e5}} {
			got := find(f, drives...)
			if len(got.Steps) != len(drives) {
				t.Fatalf("%g Hz at %g V: %d steps", f, drives, len(got.Steps))
			}
			if got.FirstLimit != own.FirstLimit {
				t.Errorf("%g Hz at %g V: first limit %s, want %s", f, drives, got.FirstLimit, own.FirstLimit)
			}
			// TestInterpolatedDrives allows each of them a hundredth.
			for what, v := range map[string][2]*float64{"limit": {got.LimitVoltage, own.LimitVoltage}, "clean": {got.CleanVoltage, own.CleanVoltage}, "safe": {got.SafeVoltage, own.SafeVoltage}} {
				if v[0] == nil || math.Abs(*v[0] / *v[1] - 1) > 0.02 {
					t.Errorf("%g Hz at %g V: %s drive differs from %.4f V", f, drives, what, *v[1])
				}
			}
		}
	}
}
