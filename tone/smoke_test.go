package tone

import (
	"fmt"
	"testing"

	"ocarina/design"
)

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

func TestSmoke(t *testing.T) {
	l, err := Predict(open(t, "testdata/dunlin.hcl"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range l.Tones {
		fmt.Println(x.Reading)
		for _, s := range x.Steps {
			m := s.Mounts["cone"]
			fmt.Printf("  %.3f V %.2f dB h2 %v h3 %v thd %.4f comp %.3f out %.3f in %.3f off %.4f T %.0f P %.2f ports %v beyond %v\n", s.Voltage, *s.Level, rel(s, 1), rel(s, 2), s.THD, s.Compression, m.Outward, m.Inward, m.Offset, m.Temperature, m.Power, s.Ports, s.Beyond)
		}
	}
	fmt.Println(l.Reading, l.Cautions, l.Assumed)
}
func rel(s Step, k int) string {
	if s.Harmonics[k] == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f", *s.Harmonics[k]-*s.Harmonics[0])
}

func BenchmarkLadder4x20(b *testing.B) {
	m := open(b, "testdata/dunlin.hcl")
	for b.Loop() {
		if _, err := Predict(m, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
