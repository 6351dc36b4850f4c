package response

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ocarina/design"
)

// open reads and builds a design of testdata.
func open(t testing.TB, path string) *design.Model {
	t.Helper()
	d, diags := design.ReadFile(path)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return m
}

// The answers in testdata/worked come from an independent program written from
// the same conventions: they settle conventions and are no outside evidence.
type workedAnswer struct {
	Predict  Prediction `json:"predict"`
	Features []struct {
		Kind      string             `json:"kind"`
		Frequency float64            `json:"frequency_hz"`
		Impedance float64            `json:"impedance_ohm"`
		Kinetic   map[string]float64 `json:"kinetic_share"`
		Potential map[string]float64 `json:"potential_share"`
	} `json:"features_10_to_400_hz"`
}

func worked(t *testing.T, visit func(t *testing.T, m *design.Model, want *workedAnswer)) {
	files, err := filepath.Glob("testdata/worked/*.hcl")
	if err != nil || len(files) != 5 {
		t.Fatalf("%d worked designs, %v", len(files), err)
	}
	for _, f := range files {
		t.Run(strings.TrimSuffix(filepath.Base(f), ".hcl"), func(t *testing.T) {
			raw, err := os.ReadFile(strings.TrimSuffix(f, ".hcl") + ".json")
			if err != nil {
				t.Fatal(err)
			}
			var want workedAnswer
			if err := json.Unmarshal(raw, &want); err != nil {
				t.Fatal(err)
			}
			visit(t, open(t, f), &want)
		})
	}
}

// decibels is the largest difference of two curves in dB.
func decibels(t *testing.T, what string, got, want []float64, most float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d values, want %d", what, len(got), len(want))
		return
	}
	for i := range got {
		if d := math.Abs(20 * math.Log10(got[i]/want[i])); !(d <= most) {
			t.Errorf("%s [%d]: %.10g, want %.10g (%.5f dB)", what, i, got[i], want[i], d)
			return
		}
	}
}

// The designs are written to nine digits and the frequencies to ten; near a null
// that is worth a hundred-thousandth of a decibel. The largest difference seen
// is 0.000010 dB.
const workedTolerance = 2e-5 // dB

func TestWorkedDesigns(t *testing.T) {
	worked(t, func(t *testing.T, m *design.Model, want *workedAnswer) {
		got, err := Predict(m, want.Predict.Frequency)
		if err != nil {
			t.Fatal(err)
		}
		w := &want.Predict
		decibels(t, "impedance", got.Impedance, w.Impedance, workedTolerance)
		for i := range got.Level {
			if d := math.Abs(got.Level[i] - w.Level[i]); d > workedTolerance {
				t.Errorf("level at %.4g Hz: %.8g dB, want %.8g", w.Frequency[i], got.Level[i], w.Level[i])
			}
			if d := math.Abs(got.ImpedancePhase[i] - w.ImpedancePhase[i]); d > 1e-3 {
				t.Errorf("phase at %.4g Hz: %.8g°, want %.8g", w.Frequency[i], got.ImpedancePhase[i], w.ImpedancePhase[i])
			}
		}
		for name, c := range w.Mounts {
			decibels(t, name, got.Mounts[name].Excursion, c.Excursion, workedTolerance)
		}
		for name, c := range w.Ports {
			decibels(t, name, got.Ports[name].Speed, c.Speed, workedTolerance)
		}
		for name, c := range w.Chambers {
			decibels(t, name, got.Chambers[name].Pressure, c.Pressure, workedTolerance)
		}
	})
}
