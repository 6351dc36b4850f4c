package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// keys demands that a JSON object has them.
func keys(t *testing.T, what string, v map[string]any, names ...string) {
	t.Helper()
	for _, k := range names {
		if _, ok := v[k]; !ok {
			t.Errorf("%s lacks %q", what, k)
		}
	}
}

// What scripts rely on of match.
func TestMatchAnswers(t *testing.T) {
	var v struct {
		Features   []map[string]any
		Parameters []map[string]any
		Residual   map[string]any `json:"residual_db"`
		Findings   []map[string]any
		Warnings   []any
	}
	if err := json.Unmarshal(ask(t, "match", "../../demo/dunlin.hcl", "../../demo/sweeps/dunlin.csv", "--json"), &v); err != nil {
		t.Fatal(err)
	}
	if len(v.Features) < 5 || len(v.Parameters) < 8 || len(v.Findings) != 1 || v.Warnings == nil {
		t.Fatalf("%d features, %d parameters, %d findings, warnings %v", len(v.Features), len(v.Parameters), len(v.Findings), v.Warnings)
	}
	for _, f := range v.Features {
		keys(t, "a feature", f, "kind", "measured_hz", "drawn_hz", "fitted_hz", "owner")
	}
	for _, p := range v.Parameters {
		keys(t, "a parameter", p, "part", "key", "unit", "drawn", "fitted", "standard_error", "determined")
	}
	keys(t, "residual_db", v.Residual, "drawn", "fitted")
	keys(t, "a finding", v.Findings[0], "kind", "part", "reading")
}

// A driver is measured in the solver's free air and in its box, and comes out as
// its sheet says: fitted to 0.2 %, by the graphical method to a few per cent, since
// that does not know the coil.
func TestDriverAnswers(t *testing.T) {
	dir := t.TempDir()
	sweep := func(name, volume string) string {
		text := fmt.Sprintf(`
driver "d" {
  re  = "5.81 ohm"
  fs  = "34 Hz"
  qms = 7.1
  qes = 0.44
  vas = "92 L"
  sd  = "490 cm2"
  coil {
    k = 0.031
    n = 0.68
  }
}
chamber "b" { volume = %q }
mount "c" {
  driver = driver.d
  front  = outside
  rear   = chamber.b
}
listen { radiation = "none" }
`, volume)
		file := filepath.Join(dir, name+".hcl")
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		var p struct {
			Frequency []float64 `json:"frequency_hz"`
			Size      []float64 `json:"impedance_ohm"`
			Phase     []float64 `json:"impedance_phase_deg"`
		}
		if err := json.Unmarshal(ask(t, "predict", file, "--from", "8", "--to", "1500", "--points", "150", "--json"), &p); err != nil {
			t.Fatal(err)
		}
		table := "Measured at night\nFreq; Z; Phase\n"
		for i, f := range p.Frequency {
			table += fmt.Sprintf("%.5f; %.5f; %.4f\n", f, p.Size[i], p.Phase[i])
		}
		out := filepath.Join(dir, name+".csv")
		if err := os.WriteFile(out, []byte(table), 0o644); err != nil {
			t.Fatal(err)
		}
		return out
	}
	free, boxed := sweep("free", "9999 m3"), sweep("boxed", "1 ft3")
	var v struct {
		Graphical, Fitted map[string]float64
		Warnings          []string
	}
	if err := json.Unmarshal(ask(t, "driver", free, "--sd", "490 cm2", "--re", "5.81 ohm", "--box", "1 ft3", boxed, "--json", "--out", filepath.Join(dir, "block.hcl")), &v); err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]float64{"fs_hz": 34, "qms": 7.1, "qes": 0.44, "qts": 7.1 * 0.44 / 7.54, "vas_l": 92} {
		if got := v.Fitted[key]; math.Abs(got/want-1) > 0.002 {
			t.Errorf("fitted %s %.5g, want %.5g", key, got, want)
		}
		if got := v.Graphical[key]; math.Abs(got/want-1) > 0.05 {
			t.Errorf("graphical %s %.5g, want %.5g", key, got, want)
		}
		if se, ok := v.Fitted[key+"_se"]; !ok || !(se > 0) {
			t.Errorf("%s_se is %g", key, se)
		}
	}
	// The block is a design's.
	text, err := os.ReadFile(filepath.Join(dir, "block.hcl"))
	if err != nil {
		t.Fatal(err)
	}
	whole := filepath.Join(dir, "whole.hcl")
	if err := os.WriteFile(whole, append(text, []byte("\nchamber \"b\" { volume = \"40 L\" }\nmount \"c\" {\n  driver = driver.measured\n  front = outside\n  rear = chamber.b\n}\n")...), 0o644); err != nil {
		t.Fatal(err)
	}
	ask(t, "check", whole, "--json")
}
