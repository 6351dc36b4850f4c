package parameters

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/response"
	"ocarina/sweep"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s %.12g, want %.12g within %g", what, got, want, within)
	}
}

// R. H. Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20 (June 1972),
// measurement appendix: numbers computed from Z = Re(1 + (Qms/Qes)/(1 + jQms(f/fs −
// fs/f))), from memory. A sweep of that curve must give them back.
func TestSmallsExtraction(t *testing.T) {
	q := Graphical(5, 50, 45, 34.65002340823457, 72.15002340823457)
	near(t, "qms", q.Qms, 4, 1e-12)
	near(t, "qes", q.Qes, 0.5, 1e-12)
	s := &sweep.Sweep{Name: "computed"}
	for _, f := range response.LogSpaced(10, 250, 6000) {
		z := 5 * (1 + 8/complex(1, 4*(f/50-50/f)))
		s.Frequency = append(s.Frequency, f)
		s.Magnitude = append(s.Magnitude, cmplx.Abs(z))
	}
	r, err := peakOf(s)
	if err != nil {
		t.Fatal(err)
	}
	f1, f2, ok := r.flanks(s, 5)
	if !ok {
		t.Fatal("no flanks")
	}
	near(t, "Rmax", r.height, 45, 1e-6)
	near(t, "fs", r.frequency, 50, 1e-6)
	near(t, "f1", f1, 34.65002340823457, 1e-6)
	near(t, "f2", f2, 72.15002340823457, 1e-6)
}

// IEC 60268-5 and Beranek 1954 (added mass); R. H. Small, "Closed-Box Loudspeaker
// Systems", JAES 20, December 1972 (known volume); from memory, computed from the
// resonance formula.
func TestLoadFormulas(t *testing.T) {
	mms, cms := AddedMass(39.78873577297383, 32.487366718069836, 0.01)
	near(t, "Mms", mms, 0.02, 1e-9)
	near(t, "Cms", cms, 0.0008, 1e-9)
	near(t, "Vas", KnownVolume(0.01, 40, 80), 0.03, 1e-9)
	// Qec = Qes·√(1 + Vas/VB)
	near(t, "Vas by Q", KnownVolumeQ(0.01, 40, 0.5, 80, 0.5*2), 0.03, 1e-9)
}

func TestSlopes(t *testing.T) {
	for _, mass := range []bool{false, true} {
		m := &model{reference: 5000, mass: mass}
		x := []float64{5.8, 37, 4.1, 0.41, 6, 0.71, 0.07, 1.4, 0.02, 1.01}
		slopes := make([]complex128, count)
		for _, f := range []float64{8, 30, 37, 55, 300} {
			for _, loaded := range []bool{false, true} {
				m.at(x, f, loaded, slopes)
				for j := range x {
					y := append([]float64(nil), x...)
					h := 1e-6 * x[j]
					y[j] += h
					up := m.at(y, f, loaded, nil)
					y[j] -= 2 * h
					want := (up - m.at(y, f, loaded, nil)) / complex(2*h, 0)
					if cmplx.Abs(slopes[j]-want) > 1e-6*cmplx.Abs(want)+1e-9 {
						t.Errorf("mass %v, loaded %v, %g Hz: slope %d is %v, differences give %v", mass, loaded, f, j, slopes[j], want)
					}
				}
			}
		}
	}
}

// driver is an invented one.
type driver struct {
	re, fs, qms, qes, vas, sd, k, n, creep float64
}

