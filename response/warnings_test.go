package response

import (
	"strings"
	"testing"
)

// A slit is told of below the frequency at which ten boundary layers √(2μ/(ρω))
// fill it, be it a port or one section of a line, drawn from either end: 2 mm in
// air of 20 °C at 120 Hz (μ 1.81e-5 Pa s, ρ 1.20 kg/m³ from handbooks).
func TestSlitsAreToldOf(t *testing.T) {
	port := `port "p" {
  from   = chamber.box
  to     = outside
  size   = ["%[1]s", "80 mm"]
  length = "100 mm"
}
`
	line := `line "l" {
  from = chamber.box
  to   = %[2]s
  section {
    length = "100 mm"
    area   = "20 cm2"
  }
  section {
    length = "100 mm"
    size   = ["80 mm", "%[1]s"]
  }
}
`
	for _, c := range []struct {
		part, side, to, want string
		low                  float64
	}{
		{port, "2 mm", "outside", "p is 2 mm narrow, under ten boundary layers below 120 Hz", 100},
		{port, "2 mm", "outside", "", 122},
		{line, "2 mm", "outside", "section 2 of l is 2 mm narrow, under ten boundary layers below 120 Hz", 100},
		{line, "2 mm", "closed", "section 2 of l is 2 mm narrow, under ten boundary layers below 120 Hz", 100},
		{line, "2 mm", "outside", "", 122},
		{line, "20 mm", "outside", "", 10},
	} {
		part := strings.ReplaceAll(strings.ReplaceAll(c.part, "%[1]s", c.side), "%[2]s", c.to)
		m := made(t, edge("qms = 5\nqes = 0.5", part))
		var got []string
		for _, s := range Limits(m, c.low, c.low) {
			if strings.Contains(s, "boundary layers") {
				got = append(got, s)
			}
		}
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.HasPrefix(got[0], c.want)) {
			t.Errorf("%s from %g Hz: %q, want %q", part, c.low, got, c.want)
		}
	}
}
