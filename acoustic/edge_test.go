package acoustic

import (
	"math"
	"testing"
)

// Inlets flush with a wall, Idelchik, Handbook of Hydraulic Resistance, diagram
// 3-3, r/D against the coefficient; the table from memory, to its two digits.
func TestRoundedEdgeAgainstTable(t *testing.T) {
	for _, row := range [][2]float64{{0, 0.5}, {0.02, 0.37}, {0.04, 0.26}, {0.06, 0.20}, {0.08, 0.15}, {0.12, 0.09}, {0.16, 0.06}} {
		if got := RoundedEdge(row[0]).In; math.Abs(got-row[1]) > 0.0105 {
			t.Errorf("r/D %g: %.4f, want %g", row[0], got, row[1])
		}
	}
}

func TestEdgesAreOrdered(t *testing.T) {
	if RoundedEdge(0) != SharpEdge || FlaredEdge(0) != SharpEdge {
		t.Error("an edge of no radius is not sharp")
	}
	last := SharpEdge
	for r := 0.01; r < 2; r *= 1.3 {
		e := FlaredEdge(r)
		if !(e.In < last.In) || !(e.Out < last.Out) || !(e.Out > 0.5) || !(e.In > 0) {
			t.Errorf("flare of %g: %+v after %+v", r, e, last)
		}
		last = e
	}
}