// network measures a driver with the network solver, which knows nothing of this
// package's formula: in free air (a hall for a box) or in a box.
func network(t *testing.T, d driver, box float64, list []float64, noise float64, rng *rand.Rand) *sweep.Sweep {
	t.Helper()
	text := fmt.Sprintf(`
driver "d" {
  re = "%.9g ohm"
  fs = "%.9g Hz"
  qms = %.9g
  qes = %.9g
  vas = "%.9g m3"
  sd = "%.9g m2"
  creep = %.9g
  coil {
    k = %.9g
    n = %.9g
  }
}
chamber "box" { volume = "1 L" }
mount "cone" {
  driver = driver.d
  front = outside
  rear = chamber.box
}
listen { radiation = "none" }`, d.re, d.fs, d.qms, d.qes, d.vas, d.sd, d.creep, d.k, d.n)
	read, diags := design.Parse([]byte(text), "driver.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	read.Chambers[0].Volume.SI = box
	m, diags := design.Build(read)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	b := response.NewBench(m)
	s := &sweep.Sweep{Name: "invented"}
	for _, f := range list {
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		z := b.Impedance(0)
		s.Frequency = append(s.Frequency, f)
		s.Magnitude = append(s.Magnitude, cmplx.Abs(z)*math.Exp(noise*rng.NormFloat64()))
		s.Phase = append(s.Phase, cmplx.Phase(z)+noise*rng.NormFloat64())
	}
	return s
}

const hall = 1e9 // m³: free air

func TestRoundTripThroughTheNetwork(t *testing.T) {
	var sum float64
	var n, beyond int
	for seed := range uint64(120) {
		rng := rand.New(rand.NewPCG(seed, 17))
		d := driver{re: 3 + 4*rng.Float64(), fs: 22 + 70*rng.Float64(), qms: 2.5 + 8*rng.Float64(), qes: 0.25 + 0.5*rng.Float64(),
			sd: 0.005 + 0.08*rng.Float64(), k: 0.006 + 0.02*rng.Float64(), n: 0.6 + 0.25*rng.Float64(), creep: 0.1 * rng.Float64()}
		d.vas = (0.5 + rng.Float64()) * 60 * math.Pow(d.sd, 1.5)
		box := d.vas * (0.3 + rng.Float64())
		list := response.LogSpaced(d.fs/6, d.fs*18, 160)
		in := Input{Free: network(t, d, hall, list, 0.004, rng), Loaded: network(t, d, box, list, 0.004, rng), Volume: box, Sd: d.sd, Re: d.re}
		r, err := Extract(context.Background(), in)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for _, v := range []struct {
			name          string
			got, want, se float64
		}{
			{"fs", r.Fitted.Fs, d.fs, r.Error.Fs}, {"qms", r.Fitted.Qms, d.qms, r.Error.Qms}, {"qes", r.Fitted.Qes, d.qes, r.Error.Qes},
			{"vas", r.Fitted.Vas, d.vas, r.Error.Vas}, {"re", r.Fitted.Re, d.re, r.Error.Re}, {"creep", r.Fitted.Creep, d.creep, r.Error.Creep}, {"n", r.Fitted.N, d.n, r.Error.N},
		} {
			pull := (v.got - v.want) / v.se
			sum += pull * pull
			n++
			if math.Abs(pull) > 3 {
				beyond++
				t.Logf("seed %d: %s %.5g ± %.2g, want %.5g", seed, v.name, v.got, v.se, v.want)
			}
		}
	}
	rms := math.Sqrt(sum / float64(n))
	t.Logf("rms of error over standard error %.3f, %.2f %% beyond three", rms, 100*float64(beyond)/float64(n))
	if rms < 0.8 || rms > 1.25 || float64(beyond) > 0.03*float64(n) {
		t.Errorf("rms of error over standard error %.3f, %d of %d beyond three", rms, beyond, n)
	}
}

// Surprises of real sweeps: a resonance forty times the coil's resistance, and
// points so far apart that the peak falls between them.
func TestSurprises(t *testing.T) {
	d := driver{re: 5.8, fs: 31.3, qms: 18, qes: 0.4, vas: 0.12, sd: 0.05, k: 0.02, n: 0.7, creep: 0.05}
	box := 0.0283
	rng := rand.New(rand.NewPCG(3, 3))
	list := response.LogSpaced(5, 1000, 64)
	in := Input{Free: network(t, d, hall, list, 0.002, rng), Loaded: network(t, d, box, list, 0.002, rng), Volume: box, Sd: d.sd, Re: d.re}
	r, err := Extract(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "fs", r.Fitted.Fs, d.fs, 0.003)
	near(t, "qms", r.Fitted.Qms, d.qms, 0.05)
	near(t, "qes", r.Fitted.Qes, d.qes, 0.02)
	near(t, "vas", r.Fitted.Vas, d.vas, 0.02)
	text := strings.Join(r.Warnings, "\n")
	t.Log(text)
	if r.Graphical.Qms != 0 && math.Abs(r.Graphical.Qms/d.qms-1) > 0.05 && !strings.Contains(text, "the points are so far apart") {
		t.Errorf("the graphical qms is %.3g and nothing explains it:\n%s", r.Graphical.Qms, text)
	}
}

func TestBadInput(t *testing.T) {
	d := driver{re: 5.8, fs: 31.3, qms: 5, qes: 0.4, vas: 0.12, sd: 0.05, k: 0.02, n: 0.7}
	rng := rand.New(rand.NewPCG(3, 3))
	free := network(t, d, hall, response.LogSpaced(5, 1000, 100), 0, rng)
	ctx := context.Background()
	if _, err := Extract(ctx, Input{Free: free}); err == nil {
		t.Error("no Sd, no error")
	}
	if _, err := Extract(ctx, Input{Free: free, Loaded: free, Sd: 0.05}); err == nil {
		t.Error("a second sweep with neither box nor mass, no error")
	}
	flat := &sweep.Sweep{Name: "flat", Frequency: free.Frequency, Magnitude: make([]float64, free.Len())}
	for i := range flat.Magnitude {
		flat.Magnitude[i] = 6
	}
	if _, err := Extract(ctx, Input{Free: flat, Sd: 0.05}); !errors.Is(err, ErrNoResonance) {
		t.Errorf("a resistor: %v", err)
	}
	r, err := Extract(ctx, Input{Free: network(t, d, 0.05, response.LogSpaced(5, 1000, 100), 0, rng), Loaded: free, Volume: 0.05, Sd: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(r.Warnings, "\n"), "exchanged") {
		t.Errorf("exchanged sweeps are not told: %v", r.Warnings)
	}
}
