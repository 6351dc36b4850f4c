package response

import (
	"math"
	"testing"

	"ocarina/design"
)

// The answers give frequencies to a tenth of a millihertz and shares to five
// digits.
func TestWorkedFeatures(t *testing.T) {
	worked(t, func(t *testing.T, m *design.Model, want *workedAnswer) {
		got, err := NewBench(m).Features(10, 400)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(want.Features) {
			t.Fatalf("%d features, want %d", len(got), len(want.Features))
		}
		for i, w := range want.Features {
			g := got[i]
			if g.Kind != w.Kind || math.Abs(g.Frequency/w.Frequency-1) > 1e-4 || math.Abs(g.Impedance/w.Impedance-1) > 1e-4 {
				t.Errorf("%s at %.4f Hz, %.5g ohm; want %s at %.4f Hz, %.5g ohm", g.Kind, g.Frequency, g.Impedance, w.Kind, w.Frequency, w.Impedance)
			}
			shares(t, "kinetic", g.Kinetic, w.Kinetic)
			shares(t, "potential", g.Potential, w.Potential)
			sum := 0.0
			for _, v := range g.Loss {
				sum += v
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Errorf("losses sum to %.15g", sum)
			}
		}
	})
}

func shares(t *testing.T, group string, got, want map[string]float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %v, want %v", group, got, want)
	}
	for k, w := range want {
		if g, ok := got[k]; !ok || math.Abs(g-w) > 2e-4 {
			t.Errorf("%s share of %s: %.6f, want %.5f", group, k, g, w)
		}
	}
}
