package signal

import (
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ocarina/tone/recording"
	"ocarina/tone/sinefit"
	"ocarina/wav"
)

var update = flag.Bool("update", false, "write the golden files anew")

// ladder of a made-up box: levels and volts are invented.
func ladder() Plan {
	p := Plan{
		Rate: 48000, Bits: 24, Title: "Dunlin, four trial tones",
		Reference: &Reference{Frequency: 200, Volts: 1},
		Notes:     []string{"Coil: 20 W, reached at 8.1 V.", "Travel: 2.6 mm one way, reached at 6.3 V and 112 Hz."},
	}
	for i, f := range []float64{112, 144, 192, 252} {
		t := Tone{Frequency: f, Resonance: 88, Q: 4}
		for k := range 4 {
			db := 3 * float64(k)
			t.Steps = append(t.Steps, Step{Volts: 0.7 * math.Pow(10, db/20), Level: 78 + db + float64(i)})
		}
		p.Tones = append(p.Tones, t)
	}
	return p
}

func lay(t *testing.T, p Plan) *Ladder {
	t.Helper()
	l, err := Lay(p)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestStepsHoldWholePeriods(t *testing.T) {
	const seed = 3
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 200 {
		p := ladder()
		p.Rate = []int{44100, 48000, 96000}[rng.IntN(3)]
		for i := range p.Tones {
			p.Tones[i].Frequency = 15 + 300*rng.Float64()
		}
		l := lay(t, p)
		at := 0
		for _, c := range l.Pieces {
			periods := float64(c.Hold) * c.Frequency / float64(p.Rate)
			// A sample is the grid: half of one is as near as it gets.
			if off := math.Abs(periods-math.Round(periods)) / c.Frequency * float64(p.Rate); off > 0.5 || c.Periods != int(math.Round(periods)) {
				t.Errorf("seed %d: %g Hz at %d Hz: %g periods (%d said)", seed, c.Frequency, p.Rate, periods, c.Periods)
			}
			least := 1.5
			if c.Tone < 0 {
				least = 20
			}
			if got := float64(c.Hold) / float64(p.Rate); got < least || got > least+20/c.Frequency {
				t.Errorf("seed %d: %g Hz holds %g s", seed, c.Frequency, got)
			}
			if c.Start < at {
				t.Fatalf("seed %d: a piece begins at %d, the last one ended at %d", seed, c.Start, at)
			}
			at = c.Start + c.Settle + c.Hold
		}
		if at > l.Length {
			t.Errorf("seed %d: the last piece ends at %d of %d", seed, at, l.Length)
		}
	}
	// 48 kHz and 112 Hz meet every 7 periods: exactly whole numbers are found.
	if n, k := whole(112, 48000, 72000); n*112 != k*48000 {
		t.Errorf("112 Hz: %d samples, %d periods", n, k)
	}
}

func TestStepsSettle(t *testing.T) {
	// A resonance of Q 12 at 20 Hz, switched on, must be within 0.1 % of its
	// steady amplitude once the settling time is over: 1 − e^{−πft/Q}.
	tone := Tone{Frequency: 60, Resonance: 20, Q: 12}
	if rest := math.Exp(-math.Pi * 20 * tone.settling() / 12); math.Abs(rest-1e-3) > 1e-9 {
		t.Errorf("after settling %g is left", rest)
	}
	if s := (Tone{Frequency: 10, Resonance: 100, Q: 0.1}).settling(); s < 0.2 {
		t.Errorf("settling of %g s is less than two periods", s)
	}
}

func TestSamplesHaveTheLevelsOfThePlan(t *testing.T) {
	p := ladder()
	p.StepGap = 0.4
	for _, bits := range []int{24, 16} {
		p.Bits = bits
		l := lay(t, p)
		x := l.Samples()
		for _, c := range l.Pieces {
			from := c.Start + c.Settle
			m, err := sinefit.New(c.Hold, sinefit.Flat, []float64{2 * math.Pi * c.Frequency / float64(p.Rate)})
			if err != nil {
				t.Fatal(err)
			}
			f := m.Fit(x[from : from+c.Hold])
			rms := math.Hypot(real(f.Phasor[0]), imag(f.Phasor[0]))
			want := c.Volts / l.Plan.FullScale / math.Sqrt2
			// Dither of ±1 step of 2^−15 averages over the step.
			if math.Abs(rms-want) > 1e-9 && (bits == 24 || math.Abs(rms-want) > 1e-6) {
				t.Errorf("%d bits, %g Hz: RMS %.9g, want %.9g", bits, c.Frequency, rms, want)
			}
		}
		if top := 20 * math.Log10(peak(x)); math.Abs(top-p.orDefault().Top) > 0.01 {
			t.Errorf("%d bits: the loudest step reaches %.3f dB, want −1", bits, top)
		}
	}
}

// TestDither: two even noises of half a step each way have no mean and the
// variance of a sixth of a step squared.
func TestDither(t *testing.T) {
	x := make([]float64, 1<<18)
	dither(x, 1)
	var mean, square float64
	for _, v := range x {
		mean += v / float64(len(x))
		square += v * v / float64(len(x))
	}
	if math.Abs(mean) > 0.003 || math.Abs(square*6-1) > 0.01 || peak(x) > 1 {
		t.Errorf("mean %g, variance %g, peak %g", mean, square, peak(x))
	}
}

func peak(x []float64) float64 {
	var p float64
	for _, v := range x {
		p = max(p, math.Abs(v))
	}
	return p
}

// TestNoClicks: nowhere does the wave turn sharper than its tones and fades do.
func TestNoClicks(t *testing.T) {
	for _, gap := range []float64{0, 0.3} {
		p := ladder()
		p.StepGap = gap
		p.Tones = append(p.Tones, Tone{Frequency: 60, Glide: 4, Steps: []Step{{Volts: 0.05}, {Volts: 1.9}}})
		l := lay(t, p)
		x := l.Samples()
		w := 2 * math.Pi * 252 / float64(p.Rate)
		fade := math.Pi / (p.orDefault().Fade * float64(p.Rate))
		most := peak(x) * (w + fade) * (w + fade)
		for i := 1; i+1 < len(x); i++ {
			if bend := math.Abs(x[i-1] - 2*x[i] + x[i+1]); bend > most {
				t.Fatalf("pause %g s: bend of %g at %.4f s, want %g at most", gap, bend, float64(i)/float64(p.Rate), most)
			}
		}
		if x[0] != 0 || x[len(x)-1] != 0 {
			t.Error("the ladder does not begin and end in silence")
		}
	}
}

func TestGlideIsEvenInDecibels(t *testing.T) {
	p := Plan{Rate: 48000, Bits: 32, Float: true, FullScale: 2, Tones: []Tone{
		{Frequency: 100, Glide: 10, Steps: []Step{{Volts: 0.02}, {Volts: 1}}}}}
	l := lay(t, p)
	x := l.Samples()
	c := l.Pieces[0]
	for _, share := range []float64{0.1, 0.5, 0.9} {
		at := c.Start + c.Settle + int(share*float64(c.Hold))
		got := peak(x[at-240 : at+240])
		want := 0.01 * math.Pow(50, share)
		if math.Abs(20*math.Log10(got/want)) > 0.03 {
			t.Errorf("at %g of the glide: %.5f, want %.5f", share, got, want)
		}
	}
}

// TestReaderFindsTheLadder plays a file straight into the reader.
func TestReaderFindsTheLadder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ladder.wav")
	p := ladder()
	p.Bits, p.Channels = 16, 2
	l := lay(t, p)
	if err := l.WriteFile(path); err != nil {
		t.Fatal(err)
	}
	rec, err := wav.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if rec.Rate != 48000 || rec.Bits != 16 || len(rec.Channels) != 2 || len(rec.Channels[0]) != l.Length {
		t.Fatalf("the file has %d channels of %d samples", len(rec.Channels), len(rec.Channels[0]))
	}
	var drives []recording.Drive
	for i, tone := range p.Tones {
		drives = append(drives, recording.Drive{Frequency: tone.Frequency, Levels: l.Drives(i)})
	}
	report, err := recording.Analyse(rec, recording.Options{Channel: 1, Tones: []float64{112, 144, 192, 252}, Drives: drives})
	if err != nil {
		t.Fatal(err)
	}
	if len(report.Tones) != 4 {
		t.Fatalf("%d tones found", len(report.Tones))
	}
	for i, tone := range report.Tones {
		if len(tone.Steps) != 4 {
			t.Fatalf("tone %d: %d steps found", i, len(tone.Steps))
		}
		for k, s := range tone.Steps {
			c := l.Pieces[1+4*i+k]
			if math.Abs(s.Harmonics[0].Level-c.Level) > 0.002 || math.Abs(*s.Compression) > 0.002 {
				t.Errorf("%g Hz, step %d: %.4f dB, compression %.4f; want %.4f and 0", c.Frequency, k, s.Harmonics[0].Level, *s.Compression, c.Level)
			}
			if s.Start < float64(c.Start)/48000 || s.Start+s.Seconds > float64(c.Start+c.Settle+c.Hold)/48000+0.03 {
				t.Errorf("%g Hz, step %d: read from %.3f s for %.3f s, played from %.3f s", c.Frequency, k, s.Start, s.Seconds, float64(c.Start)/48000)
			}
		}
	}
}

