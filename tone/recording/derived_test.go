package recording

import (
	"math"
	"testing"

	"ocarina/tone/distortion"
)

// TestDerivedErrors: distortion, asymmetry and offset scatter over many noises as
// their standard errors say. Those of distortion and asymmetry are upper bounds.
func TestDerivedErrors(t *testing.T) {
	h := chord(-10, -40, -50)
	truth := []float64{distortion.OfFundamental(h), distortion.Asymmetry(h), 0.01}
	const runs = 24
	square := make([]float64, len(truth))
	var pure, floor float64
	for seed := uint64(1); seed <= runs; seed++ {
		s := quiet(steps(81.3, 1.2, h), steps(120.7, 1.2, chord(-10)))
		s.rate, s.seed, s.noise, s.offset = 8000, seed, 2e-3, 0.01
		r := analyse(t, s.recording(), Options{})
		step := r.Tones[0].Steps[0]
		for i, v := range []struct{ got, se float64 }{
			{step.OfFundamental, step.Error}, {step.Asymmetry, step.AsymmetryError}, {step.Offset, step.OffsetError},
		} {
			d := (v.got - truth[i]) / v.se
			if !(math.Abs(d) < 3.5) {
				t.Errorf("seed %d: value %d is %.5g, true %.5g: %.1f standard errors", seed, i, v.got, truth[i], d)
			}
			square[i] += d * d / runs
		}
		// A pure tone reads the distortion that its noise makes.
		clean := r.Tones[1].Steps[0]
		pure += clean.OfFundamental * clean.OfFundamental / runs
		floor += clean.Floor * clean.Floor / runs
	}
	// 24 squares know their mean to 30 %.
	for i, least := range []float64{0.25, 0.1, 0.4} {
		if r := math.Sqrt(square[i]); r < least || r > 1.4 {
			t.Errorf("value %d: RMS of error over standard error is %.2f", i, r)
		}
	}
	if r := math.Sqrt(pure / floor); r < 0.8 || r > 1.25 {
		t.Errorf("a pure tone reads %.2f times what its noise floor alone would", r)
	}
}
