package decimate

import (
	"math"
	"testing"
)

func tone(n int, f, rate, phase float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Cos(2*math.Pi*f/rate*float64(i) + phase)
	}
	return x
}

func db(v float64) float64 { return 20 * math.Log10(math.Abs(v)) }

// TestToneKeepsGainAndPhase: a tone in the pass band comes out as itself times
// Gain, which is within 0.01 dB of 1.
func TestToneKeepsGainAndPhase(t *testing.T) {
	const rate, n = 48000.0, 1 << 17
	for _, f := range []float64{0, 17, 60, 131.7, 399, 1100, 2300, 4700} {
		levels := Halve(tone(n, f, rate, 0.7), rate, 700)
		if len(levels) != 7 {
			t.Fatalf("%d levels", len(levels))
		}
		for k, l := range levels {
			if f > l.Pass {
				continue
			}
			g := l.Gain(f)
			if math.Abs(db(g)) > 0.01 {
				t.Errorf("level %d: gain %.4f dB at %g Hz", k, db(g), f)
			}
			edge := int(l.Blur*l.Rate) + 1
			for i := edge; i < len(l.X)-edge; i++ {
				want := g * math.Cos(2*math.Pi*f/l.Rate*float64(i)+0.7)
				if math.Abs(l.X[i]-want) > 1e-10 {
					t.Fatalf("level %d, %g Hz: sample %d is %g, want %g", k, f, i, l.X[i], want)
				}
			}
		}
	}
}

// TestWhatFoldsIsGone: tones that would fold onto a level's pass band are down
// by the promised 120 dB.
func TestWhatFoldsIsGone(t *testing.T) {
	const rate = 48000.0
	levels := Halve(make([]float64, 1<<12), rate, 700)
	for k, l := range levels[1:] {
		for f := l.Rate - l.Pass; f < rate/2; f += 7.3 {
			folded := math.Abs(f - l.Rate*math.Round(f/l.Rate))
			if folded > l.Pass {
				continue
			}
			if g := db(l.Gain(f)); g > -stop {
				t.Errorf("level %d: %g Hz folds to %g Hz at %.1f dB", k+1, f, folded, g)
				break
			}
		}
	}
}

func TestFor(t *testing.T) {
	levels := Halve(make([]float64, 48000), 48000, 1000)
	for _, c := range []struct{ f, rate float64 }{{100, 1500}, {599, 1500}, {601, 3000}, {4800, 12000}, {5000, 48000}, {30000, 48000}} {
		if got := For(levels, c.f).Rate; got != c.rate {
			t.Errorf("up to %g Hz: rate %g, want %g", c.f, got, c.rate)
		}
	}
}

func TestShort(t *testing.T) {
	for n := range 5 {
		for _, l := range Halve(make([]float64, n), 48000, 10) {
			for _, v := range l.X {
				if v != 0 {
					t.Error("silence is no longer silent")
				}
			}
		}
	}
}

func BenchmarkHalve(b *testing.B) {
	x := tone(10*60*48000, 50, 48000, 0)
	for b.Loop() {
		Halve(x, 48000, 700)
	}
}
