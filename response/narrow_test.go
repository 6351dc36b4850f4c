package response

import (
	"math"
	"testing"

	"ocarina/design"
)

// A dip and a peak of 3 dB three quarters of a per cent apart are found wherever
// the scan happens to set its points.
func TestNarrowPairIsNeverMissed(t *testing.T) {
	const text = `
driver "d" {
  re = "4.41953 ohm"
  le = "0.587466 mH"
  fs = "37.7949 Hz"
  qms = 4.28708
  qes = 0.59336
  vas = "112.423 L"
  sd = "311.392 cm2"
}
chamber "a" { volume = "96.913798 L" }
chamber "b" { volume = "53.095431 L" }
chamber "c" { volume = "38.846488 L" }
mount "cone" {
  driver = driver.d
  front = outside
  rear = chamber.a
}
port "p" {
  from = chamber.a
  to = chamber.b
  diameter = "114.5365 mm"
  length = "116.19272 mm"
}
port "q" {
  from = chamber.a
  to = chamber.c
  diameter = "74.983475 mm"
  length = "107.39157 mm"
}
port "r" {
  from = chamber.c
  to = outside
  diameter = "65.627976 mm"
  length = "126.81122 mm"
}`
	d, diags := design.Parse([]byte(text), "narrow.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	b := NewBench(m)
	var want []float64 // where a dense sweep turns
	last := 0.0
	for f := 10.0; f < 200; f *= 1.0001 {
		s, err := b.scanAt(f)
		if err != nil {
			t.Fatal(err)
		}
		if last != 0 && (s.tilt > 0) != (last > 0) {
			want = append(want, f)
		}
		last = s.tilt
	}
	if len(want) != 7 || want[4] > 1.01*want[3] {
		t.Fatalf("a dense sweep turns at %v: the test was made for a narrow pair", want)
	}
	for n := range 60 {
		got, err := b.Features(10*math.Exp(float64(n)*3e-4), 200)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(want) {
			t.Errorf("scan %d finds %d features, a dense sweep %d", n, len(got), len(want))
		}
	}
}
