package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"ocarina/design"
	"ocarina/response"
	"ocarina/sweep"
)

// writer writes the design of one seed.
type writer struct{ rng *rand.Rand }

func (w *writer) between(lo, hi float64) float64 {
	return lo * math.Pow(hi/lo, w.rng.Float64())
}

// text writes a random box of two or three chambers.
func (w *writer) text() string {
	layout := w.rng.IntN(6)
	sd := math.Pow(10, -2.4+1.1*w.rng.Float64()) // 40 to 500 cm²: held, so that the error of Vas is alone
	size := sd / 0.02
	fs := w.between(28, 90)
	vas := w.between(0.02, 0.08) * math.Pow(size, 1.5)
	text := fmt.Sprintf("driver \"d\" {\n re = \"%.6g ohm\"\n le = \"%.6g mH\"\n fs = \"%.6g Hz\"\n qms = %.6g\n qes = %.6g\n vas = \"%.6g m3\"\n sd = \"%.6g m2\"\n}\n",
		w.between(3, 7), w.between(0.2, 0.9), fs, w.between(3, 9), w.between(0.3, 0.7), vas, sd)
	chamber := func(name string) float64 {
		v := w.between(0.2, 1.1) * vas
		text += fmt.Sprintf("chamber %q { volume = \"%.8g m3\" }\n", name, v)
		return v
	}
	// A port is cut so that with the smaller volume it would resonate within an
	// octave and a half about fs; where it would become a pipe, narrower.
	port := func(name, from, to string, v float64) {
		k := 2 * math.Pi * fs * w.between(0.6, 2.2) / 343
		area := sd * w.between(0.12, 0.5)
		most := 0.5 * math.Cbrt(v)
		area = math.Min(area, v*k*k*most)
		length := math.Max(area/(v*k*k)-1.2*math.Sqrt(area/math.Pi), 0.1*math.Sqrt(area)) * w.between(0.95, 1.05)
		text += fmt.Sprintf("port %q {\n from = %s\n to = %s\n diameter = \"%.8g m\"\n length = \"%.8g m\"\n}\n", name, from, to, math.Sqrt(4*area/math.Pi), length)
	}
	mount := func(front, rear string) {
		text += fmt.Sprintf("mount \"cone\" {\n driver = driver.d\n front = %s\n rear = %s\n}\n", front, rear)
	}
	a := chamber("a")
	b := chamber("b")
	switch layout {
	case 0: // cascade of two
		mount("outside", "chamber.a")
		port("p", "chamber.a", "chamber.b", math.Min(a, b))
		port("q", "chamber.b", "outside", b)
	case 1: // two-sided
		mount("chamber.b", "chamber.a")
		port("p", "chamber.a", "outside", a)
		port("q", "chamber.b", "outside", b)
	case 2: // two-sided through each other
		mount("chamber.b", "chamber.a")
		port("p", "chamber.a", "chamber.b", math.Min(a, b))
		port("q", "chamber.b", "outside", b)
	case 3: // cascade of three
		c := chamber("c")
		mount("outside", "chamber.a")
		port("p", "chamber.a", "chamber.b", math.Min(a, b))
		port("q", "chamber.b", "chamber.c", math.Min(b, c))
		port("r", "chamber.c", "outside", c)
	case 4: // two-sided with an annex
		c := chamber("c")
		mount("chamber.b", "chamber.a")
		port("p", "chamber.a", "outside", a)
		port("q", "chamber.b", "chamber.c", math.Min(b, c))
		port("r", "chamber.c", "outside", c)
	case 5: // two annexes on one
		c := chamber("c")
		mount("outside", "chamber.a")
		port("p", "chamber.a", "chamber.b", math.Min(a, b))
		port("q", "chamber.a", "chamber.c", math.Min(a, c))
		port("r", "chamber.c", "outside", c)
	}
	return text
}

// randomText is the text of a seed's box.
func randomText(seed uint64) string {
	w := &writer{rng: rand.New(rand.NewPCG(seed, 71))}
	return w.text()
}

func parse(t testing.TB, text string) *design.Design {
	t.Helper()
	d, diags := design.Parse([]byte(text), "random.hcl")
	if diags.HasErrors() {
		t.Fatalf("%v\n%s", diags, text)
	}
	return d
}

func build(t testing.TB, d *design.Design) *response.Bench {
	t.Helper()
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return response.NewBench(m)
}

// measure makes a sweep of the bench with Gaussian noise of so many dB in size
// and as much in phase.
func measure(t testing.TB, b *response.Bench, from, to float64, points int, noise float64, rng *rand.Rand) *sweep.Sweep {
	t.Helper()
	s := &sweep.Sweep{Name: "made up"}
	sigma := noise / decibels
	for _, f := range response.LogSpaced(from, to, points) {
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		z := b.Impedance(0)
		s.Frequency = append(s.Frequency, f)
		s.Magnitude = append(s.Magnitude, math.Hypot(real(z), imag(z))*math.Exp(sigma*rng.NormFloat64()))
		s.Phase = append(s.Phase, math.Atan2(imag(z), real(z))+sigma*rng.NormFloat64())
	}
	return s
}
