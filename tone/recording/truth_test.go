package recording

import (
	"math"
	"math/cmplx"
	"testing"
)

// deep are harmonics from −20 dB to −90 dB under a fundamental of −6 dB.
func deep(fundamental float64) []complex128 {
	levels := []float64{0, -20, -35, -50, -60, -70, -75, -80, -85, -90}
	for i := range levels {
		levels[i] += fundamental
	}
	return chord(levels...)
}

// scenes are recordings as the truth requirement wants them: harmonics down to
// −90 dB, frequencies between bins, a sample-rate error of 0.05 %, hum, and
// noise 40 dB below the fundamental.
func scenes() map[string]scene {
	base := scene{
		rate: 48000, clock: 1.0005, lead: 1.3, tail: 1.1, gap: 0.8, fade: 0.03,
		noise: db(-46) / root2, mains: 50.013,
		hum: []complex128{cmplx.Rect(db(-55)/root2, 1), 0, cmplx.Rect(db(-62)/root2, 2), 0, cmplx.Rect(db(-70)/root2, 0.4)},
	}
	out := map[string]scene{}
	add := func(name string, change func(*scene)) {
		s := base
		change(&s)
		out[name] = s
	}
	one := func(f, hold float64, levels ...float64) playedTone {
		t := playedTone{frequency: f, hold: hold}
		for _, l := range levels {
			t.steps = append(t.steps, deep(l))
		}
		return t
	}
	add("one long tone", func(s *scene) { s.tones = []playedTone{one(37.37, 20, -6)} })
	add("one tone from edge to edge", func(s *scene) {
		s.lead, s.tail, s.fade = 0, 0, 0
		s.tones = []playedTone{one(61.803, 8, -6)}
	})
	add("four tones, six steps", func(s *scene) {
		for _, f := range []float64{33.51, 57.13, 83.77, 112.29} {
			s.tones = append(s.tones, one(f, 2.5, -26, -22, -18, -14, -10, -6))
		}
	})
	add("four tones, 44.1 kHz, 24 bits", func(s *scene) {
		s.rate, s.bits = 44100, 24
		for _, f := range []float64{112.4, 143.9, 192.3, 251.7} {
			s.tones = append(s.tones, one(f, 2, -18, -12, -6))
		}
	})
	add("pauses between steps", func(s *scene) {
		t := one(44.44, 1.5, -15, -12, -9, -6)
		t.gaps = 0.7
		s.tones = []playedTone{t}
	})
	add("hum on a harmonic", func(s *scene) {
		s.mains = 50.01
		s.tones = []playedTone{one(25, 3, -12, -6), one(50, 3, -12, -6)}
	})
	add("hum two bins beside a harmonic", func(s *scene) {
		s.tones = []playedTone{one(49.3, 3, -12, -6), one(75.6, 3, -12, -6)}
	})
	add("hum closer to the tone than its steps can tell", func(s *scene) {
		t := one(99.1, 0.95, -16, -12, -8)
		t.gaps = 0.25
		s.mains, s.hum = 50, []complex128{cmplx.Rect(db(-60)/root2, 1), cmplx.Rect(db(-54)/root2, 2), cmplx.Rect(db(-65)/root2, 0)}
		s.tones = []playedTone{t}
	})
	add("hum in the pauses beside the tone", func(s *scene) {
		t := one(301.6, 2.2265, -13.6, -11.6, -9.6, -7.5, -5.5, -3.4)
		t.gaps = 0.3
		s.rate, s.clock, s.noise, s.lead, s.tail, s.fade = 44100, 0.9994, db(-48)/root2, 0.8, 0.85, 0.01
		s.mains, s.hum = 60.011, []complex128{cmplx.Rect(1.5e-4, 1), cmplx.Rect(1.5e-4, 2), cmplx.Rect(4.5e-4, 0), cmplx.Rect(1.5e-4, 4), cmplx.Rect(2.2e-3, 5)}
		s.tones = []playedTone{t}
	})
	add("settling", func(s *scene) {
		s.settling = 0.15
		s.tones = []playedTone{one(31.7, 4, -12, -9, -6)}
	})
	add("short steps", func(s *scene) {
		s.fade = 0.01
		s.tones = []playedTone{one(83.1, 0.6, -12, -10, -8, -6)}
	})
	add("96 kHz, mains of 60 Hz", func(s *scene) {
		s.rate, s.mains = 96000, 59.98
		s.tones = []playedTone{one(71.7, 3, -6, -9, -12)}
	})
	add("rumble instead of white noise", func(s *scene) {
		s.rumble = true
		s.tones = []playedTone{one(27.3, 4, -12, -6), one(63.9, 4, -12, -6)}
	})
	add("offset, 8 kHz, downwards", func(s *scene) {
		s.rate, s.offset = 8000, 0.05
		s.tones = []playedTone{one(41.9, 3, -6, -9, -12)}
	})
	add("half a decibel a step", func(s *scene) {
		s.tones = []playedTone{one(66.6, 3, -8, -7.5, -7, -6.5, -6)}
	})
	return out
}

