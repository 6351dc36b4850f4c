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

// TestSafeWhileCold: a coil that has warmed takes less current, so what is safe
// must be safe in the first seconds too.
func TestSafeWhileCold(t *testing.T) {
	m := read(t, strings.Replace(fmt.Sprintf(sealed, `large {
			xmax_by        = "bl"
			coil_thermal   = 4
			coil_time      = "8 s"
		}`), "drive {", `tones = ["110 Hz"]
	drive {`, 1))
	l, err := Predict(m, Options{})
	if err != nil {
		t.Fatal(err)
	}
	safe := *l.Tones[0].SafeVoltage
	travel := func(v float64, cold bool) float64 {
		l, err := Predict(m, Options{Tones: []float64{110}, Drives: []float64{v}, Cold: cold})
		if err != nil {
			t.Fatal(err)
		}
		s := l.Tones[0].Steps[0]
		x := s.Mounts["cone"].Outward
		if cold && s.Safe != (x <= 4) {
			t.Errorf("%.3f V: %.4f mm with a cold coil, safe: %v", v, x, s.Safe)
		}
		return x
	}
	if cold, warm := travel(safe, true), travel(safe, false); math.Abs(cold-4) > 0.04 || warm > 0.95*cold {
		t.Errorf("at the safe %.3f V the cone travels %.4f mm with a cold coil, %.4f with a warm one; want its xmax of 4 mm, and less", safe, cold, warm)
	}
	for _, s := range l.Tones[0].Steps {
		if s.Safe && s.Voltage > safe*1.001 || !s.Safe && s.Voltage < safe*0.999 {
			t.Errorf("%.3f V: safe %v, while %.3f V is", s.Voltage, s.Safe, safe)
		}
	}
}

// TestNothingOutside: without a listener distortion and compression are those of
// the cone's travel.
func TestNothingOutside(t *testing.T) {
	text := strings.Replace(fmt.Sprintf(sealed, ""), "= outside", "= chamber.hall", 1) + "\nchamber \"hall\" { volume = \"1000 m3\" }\n"
	l := ladder(t, text, Options{Tones: []float64{40}, Drives: []float64{1, 20}, Cold: true})
	soft, hard := l.Tones[0].Steps[0], l.Tones[0].Steps[1]
	cone := hard.Mounts["cone"]
	if hard.THD != cone.THD || cone.THD < 0.01 || math.Abs(hard.THDTotal-cone.THD/math.Hypot(1, cone.THD)) > 1e-12 {
		t.Errorf("THD %g and %g, the cone's %g", hard.THD, hard.THDTotal, cone.THD)
	}
	want := soft.Compression + 20*math.Log10(20*soft.Mounts["cone"].Excursion/cone.Excursion)
	if math.Abs(hard.Compression-want) > 1e-9 || want < 0.1 {
		t.Errorf("compression %g dB, want %g", hard.Compression, want)
	}
}

// TestHarmonicsAreHeard: the caution for the ears counts the harmonics.
func TestHarmonicsAreHeard(t *testing.T) {
	l := ladder(t, fmt.Sprintf(sealed, ""), Options{Tones: []float64{15}, Drives: []float64{1, 60}, Cold: true})
	s := l.Tones[0].Steps[1]
	sum := 0.0
	for _, h := range s.Harmonics {
		if h != nil {
			sum += math.Pow(10, *h/10)
		}
	}
	total := 10 * math.Log10(sum)
	if math.Abs(s.Total()-total) > 1e-9 || total < *s.Level+3 {
		t.Errorf("total %g dB, want %g, well above the fundamental's %g", s.Total(), total, *s.Level)
	}
	if want := fmt.Sprintf("%.0f dB(Z)", total); !strings.Contains(l.Cautions[0], want) {
		t.Errorf("caution %q, want %s", l.Cautions[0], want)
	}
}

// TestWhatHoldsTheCone: at the tuning of a port the air holds the cone still; in a
// closed box far above its resonance its own mass keeps the travel short.
func TestWhatHoldsTheCone(t *testing.T) {
	const strong = `power = "15 W"`
	for _, c := range []struct {
		text string
		f    float64
		want string
	}{
		{fmt.Sprintf(vented, strong, `speed_limit = "300 m/s"`), 63, "the box holds the cone still"},
		{fmt.Sprintf(sealed, strong), 300, "used: a short-throw driver"},
		{fmt.Sprintf(sealed, ""), 30, "needs throw"},
	} {
		l := ladder(t, c.text, Options{Tones: []float64{c.f}})
		if !strings.Contains(l.Tones[0].Reading, c.want) {
			t.Errorf("%g Hz: %q lacks %q", c.f, l.Tones[0].Reading, c.want)
		}
	}
}

// TestBurntCoil: no temperature of thousands of degrees is told as if a coil
// could have it.
func TestBurntCoil(t *testing.T) {
	l := ladder(t, fmt.Sprintf(sealed, `power = "20 W"`), Options{Tones: []float64{90}, Drives: []float64{5, 500}})
	all := strings.Join(l.Cautions, "\n")
	if l.Tones[0].Steps[1].Mounts["cone"].Temperature < 400 || !strings.Contains(all, "Coils burn") || strings.Contains(all, "Coils reach") {
		t.Errorf("%g °C: %s", l.Tones[0].Steps[1].Mounts["cone"].Temperature, all)
	}
}

// TestSimpleRatio: two tones whose products fall on one another are told of, and
// others are not.
func TestSimpleRatio(t *testing.T) {
	m := read(t, fmt.Sprintf(sealed, ""))
	for second, want := range map[float64]bool{120: true, 90: true, 40: true, 121.3: false, 417.7: false} {
		x, err := Mix(m, Pair{First: 60, Second: second, Voltage: 5, Cold: true})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(x.Warnings, "\n"), "simple a ratio"); got != want {
			t.Errorf("60 and %g Hz: told %v, want %v", second, got, want)
		}
	}
}
