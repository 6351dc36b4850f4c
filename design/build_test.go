package design

import (
	"testing"

	"github.com/hashicorp/hcl/v2"
)

// What only building finds out is told with its place in the file: the block of
// the part that has to give way.
func TestBuildTellsWhere(t *testing.T) {
	const box = `driver "d" {
  re  = "5 ohm"
  sd  = "200 cm2"
  fs  = "40 Hz"
  qms = 5
  qes = 0.5
  vas = "30 L"
}
mount "cone" {
  driver   = driver.d
  front    = outside
  rear     = chamber.box
  position = ["0 m", "0 m", "0 m"]
}
`
	for _, c := range []struct {
		text, summary string
		line          int
		severity      hcl.DiagnosticSeverity
	}{
		{box + `chamber "box" { volume = "20 L" }
port "p" {
  from     = chamber.box
  to       = outside
  diameter = "5 cm"
  length   = "5 cm"
  position = ["5 cm", "0 m", "0 m"]
}
`, "Openings overlap", 16, hcl.DiagError},
		{box + `chamber "box" {
  volume  = "20 L"
  gross   = true
  bracing = "21 L"
}
`, "No air left in a chamber", 15, hcl.DiagError},
		{"air {\n temperature = \"-40 C\"\n}\n" + box + "chamber \"box\" { volume = \"20 L\" }\n", "Air out of range", 1, hcl.DiagError},
		{"driver \"e\" {\n re = \"1 ohm\"\n sd = \"1 cm2\"\n fs = \"40 Hz\"\n}\n" + box + "chamber \"box\" { volume = \"20 L\" }\n", "Data are missing", 1, hcl.DiagError},
	} {
		d, diags := Parse([]byte(c.text), "made.hcl")
		if diags.HasErrors() {
			t.Error(c.summary, diags)
			continue
		}
		_, diags = Build(d)
		if len(diags) != 1 || diags[0].Summary != c.summary || diags[0].Severity != c.severity {
			t.Errorf("%s: %v", c.summary, diags)
			continue
		}
		if at := diags[0].Subject; at == nil || at.Filename != "made.hcl" || at.Start.Line != c.line {
			t.Errorf("%s points at %v, want line %d", c.summary, at, c.line)
		}
	}
}
