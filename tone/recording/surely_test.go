package recording

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"ocarina/tone/distortion"
)

// TestDistortionWithHumOnTheTone: a mains line that cannot be told from the
// fundamental leaves the distortion in doubt as well.
func TestDistortionWithHumOnTheTone(t *testing.T) {
	h := chord(-12, -45, -50)
	played := steps(59.7, 1.9, h, h, h, h)
	played.gaps = 0.4
	s := quiet(played)
	s.noise, s.mains = 3e-6, 59.985
	s.hum = []complex128{cmplx.Rect(db(-62)/root2, 1)}
	for _, step := range analyse(t, s.recording(), Options{}).Tones[0].Steps {
		d := math.Abs(step.OfFundamental - distortion.OfFundamental(h))
		if d > 3*step.Error {
			t.Errorf("%.1f s: THD off by %.2g, its standard error %.2g", step.Start, d, step.Error)
		}
	}
}

// TestOffsetInWind: noise that rises towards zero moves the mean more than its
// density at the tone tells.
func TestOffsetInWind(t *testing.T) {
	const tones = 16
	far, square := 0.0, 0.0
	for seed := uint64(1); seed <= tones; seed++ {
		s := quiet(steps(63, 1.5, chord(-10), chord(-8), chord(-6)))
		s.rate, s.offset = 8000, 0.01
		x := s.samples()
		rng := rand.New(rand.NewPCG(seed, 3))
		// 1/f, as the sum of noises with a corner in every octave from 0.05 Hz up.
		for f := 0.05; f < 4000; f *= 2 {
			pole := math.Exp(-2 * math.Pi * f / 8000)
			gain, y := 1e-3*math.Sqrt(1-pole*pole), 0.0
			for range int(8000 / f) {
				y = pole*y + gain*rng.NormFloat64()
			}
			for i := range x {
				y = pole*y + gain*rng.NormFloat64()
				x[i] += y
			}
		}
		for _, step := range analyse(t, recordingOf(8000, x), Options{}).Tones[0].Steps {
			d := (step.Offset - 0.01) / step.OffsetError
			far, square = math.Max(far, math.Abs(d)), square+d*d/(3*tones)
		}
	}
	// The lowest end is known from five values only, so some stray far.
	if r := math.Sqrt(square); r > 1.5 || r < 0.2 || far > 5 {
		t.Errorf("RMS of error over standard error is %.2f, at most %.1f", r, far)
	}
}

// TestNothingRattles: a recording without any noise shows its rounding between
// the harmonics, and that is no rattle.
func TestNothingRattles(t *testing.T) {
	for _, bits := range []int{16, 24, 0} {
		h := func(level float64) []complex128 { return chord(level, level-40, level-40, level-40) }
		s := quiet(steps(60, 1, h(-20), h(-14), h(-8)))
		s.noise, s.bits = 0, bits
		for i, step := range analyse(t, s.recording(), Options{}).Tones[0].Steps {
			if step.Rattle {
				t.Errorf("%d bits, step %d: between %.2g, above %.2g, crest %.1f", bits, i+1, step.Between, step.Above, step.Crest)
			}
		}
	}
}

// TestLowStepsBesideHum: the long window that tells a mains line from the tone has
// a step in most of its values, and the steps are found all the same.
func TestLowStepsBesideHum(t *testing.T) {
	var rising [][]complex128
	for i := range 6 {
		level := -22.8 + 2.14*float64(i)
		rising = append(rising, chord(level, level-45, level-30))
	}
	s := quiet(steps(60.91, 1.77, rising...))
	s.noise, s.mains = 3e-5, 60.014
	s.hum = []complex128{cmplx.Rect(db(-66)/root2, 1), cmplx.Rect(db(-70)/root2, 2)}
	got := analyse(t, s.recording(), Options{}).Tones[0].Steps
	if len(got) != len(rising) {
		t.Fatalf("%d steps, want %d", len(got), len(rising))
	}
	for i, step := range got {
		want := cmplx.Abs(rising[i][0])
		if d := math.Abs(step.Harmonics[0].RMS - want); d > 3*step.Harmonics[0].Error {
			t.Errorf("step %d: off by %.2g, standard error %.2g", i+1, d, step.Harmonics[0].Error)
		}
	}
}

// TestHumLeaksIntoShortSteps: a fit without a window hears a mains line in every
// harmonic, and says so in their errors.
func TestHumLeaksIntoShortSteps(t *testing.T) {
	steps := 0
	for seed := range 12 {
		h := func(level float64) []complex128 {
			return chord(level, level-35, level-60, level-80, level-70, level-50, level-75)
		}
		played := playedTone{frequency: 16.2 + 0.15*float64(seed), hold: 1.1, steps: [][]complex128{h(-20), h(-16), h(-12)}}
		played.gaps = 0.4
		s := quiet(played)
		s.noise, s.mains, s.seed = 1e-5, 50.01, uint64(seed)
		s.hum = []complex128{cmplx.Rect(db(-50)/root2, float64(seed))}
		r, err := Analyse(s.recording(), Options{})
		if err != nil {
			continue // too short beside its hum to be read at all
		}
		for i, step := range r.Tones[0].Steps {
			if step.Method != "synchronous" || len(r.Tones[0].Steps) != len(played.steps) {
				continue
			}
			steps++
			for k, h := range step.Harmonics {
				var want float64
				if k < len(played.steps[i]) {
					want = cmplx.Abs(played.steps[i][k])
				}
				if d := math.Abs(h.RMS - want); d > 3*h.Error {
					t.Errorf("%.2f Hz, step %d, harmonic %d: off by %.2g, standard error %.2g", played.frequency, i+1, k+1, d, h.Error)
				}
			}
		}
	}
	if steps < 9 {
		t.Errorf("only %d steps were read", steps)
	}
}