func TestSheet(t *testing.T) {
	for name, p := range map[string]Plan{
		"sheet": ladder(),
		"sheet-plain": {Rate: 44100, Bits: 16, Tones: []Tone{
			{Frequency: 40, Steps: []Step{{Volts: 0.5}, {Volts: 1}}},
			{Frequency: 40, Glide: 20, Steps: []Step{{Volts: 0.1}, {Volts: 2}}},
		}},
	} {
		got := lay(t, p).Sheet("ladder.wav")
		path := filepath.Join("testdata", name+".txt")
		if *update {
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", path, diff)
		}
	}
}

func TestLayRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Plan)
		want   string
	}{
		{"no tones", func(p *Plan) { p.Tones = nil }, "tones: found none"},
		{"no steps", func(p *Plan) { p.Tones[1].Steps = nil }, "tone 2: found 0 steps"},
		{"glide of one", func(p *Plan) { p.Tones[0].Glide, p.Tones[0].Steps = 3, p.Tones[0].Steps[:1] }, "want 2 at least"},
		{"rate", func(p *Plan) { p.Rate = 10 }, "sample rate in Hz: found 10"},
		{"bits", func(p *Plan) { p.Bits = 20 }, "found 20, want one of [16 24 32]"},
		{"volts", func(p *Plan) { p.Tones[0].Steps[2].Volts = -1 }, "tone 1, step 3: found -1 V"},
		{"not a number", func(p *Plan) { p.Tones[0].Steps[2].Volts = math.NaN() }, "tone 1, step 3: found NaN V"},
		{"over full scale", func(p *Plan) { p.FullScale = 1.5 }, "want −0.1 at most"},
		{"too high", func(p *Plan) { p.Tones[3].Frequency = 30000 }, "tone 4: frequency in Hz: found 30000"},
		{"calibrator", func(p *Plan) { p.Reference.Frequency = 1010 }, "taken for a microphone's calibrator"},
		{"endless", func(p *Plan) { p.Hold = 500 }, "two hours at most"},
		{"infinite", func(p *Plan) { p.Gap = math.Inf(1) }, "pause between tones"},
	} {
		p := ladder()
		c.change(&p)
		if _, err := Lay(p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	// All that is wrong, at once.
	p := ladder()
	p.Bits, p.Tones[0].Frequency = 7, 0
	if _, err := Lay(p); err == nil || strings.Count(err.Error(), "found") != 2 {
		t.Errorf("two faults: %v", err)
	}
}

func TestLayLeavesThePlanAlone(t *testing.T) {
	p := ladder()
	before := p.Reference.Seconds
	lay(t, p)
	if p.Reference.Seconds != before || p.Channels != 0 {
		t.Error("defaults were written into the caller's plan")
	}
}

func BenchmarkSamples(b *testing.B) {
	l, err := Lay(ladder())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		l.Samples()
	}
}
