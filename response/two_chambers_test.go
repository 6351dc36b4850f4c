package response

import (
	"math"
	"math/cmplx"
	"testing"
)

// dunlin is the example of the design file: two ported chambers in series.
const dunlin = "../design/testdata/good/dunlin.hcl"

// What any builder of such a box finds on the bench, from 40 to 500 Hz: the
// impedance has three peaks and between them two dips, then the coil's; at the
// dips the cone is stillest; and a little above the lower dip the box is louder
// than at it. Common practice, no source; 3 %, 7 % and 1 dB are chosen.
func TestTwoChambersInSeries(t *testing.T) {
	b := NewBench(open(t, dunlin))
	var peaks, dips, still []float64
	size := func(f float64) float64 { return cmplx.Abs(b.solved(t, f).Impedance(0)) }
	excursion := func(f float64) float64 {
		return cmplx.Abs(b.solved(t, f).Excursion(b.Model.Mounts[0].Diaphragm))
	}
	level := func(f float64) float64 { return Level(b.solved(t, f).Pressure()) }
	const step = 1.001
	for f := 40.0; f < 500; f *= step {
		// turns is 1 at a maximum, −1 at a minimum, 0 elsewhere.
		turns := func(what func(float64) float64) int {
			before, at, after := what(f/step), what(f), what(f*step)
			switch {
			case at > before && at > after:
				return 1
			case at < before && at < after:
				return -1
			}
			return 0
		}
		switch turns(size) {
		case 1:
			peaks = append(peaks, f)
		case -1:
			dips = append(dips, f)
		}
		if turns(excursion) == -1 {
			still = append(still, f)
		}
	}
	t.Logf("peaks %.1f, dips %.1f, stillest %.1f Hz", peaks, dips, still)
	// The coil's dip, if it lies in the band, is the last.
	if n := len(dips); n == 3 && dips[2] > peaks[len(peaks)-1] {
		dips = dips[:2]
	}
	if len(peaks) != 3 || len(dips) != 2 || len(still) != 2 {
		t.Fatalf("peaks at %.1f, dips at %.1f, the cone stillest at %.1f Hz", peaks, dips, still)
	}
	for i, f := range dips {
		if !(peaks[i] < f && f < peaks[i+1]) {
			t.Errorf("the dip at %.1f Hz does not lie between the peaks at %.1f", f, peaks)
		}
		if off := still[i]/f - 1; math.Abs(off) > 0.03 {
			t.Errorf("the cone is stillest at %.2f Hz, the dip lies at %.2f Hz", still[i], f)
		}
	}
	if more := level(1.07*dips[0]) - level(dips[0]); !(more >= 1) {
		t.Errorf("%.2f dB more 7 %% above the lower dip", more)
	}
}
