package response

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ocarina/air"
)

// A slit under ten boundary layers, δ = √(2μ/(ρω)), is told of up to the
// frequency where it is just ten, whichever part it is in.
func TestNarrowSlits(t *testing.T) {
	const side = 0.002
	m := air.Reference()
	edge := 100 * m.Viscosity / (math.Pi * m.Density * side * side) // side = 10 δ
	const box = `
driver "u" {
  re  = "5 ohm"
  sd  = "200 cm2"
  fs  = "35 Hz"
  qms = 5
  qes = 0.5
  vas = "40 L"
}
chamber "c" { volume = "30 L" }
mount "a" {
  driver = driver.u
  front  = outside
  rear   = chamber.c
}
`
	slit := `size = ["2 mm", "300 mm"]`
	line := func(from, to, first, second string) string {
		return fmt.Sprintf("line \"gap\" {\n from = %s\n to = %s\n section {\n length = \"0.3 m\"\n %s\n }\n section {\n length = \"0.3 m\"\n %s\n }\n}", from, to, first, second)
	}
	for name, text := range map[string]string{
		"gap is 2":              "port \"gap\" {\n from = chamber.c\n to = outside\n length = \"0.3 m\"\n " + slit + "\n}",
		"section 1 of gap is 2": line("chamber.c", "outside", slit, `area = "20 cm2"`),
		"section 2 of gap is 2": line("chamber.c", "outside", `area = "20 cm2"`, slit),
		// Drawn from its closed end, or to it: the sections keep their numbers.
		"section 1 of gap is 2 ": line("chamber.c", "closed", slit, `area = "20 cm2"`),
		"section 2 of gap is 2 ": line("closed", "chamber.c", `area = "20 cm2"`, slit),
	} {
		model := buildText(t, box+text)
		for _, f := range []float64{edge * 0.98, edge * 1.02} {
			said := strings.Join(NewBench(model).Warnings([]float64{f, 2 * f}), "\n")
			if told := strings.Contains(said, strings.TrimSpace(name)+" mm narrow"); told != (f < edge) {
				t.Errorf("%q at %.4g Hz, ten layers at %.4g: %q", name, f, edge, said)
			}
		}
	}
	round := strings.ReplaceAll(line("chamber.c", "outside", `diameter = "2 mm"`, `area = "20 cm2"`), "gap", "pipe")
	if said := NewBench(buildText(t, box+round)).Warnings([]float64{10}); strings.Contains(strings.Join(said, ""), "narrow") {
		t.Errorf("a round pipe: %q", said)
	}
}
