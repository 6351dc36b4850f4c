package session

import (
	"strings"
	"testing"

	"ocarina/tone"
)

// TestWhatIsNoPlan: faults of a plan are told in its own words.
func TestWhatIsNoPlan(t *testing.T) {
	for text, want := range map[string]string{
		`[]`: "(array at byte", ``: "(no JSON from byte", `{"tones":[{"frequency_hz":"x"}]}`: "(tones.frequency_hz is string at byte",
	} {
		_, err := Read([]byte(text))
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "json:") {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}

// TestTonesTooClose: a plan whose recording could not be told apart is refused.
func TestTonesTooClose(t *testing.T) {
	m, _ := predicted(t, `xmax = "4 mm"`)
	for second, fits := range map[float64]bool{100: false, 101.4: false, 106: true} {
		l, err := tone.Predict(m, tone.Options{Tones: []float64{100, second}})
		if err != nil {
			t.Fatal(err)
		}
		s := &Session{Rate: 48000, Bits: 24}
		if err := s.Add(m, l, Choice{}); (err == nil) != fits {
			t.Errorf("100 and %g Hz: %v", second, err)
		}
	}
}
