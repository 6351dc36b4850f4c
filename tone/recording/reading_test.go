package recording

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"ocarina/sound"
	"ocarina/tone/distortion"
	"ocarina/wav"
)

// quiet is a scene without hum and almost without noise.
func quiet(tones ...playedTone) scene {
	return scene{rate: 48000, clock: 1, seed: 1, lead: 0.8, tail: 0.8, gap: 0.8, fade: 0.02, noise: 1e-7, tones: tones}
}

// steps of one tone, each with its harmonics.
func steps(f, hold float64, h ...[]complex128) playedTone {
	return playedTone{frequency: f, hold: hold, steps: h}
}

func analyse(t *testing.T, rec *wav.Recording, o Options) *Report {
	t.Helper()
	r, err := Analyse(rec, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near3(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

func recordingOf(rate int, channels ...[]float64) *wav.Recording {
	return &wav.Recording{Rate: rate, Bits: 32, Float: true, Channels: channels, Clipped: make([]int, len(channels))}
}

// TestPolynomial: x + a2·x² + a3·x³ of a cosine has H1 = 1 + 3a3/4, H2 = a2/2,
// H3 = a3/4 and the mean a2/2 (trigonometric identity); its top is 1 + a2 + a3
// and its bottom −1 + a2 − a3, less the mean.
func TestPolynomial(t *testing.T) {
	const rate, f, a2, a3, scale = 48000, 43.21, 0.1, 0.1, 0.4
	x := make([]float64, 4*rate)
	for i := range x {
		c := math.Cos(2 * math.Pi * f * float64(i) / rate)
		x[i] = scale * (c + a2*c*c + a3*c*c*c)
	}
	s := analyse(t, recordingOf(rate, x), Options{}).Tones[0].Steps[0]
	for i, want := range []float64{1.075, 0.05, 0.025, 0} {
		near3(t, "harmonic", s.Harmonics[i].RMS, scale*want/root2, 1e-9)
	}
	near3(t, "offset", s.Offset, scale*a2/2, 1e-8)
	near3(t, "top", s.Top, scale*(1+a2+a3-a2/2), 1e-5)
	near3(t, "bottom", s.Bottom, scale*(-1+a2-a3-a2/2), 1e-5)
	near3(t, "asymmetry", s.Asymmetry, 0.1/2.2, 1e-5)
	near3(t, "THD of the fundamental", s.OfFundamental, math.Hypot(0.05, 0.025)/1.075, 1e-8)
	near3(t, "THD of the total", s.OfTotal, math.Hypot(0.05, 0.025)/math.Sqrt(1.075*1.075+0.05*0.05+0.025*0.025), 1e-8)
	near3(t, "THD+N", s.Noise, s.OfTotal, 1e-6)
	if d := cmplx.Abs(s.Phasors[1] - complex(scale*0.05/root2, 0)); d > 1e-8 {
		t.Errorf("second harmonic %v, want it in phase with the fundamental", s.Phasors[1])
	}
}

// TestNoiseAndDistortion: THD+N by its definition, from noise of known RMS.
func TestNoiseAndDistortion(t *testing.T) {
	s := quiet(steps(61.3, 8, chord(-6, -36)))
	s.noise = 0.002
	got := analyse(t, s.recording(), Options{}).Tones[0].Steps[0]
	h1, h2 := db(-6)/root2, db(-36)/root2
	rest := h2*h2 + s.noise*s.noise
	// 384 000 samples of noise know their RMS to 0.1 %.
	near3(t, "THD+N", got.Noise, math.Sqrt(rest/(rest+h1*h1)), 3e-3*got.Noise)
	near3(t, "THD+N of the fundamental", got.NoiseOver, math.Sqrt(rest)/h1, 3e-3*got.Noise)
	// White noise: what lies from ½ to 10½ times the tone, and above.
	band := s.noise * math.Sqrt(10*61.3/24000)
	near3(t, "between", got.Between, band, 0.05*band)
	near3(t, "above", got.Above, s.noise*math.Sqrt(1-10.5*61.3/24000), 0.01*s.noise)
	// The floor of a Hann-windowed fit is √(1.5·S/T).
	floor := s.noise * math.Sqrt(1.5/24000/got.Seconds)
	for _, h := range got.Harmonics {
		near3(t, "floor", h.Floor, floor, 0.25*floor)
	}
	if got.Rattle || got.Clipped > 0 {
		t.Error("noise rattles or clips")
	}
	if got.Crest < 3.5 || got.Crest > 6.5 {
		t.Errorf("crest of noise is %g", got.Crest)
	}
}

// TestCalibration: levels of a tone against a calibrator ahead of it.
func TestCalibration(t *testing.T) {
	const pascal = 0.02 // full scales for a pascal
	play := func(tones ...playedTone) *wav.Recording {
		s := quiet(tones...)
		s.noise = 1e-5
		return s.recording()
	}
	calibrator := func(level float64) playedTone {
		return steps(1000.3, 4, []complex128{complex(pascal*sound.Pressure(level), 0)})
	}
	sounding := steps(100, 3, []complex128{complex(pascal*sound.Pressure(100), 0)})
	for _, c := range []struct {
		name   string
		rec    *wav.Recording
		o      Options
		level  float64 // of the fundamental
		warned string
	}{
		{"94 dB", play(calibrator(94), sounding), Options{}, 100, "taken for 94 dB"},
		{"94 dB, said", play(calibrator(94), sounding), Options{Calibrator: 94}, 100, ""},
		{"114 dB, said", play(calibrator(114), sounding), Options{Calibrator: 114}, 100, ""},
		{"114 dB, not said", play(calibrator(114), sounding), Options{}, 80, "taken for 94 dB"},
		{"both", play(calibrator(94), calibrator(114), sounding), Options{}, 100, ""},
		{"both, 94 said", play(calibrator(94), calibrator(114), sounding), Options{Calibrator: 94}, 100, ""},
		{"both, 114 said", play(calibrator(94), calibrator(114), sounding), Options{Calibrator: 114}, 100, ""},
		{"after the tones", play(sounding, calibrator(94)), Options{Calibrator: 94}, 100, ""},
		{"sensitivity", play(sounding), Options{Sensitivity: pascal}, 100, ""},
		{"sensitivity and calibrator", play(calibrator(94), sounding), Options{Sensitivity: pascal}, 100, ""},
		{"they differ", play(calibrator(96), sounding), Options{Sensitivity: pascal}, 100, "differ by 2.0 dB"},
	} {
		r := analyse(t, c.rec, c.o)
		if len(r.Tones) != 1 {
			t.Errorf("%s: %d tones", c.name, len(r.Tones))
			continue
		}
		s := r.Tones[0].Steps[0]
		near3(t, c.name, s.Harmonics[0].Level, c.level, 0.01)
		near3(t, c.name+", pascals", s.Harmonics[0].RMS, sound.Pressure(c.level), 0.002*sound.Pressure(c.level))
		near3(t, c.name+", unweighted", s.Level, c.level, 0.02)
		// IEC 61672-1 Table 3: −19.1 dB (A) and −0.3 dB (C) at 100 Hz.
		near3(t, c.name+", A", s.A, c.level-19.1, 0.1)
		near3(t, c.name+", C", s.C, c.level-0.3, 0.06)
		near3(t, c.name+", C peak", s.PeakC, c.level-0.3+3.01, 0.1)
		if warned := strings.Join(r.Warnings, "; "); !strings.Contains(warned, c.warned) || (c.warned == "" && warned != "") {
			t.Errorf("%s: warned of %q, want %q", c.name, warned, c.warned)
		}
	}

	r := analyse(t, play(calibrator(94)), Options{})
	if r.Calibration != nil || len(r.Tones) != 1 {
		t.Error("a lone tone of 1 kHz was taken for a calibrator")
	}
	r = analyse(t, play(calibrator(94), sounding), Options{NoCalibrator: true})
	if r.Calibration != nil || len(r.Tones) != 2 {
		t.Error("a calibrator was found against orders")
	}
	up := steps(1000, 2, chord(-30), chord(-24), chord(-18))
	r = analyse(t, play(up, sounding), Options{})
	if r.Calibration != nil || len(r.Tones) != 2 || len(r.Tones[0].Steps) != 3 {
		t.Error("a ladder at 1 kHz was taken for a calibrator")
	}
}

// compressed is a ladder in 2 dB steps whose fundamental falls behind by what is
// given and whose third harmonic is as given, dB re the fundamental.
func compressed(behind, third []float64) (playedTone, []float64) {
	t := playedTone{frequency: 52.1, hold: 1.6}
	var drive []float64
	for i := range behind {
		d := 2 * float64(i)
		level := -30 + d - behind[i]
		drive = append(drive, d)
		t.steps = append(t.steps, chord(level, level-80, level+third[i]))
	}
	return t, drive
}

func TestCompressionAndDeformation(t *testing.T) {
	tone, drive := compressed(
		[]float64{0, 0, 0, 0.05, 0.2, 0.5, 0.9, 1.5, 2.2},
		[]float64{-60, -56, -52, -48, -44, -40, -36, -34, -30},
	)
	s := quiet(tone)
	s.noise = 1e-5
	rec := s.recording()
	r := analyse(t, rec, Options{Drives: []Drive{{Frequency: tone.frequency, Levels: drive}}})
	l := r.Tones[0]
	if len(l.Steps) != 9 {
		t.Fatalf("%d steps", len(l.Steps))
	}
	for i, want := range []float64{0, 0, 0, 0.05, 0.2, 0.5, 0.9, 1.5, 2.2} {
		near3(t, "compression", *l.Steps[i].Compression, want, 0.005)
		near3(t, "drive", *l.Steps[i].Drive, drive[i], 0)
	}
	// 1 dB is crossed between the steps of 0.9 and 1.5 dB, at ln(1/0.9)/ln(1.5/0.9)
	// of the way; 3 % of distortion (−30.5 dB) only later.
	share := math.Log(1/0.9) / math.Log(1.5/0.9)
	d := l.Deformed
	if d == nil || d.Step != 7 || len(d.Causes) != 1 || !strings.Contains(d.Causes[0], "compression 1.5 dB") {
		t.Fatalf("deformed: %+v", d)
	}
	near3(t, "drive where it deforms", *d.Drive, 12+share*2, 0.02)
	near3(t, "level where it deforms", d.Level, -30+12-0.9+share*(2-0.6), 0.02)

	// Without a drive only the distortion counts: 3 % between −34 and −30 dB.
	l = analyse(t, rec, Options{}).Tones[0]
	if d = l.Deformed; d == nil || d.Step != 8 || d.Drive != nil || l.Steps[3].Compression != nil {
		t.Fatalf("deformed without a drive: %+v", d)
	}
	share = (math.Log(0.03) - math.Log(db(-34))) / (math.Log(db(-30)) - math.Log(db(-34)))
	near3(t, "level where it deforms", d.Level, -30+14-1.5+share*(2-0.7), 0.02)
	// Stricter limits deform sooner, and the definition names them.
	l = analyse(t, rec, Options{Deformed: Limits{Distortion: 0.005}}).Tones[0]
	if d = l.Deformed; d == nil || d.Step != 4 || !strings.Contains(l.Definition, "0.5 %") {
		t.Errorf("deformed by 0.5 %%: %+v; %s", d, l.Definition)
	}
	if l = analyse(t, rec, Options{Deformed: Limits{Distortion: 0.5}}).Tones[0]; l.Deformed != nil {
		t.Errorf("deformed by 50 %%: %+v", l.Deformed)
	}

	// Wrong numbers of drives.
	for _, c := range []struct {
		drives int
		warned string
		first  *float64
	}{{3, "9 steps were found and 3 drives given", nil}, {11, "the last 9 are taken", &[]float64{4}[0]}} {
		given := make([]float64, c.drives)
		for i := range given {
			given[i] = 2 * float64(i)
		}
		r = analyse(t, rec, Options{Drives: []Drive{{Frequency: 52, Levels: given}}})
		if !strings.Contains(strings.Join(r.Warnings, ";"), c.warned) {
			t.Errorf("%d drives: warned of %q", c.drives, r.Warnings)
		}
		if got := r.Tones[0].Steps[0].Drive; (got == nil) != (c.first == nil) || (got != nil && *got != *c.first) {
			t.Errorf("%d drives: the first step has %v", c.drives, got)
		}
	}
}

func TestDriveChannel(t *testing.T) {
	tone, drive := compressed([]float64{0, 0, 0, 0, 0.6, 1.2}, []float64{-60, -60, -60, -60, -60, -60})
	s := quiet(tone)
	s.noise = 1e-5
	electric := playedTone{frequency: tone.frequency, hold: tone.hold}
	for _, d := range drive {
		electric.steps = append(electric.steps, chord(d-20))
	}
	e := quiet(electric)
	rec := recordingOf(48000, s.samples(), e.samples())
	r := analyse(t, rec, Options{DriveChannel: 2, DriveFullScale: 40})
	if r.Channel != 1 || len(r.Tones[0].Steps) != 6 {
		t.Fatalf("channel %d, %d steps", r.Channel, len(r.Tones[0].Steps))
	}
	for i, want := range []float64{0, 0, 0, 0, 0.6, 1.2} {
		near3(t, "compression", *r.Tones[0].Steps[i].Compression, want, 0.005)
		// Full scale is 40 V, so −20 dB re a full-scale sine is 4 V peak.
		near3(t, "drive", *r.Tones[0].Steps[i].Drive, drive[i]+20*math.Log10(4/root2), 0.001)
	}
}

// TestRattle adds to the upper steps a buzz such as a loose part gives: a short
// ring at 1.7 kHz once in every period.
func TestRattle(t *testing.T) {
	s := quiet(steps(48, 2, deep(-24), deep(-20), deep(-16), deep(-12), deep(-8)))
	s.noise = 3e-4
	x := s.samples()
	rng := rand.New(rand.NewPCG(1, 1))
	period := 48000 / 48
	for i := range x {
		if at := float64(i) / 48000; at < 0.8+3*2 || at > 0.8+5*2 {
			continue
		}
		if i%period == 0 {
			a := 0.02 * (0.5 + rng.Float64())
			for k := 0; k < 400 && i+k < len(x); k++ {
				x[i+k] += a * math.Exp(-float64(k)/80) * math.Sin(2*math.Pi*1700*float64(k)/48000)
			}
		}
	}
	l := analyse(t, recordingOf(48000, x), Options{}).Tones[0]
	if len(l.Steps) != 5 {
		t.Fatalf("%d steps", len(l.Steps))
	}
	for i, step := range l.Steps {
		if step.Rattle != (i >= 3) {
			t.Errorf("step %d: rattle %v (between %.2g, above %.2g, crest %.1f)", i+1, step.Rattle, step.Between, step.Above, step.Crest)
		}
	}
}

// TestBuzzBetweenHarmonics: noise in a narrow band between the sixth and seventh
// harmonic, from the fourth step on.
func TestBuzzBetweenHarmonics(t *testing.T) {
	s := quiet(steps(48, 2, deep(-24), deep(-20), deep(-16), deep(-12), deep(-8)))
	s.noise = 3e-4
	x := s.samples()
	rng := rand.New(rand.NewPCG(3, 1))
	const radius = 0.9995
	k := 2 * radius * math.Cos(2*math.Pi*6.5*48/48000)
	var y1, y2 float64
	for i := range x {
		y1, y2 = k*y1-radius*radius*y2+1e-5*rng.NormFloat64(), y1
		if at := float64(i) / 48000; at > 0.8+3*2 && at < 0.8+5*2 {
			x[i] += y1
		}
	}
	l := analyse(t, recordingOf(48000, x), Options{}).Tones[0]
	for i, step := range l.Steps {
		if step.Rattle != (i >= 3) {
			t.Errorf("step %d: rattle %v (between %.2g, above %.2g, crest %.1f)", i+1, step.Rattle, step.Between, step.Above, step.Crest)
		}
	}
	if loud := l.Steps[4]; loud.Above > 1.9*l.Steps[0].Above || loud.Crest > rattleCrest {
		t.Errorf("the buzz shows above the harmonics (%.2g) or in the crest (%.1f)", loud.Above, loud.Crest)
	}
}

func TestClipping(t *testing.T) {
	for _, c := range []struct {
		name  string
		level float64
		clip  float64
		bits  int
		noise float64
		clips bool
	}{
		{"clean, 16 bits, deep tone", -6, 0, 16, 0, false},
		{"clean, 24 bits", -6, 0, 24, 1e-4, false},
		{"clean, unrounded", -6, 0, 0, 1e-4, false},
		{"at full scale", 3, 1, 16, 1e-4, true},
		{"at full scale, 24 bits", 1, 1, 24, 1e-4, true},
		{"below full scale", -3, 0.6, 24, 1e-4, true},
		{"below full scale, 16 bits", -3, 0.65, 16, 1e-4, true},
	} {
		s := quiet(steps(23.4, 2, chord(c.level)))
		s.clipAt, s.bits, s.noise = c.clip, c.bits, c.noise
		r := analyse(t, s.recording(), Options{})
		step := r.Tones[0].Steps[0]
		if (step.Clipped > 0) != c.clips {
			t.Errorf("%s: %d samples clipped", c.name, step.Clipped)
		}
		if warned := strings.Contains(strings.Join(r.Warnings, ";"), "the recorder clipped in 1 of 1 steps"); warned != c.clips {
			t.Errorf("%s: warned of %q", c.name, r.Warnings)
		}
	}
}

// TestRamp reads a tone that rises by 30 dB in 20 s, with a second harmonic that
// rises twice as fast.
func TestRamp(t *testing.T) {
	const rate, f = 48000, 57.7
	rng := rand.New(rand.NewPCG(4, 4))
	x := make([]float64, 22*rate)
	for i := range x {
		at := float64(i)/rate - 1
		if at >= 0 && at <= 20 {
			a := db(-36 + 1.5*at)
			x[i] = a*math.Cos(2*math.Pi*f*at) + 0.2*a*a*math.Cos(4*math.Pi*f*at+1)
		}
		x[i] += 1e-4 * rng.NormFloat64()
	}
	drive := Drive{Frequency: f, Levels: []float64{-16, 14}, Ramp: 20} // 20 dB above the sound
	l := analyse(t, recordingOf(rate, x), Options{Drives: []Drive{drive}}).Tones[0]
	if !l.Ramp || len(l.Steps) < 20 {
		t.Fatalf("ramp %v, %d windows", l.Ramp, len(l.Steps))
	}
	near3(t, "frequency", l.Frequency, f, 1e-3)
	for _, s := range l.Steps {
		at := s.Start + s.Seconds/2 - 1
		level := -36 + 1.5*at
		near3(t, "level in the ramp", s.Harmonics[0].Level, level, 0.03)
		if s.Drive == nil {
			t.Fatal("a window of the ramp has no drive")
		}
		near3(t, "drive in the ramp", *s.Drive, level+20, 0.03)
		near3(t, "compression", *s.Compression, 0, 0.04)
		near3(t, "drift", s.Drift, 1.5, 0.1)
		if want := decibel(0.2) + level; s.Harmonics[1].RMS > 10*s.Harmonics[1].Floor {
			near3(t, "second harmonic in the ramp", s.Harmonics[1].Relative, want, 0.15+9*s.Harmonics[1].Error/s.Harmonics[1].RMS)
		}
	}
}

// A ramp whose end is not in the recording, or that was not planned as one, has no
// drives; nor has a plan's ramp where steps were found.
func TestRampWithoutDrives(t *testing.T) {
	const rate, f = 8000, 57.7
	x := make([]float64, 21*rate)
	for i := range x {
		at := float64(i)/rate - 1
		if at >= 0 {
			x[i] = db(-36+1.5*at) * math.Cos(2*math.Pi*f*at)
		}
		x[i] += 1e-5 * math.Sin(float64(i*i))
	}
	even := []Drive{{Frequency: f, Levels: []float64{-16, 14}, Ramp: 20}}
	for name, c := range map[string]struct {
		x      []float64
		drives []Drive
		warned string
	}{
		"cut off": {x, even, "stops before the ramp does"},
		"steps":   {append(x[:len(x):len(x)], make([]float64, rate)...), []Drive{{Frequency: f, Levels: []float64{-16, 14}}}, "has no steps to give drives to"},
	} {
		r := analyse(t, recordingOf(rate, c.x), Options{Drives: c.drives})
		if s := r.Tones[0].Steps[0]; s.Drive != nil || !strings.Contains(strings.Join(r.Warnings, ";"), c.warned) {
			t.Errorf("%s: drive %v, warned of %q", name, s.Drive, r.Warnings)
		}
	}
	s := quiet(steps(f, 2, chord(-20), chord(-14)))
	r := analyse(t, s.recording(), Options{Drives: even})
	if r.Tones[0].Steps[0].Drive != nil || !strings.Contains(strings.Join(r.Warnings, ";"), "no ramp was found") {
		t.Errorf("steps for a ramp: warned of %q", r.Warnings)
	}
}

// TestSettlingIsLeftOut: what a box does before it has settled is not read. The
// steps here begin a tenth of their rise short and settle with 0.15 s: the first,
// from silence, is within 0.05 dB after 0.43 s, the others, whose rise is half of
// them, after 0.33 s.
func TestSettlingIsLeftOut(t *testing.T) {
	s := quiet(steps(62.9, 3, chord(-20), chord(-14), chord(-8)))
	s.settling, s.noise = 0.15, 1e-5
	l := analyse(t, s.recording(), Options{}).Tones[0]
	for i, step := range l.Steps {
		played := s.lead + 3*float64(i)
		if into := step.Start - played; into < []float64{0.43, 0.33, 0.33}[i] || into > 1.2 {
			t.Errorf("step %d is read from %.2f s on", i+1, into)
		}
		if end := step.Start + step.Seconds - played; end > 3 || end < 2.7 {
			t.Errorf("step %d is read until %.2f s", i+1, end)
		}
		near3(t, "settled level", step.Harmonics[0].Level, -20+6*float64(i), 0.02)
	}
}

// TestHumIsNoTone: hum stronger than the softest steps, and on in the pauses.
func TestHumIsNoTone(t *testing.T) {
	for _, mains := range []float64{50.02, 59.97} {
		s := quiet(steps(41.3, 2, deep(-40), deep(-30), deep(-20), deep(-10)), steps(83.9, 2, deep(-30), deep(-20), deep(-10)))
		s.noise, s.mains, s.gap, s.lead = 1e-4, mains, 3, 3
		s.hum = chord(-38, -60, -45)
		r := analyse(t, s.recording(), Options{})
		if len(r.Tones) != 2 {
			var f []float64
			for _, l := range r.Tones {
				f = append(f, l.Frequency)
			}
			t.Errorf("mains of %g Hz: tones at %.4g", mains, f)
			continue
		}
		if n := len(r.Tones[1].Steps); n != 3 {
			t.Errorf("mains of %g Hz: %d steps beside the hum", mains, n)
		}
		if r.Mains == nil {
			t.Errorf("mains of %g Hz: no hum found", mains)
			continue
		}
		near3(t, "mains", r.Mains.Frequency, mains, 0.01)
		near3(t, "first line", r.Mains.Lines[0].Level, -38, 0.3)
		if r.Rest == nil || r.Rest.Seconds < 3 {
			t.Errorf("mains of %g Hz: rest %+v", mains, r.Rest)
		}
	}
}

// TestWaveformComesBack: the phasors of a step, put together again, are the wave
// that was recorded.
func TestWaveformComesBack(t *testing.T) {
	h := deep(-6)
	l := analyse(t, quiet(steps(77.7, 3, h)).recording(), Options{}).Tones[0]
	turn := cmplx.Rect(1, -cmplx.Phase(h[0]))
	shift := complex128(1)
	for i := range h {
		shift *= turn
		if d := cmplx.Abs(l.Steps[0].Phasors[i] - h[i]*shift); d > 1e-6 {
			t.Errorf("harmonic %d: %v, want %v", i+1, l.Steps[0].Phasors[i], h[i]*shift)
		}
	}
	near3(t, "THD", l.Steps[0].OfFundamental, distortion.OfFundamental(h), 1e-5)
}
