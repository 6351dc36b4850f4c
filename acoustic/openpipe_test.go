package acoustic

import (
	"math"
	"strings"
	"testing"
)

// At low ka the pipe radiates like a source in the full space: the radiated
// part 1 − |R|² is (ka)², half of a flanged pipe's.
func TestUnflangedPipeLow(t *testing.T) {
	for _, ka := range []float64{1e-7, 1e-5, 9e-5, 1e-3, 1e-2} {
		R, d := UnflangedPipe(ka)
		if ka > 1e-6 {
			near(t, "(1 − |R|)/(ka)²", (1-R)/(ka*ka), 0.5, 0.5*ka+2e-16/(ka*ka))
		}
		near(t, "δ/a", d, 0.612701, 2e-6+ka*ka*6)
	}
	if R, _ := UnflangedPipe(0); R != 1 {
		t.Errorf("|R| at 0 is %v", R)
	}
}

func TestUnflangedPipeRange(t *testing.T) {
	if R, d := UnflangedPipe(math.Nextafter(UnflangedLimit, 0)); !(R > 0 && R < 0.1 && d > 0 && d < 0.2) {
		t.Errorf("at the limit: %v, %v", R, d)
	}
	for _, ka := range []float64{-0.1, UnflangedLimit, math.NaN()} {
		func() {
			defer func() {
				if s, _ := recover().(string); !strings.Contains(s, "needs 0 ≤ ka < 3.8317") {
					t.Errorf("ka = %g: panicked with %q", ka, s)
				}
			}()
			UnflangedPipe(ka)
		}()
	}
}

// Values of I1·K1 in Abramowitz & Stegun table 9.8, as e^{−x}I1·e^{x}K1
// (from memory, confirmed to 1e-13 with a general numerical library).
func TestProductI1K1(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{
		{0.001, 0.4999981815778101}, {0.1, 0.4933083610063432}, {1, 0.34017335090486744},
		{5, 0.09842826541306768}, {19.99, 0.024988977874048832}, {20.01, 0.024964048459362568}, {50, 0.009998499436511724},
	} {
		if e := math.Abs(productI1K1(c.x)/c.want - 1); !(e < 1e-10) {
			t.Errorf("I1·K1(%g) is off by %.1e", c.x, e)
		}
	}
	// both ways through the small-argument switch
	below := departure(tiny)
	near(t, "ln 2·I1·K1", below/math.Log(2*productI1K1(tiny)), 1, 1e-7)
}
