package response

import (
	"math"
	"strings"
	"testing"

	"ocarina/design"
)

func made(t *testing.T, text string) *design.Model {
	t.Helper()
	d, diags := design.Parse([]byte(text), "made.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return m
}

const edgeDriver = `
driver "d" {
  re  = "5 ohm"
  sd  = "200 cm2"
  fs  = "40 Hz"
  vas = "30 L"
  %s
}
chamber "box" { volume = "20 L" }
mount "cone" {
  driver = driver.d
  front  = outside
  rear   = chamber.box
}
`

func edge(driver, rest string) string {
	return strings.Replace(edgeDriver, "%s", driver, 1) + rest
}

// Filters that leave nothing of the signal are told of, not divided by.
func TestFiltersThatLeaveNothing(t *testing.T) {
	filter := "  filter {\n    kind = \"high-pass\"\n    frequency = \"20 kHz\"\n    order = 8\n  }\n"
	m := made(t, edge("qms = 4\n  qes = 0.5", "drive {\n  voltage = \"2.83 V\"\n"+strings.Repeat(filter, 7)+"}\n"))
	if _, err := Explain(m, 5, 2000); err == nil || !strings.Contains(err.Error(), "leave nothing") {
		t.Errorf("explained with %v", err)
	}
	if _, err := Predict(m, []float64{1}); err == nil {
		t.Error("predicted from nothing")
	}
}

// Creep keeps the Qms that qts and qes imply as it keeps a given one.
func TestCreepKeepsImpliedQms(t *testing.T) {
	outright := made(t, edge("qms = 4\n  qes = 0.5\n  creep = 0.1", ""))
	implied := made(t, edge("qts = 0.4444444444444444\n  qes = 0.5\n  creep = 0.1", ""))
	f := []float64{20, 60}
	a, err := Predict(outright, f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Predict(implied, f)
	if err != nil {
		t.Fatal(err)
	}
	for i := range f {
		if math.Abs(a.Level[i]-b.Level[i]) > 1e-9 {
			t.Errorf("at %v Hz: %v and %v dB", f[i], a.Level[i], b.Level[i])
		}
	}
}

// A straight section is the same whether or not its far area is written, and a
// tapered one keeps its drawn mouth, whichever way round the line is drawn.
func TestLineKeepsItsDrawnMouth(t *testing.T) {
	level := func(from, to, section string) float64 {
		m := made(t, edge("qms = 4\n  qes = 0.5", "line \"l\" {\n  from = "+from+"\n  to = "+to+"\n  section {\n    length = \"0.5 m\"\n"+section+"  }\n}\n"))
		p, err := Predict(m, []float64{20})
		if err != nil {
			t.Fatal(err)
		}
		return p.Level[0]
	}
	slit := "    size = [\"200 mm\", \"20 mm\"]\n"
	plain := level("chamber.box", "outside", slit)
	if got := level("chamber.box", "outside", slit+"    to_area = \"40 cm2\"\n    shape = \"straight\"\n"); got != plain {
		t.Errorf("straight with its area written: %v dB, without %v", got, plain)
	}
	round := level("outside", "chamber.box", "    area = \"40 cm2\"\n    to_area = \"50 cm2\"\n    shape = \"conical\"\n")
	if got := level("outside", "chamber.box", slit+"    to_area = \"50 cm2\"\n    shape = \"conical\"\n"); math.Abs(got-round) < 0.01 {
		t.Errorf("a slit at the outside gives %v dB, as the round mouth of its area", got)
	}
}