// TestHarmonicsAreTrue is the promise of this package: every harmonic within
// three of its stated standard errors, and within 0.1 dB where it stands 45 dB
// or more above the floor in the analysis band.
func TestHarmonicsAreTrue(t *testing.T) {
	var scatter, count float64
	for name, s := range scenes() {
		s.seed = 1
		report, err := Analyse(s.recording(), Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		q, n := compare(t, name, s, report)
		scatter, count = scatter+q, count+n
	}
	// The stated error is an upper bound, but not an idle one: for strong
	// harmonics the RMS of error over standard error is 0.7.
	r := math.Sqrt(scatter / count)
	t.Logf("RMS of error over standard error: %.3f of %.0f harmonics", r, count)
	if r < 0.4 || r > 1 {
		t.Errorf("RMS of error over standard error is %.3f: the standard errors are not what they say", r)
	}
}

// compare checks a report against its scene and returns the sum of squares of
// error over standard error, with the number of harmonics.
func compare(t *testing.T, name string, s scene, report *Report) (square, count float64) {
	t.Helper()
	if len(report.Tones) != len(s.tones) {
		t.Errorf("%s: %d tones found, %d played", name, len(report.Tones), len(s.tones))
		return 0, 0
	}
	for i, tone := range s.tones {
		l := report.Tones[i]
		f := tone.frequency * s.clock
		if d := math.Abs(l.Frequency - f); d > 4*l.FrequencyError || d > 1e-3*f {
			t.Errorf("%s: %.6f Hz ± %.1g, played %.6f", name, l.Frequency, l.FrequencyError, f)
		}
		if len(l.Steps) != len(tone.steps) {
			t.Errorf("%s: %.4g Hz: %d steps found, %d played", name, f, len(l.Steps), len(tone.steps))
			for _, st := range l.Steps {
				t.Logf("   %.2f s + %.2f s: %.2f dB", st.Start, st.Seconds, st.Harmonics[0].Level)
			}
			continue
		}
		for k, step := range l.Steps {
			for m, h := range step.Harmonics {
				want := cmplx.Abs(tone.steps[k][m])
				off := h.RMS - want
				if math.Abs(off) > 3*h.Error {
					t.Errorf("%s: %.4g Hz, step %d, harmonic %d: %.4g, true %.4g: %.1f standard errors", name, f, k+1, m+1, h.RMS, want, off/h.Error)
				}
				if d := decibel(h.RMS / want); want > h.Floor*db(45) && !h.Hum && math.Abs(d) > 0.1 {
					t.Errorf("%s: %.4g Hz, step %d, harmonic %d is %.3f dB off, %.0f dB above its floor", name, f, k+1, m+1, d, decibel(want/h.Floor))
				}
				if !h.Hum {
					square += off * off / (h.Error * h.Error)
					count++
				}
			}
		}
	}
	return square, count
}
