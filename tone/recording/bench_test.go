package recording

import "testing"

// BenchmarkTenMinutes reads ten minutes at 48 kHz: four tones of twenty steps.
func BenchmarkTenMinutes(b *testing.B) {
	s := scenes()["four tones, six steps"]
	s.seed, s.tones = 1, nil
	for _, f := range []float64{33.51, 57.13, 83.77, 112.29} {
		t := playedTone{frequency: f, hold: 7.4}
		for l := -44.0; l <= -6; l += 2 {
			t.steps = append(t.steps, deep(l))
		}
		s.tones = append(s.tones, t)
	}
	rec := s.recording()
	b.ReportMetric(rec.Duration(), "s-of-sound")
	b.ResetTimer()
	for b.Loop() {
		r, err := Analyse(rec, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if len(r.Tones) != 4 || len(r.Tones[3].Steps) < 19 {
			b.Fatalf("%d tones, %d steps", len(r.Tones), len(r.Tones[3].Steps))
		}
	}
}
