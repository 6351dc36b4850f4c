package tone

import (
	"testing"

	"ocarina/design"
)

func open(t testing.TB, path string) *design.Model {
	t.Helper()
	d, diags := design.ReadFile(path)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return build(t, d)
}

func read(t testing.TB, text string) *design.Model {
	t.Helper()
	d, diags := design.Parse([]byte(text), "test.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return build(t, d)
}

func build(t testing.TB, d *design.Design) *design.Model {
	t.Helper()
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return m
}

// BenchmarkLadder4x20 climbs twenty drives at four tones of two chambers and two
// ports; 60 ms is what it may take.
func BenchmarkLadder4x20(b *testing.B) {
	m := open(b, "testdata/dunlin.hcl")
	for b.Loop() {
		if _, err := Predict(m, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
