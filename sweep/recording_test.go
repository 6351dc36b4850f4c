package sweep

import (
	"bytes"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"ocarina/wav"
)

// twoPeaks is an invented load: a coil of 5.6 ohm and 0.7 mH and two
// resonances, the first with a Q of 12 and 70 ohm high.
func twoPeaks(f float64) complex128 {
	z := complex(5.6, 2*math.Pi*f*0.7e-3)
	z += 70 / complex(1, 12*(f/31-31/f))
	z += 25 / complex(1, 7*(f/74-74/f))
	return z
}

// a rig records the load z behind the resistor r. Channel 2 has a gain and is
// late by skew seconds; both channels have noise of a given RMS.
type rig struct {
	z          func(f float64) complex128
	r          float64
	gain, skew float64
	noise      float64
	bits       int // 0: float 64
}

func (g rig) record(x []float64, rate int) *wav.Recording {
	n := smooth(len(x) + 2*rate)
	padded := make([]float64, n)
	copy(padded, x)
	fft := fourier.NewFFT(n)
	spec := fft.Coefficients(nil, padded)
	for k := range spec {
		f := math.Max(float64(k)*float64(rate)/float64(n), 1e-6)
		z := g.z(f)
		spec[k] *= z / (z + complex(g.r, 0)) * complex(g.gain, 0) * cmplx.Rect(1, -2*math.Pi*f*g.skew)
	}
	y := fft.Sequence(nil, spec)[:len(x)]
	x2 := make([]float64, len(x))
	x1 := make([]float64, len(x))
	rng := rand.New(rand.NewPCG(3, 14))
	for i := range x {
		x1[i] = x[i] + g.noise*rng.NormFloat64()
		x2[i] = y[i]/float64(n) + g.noise*rng.NormFloat64()
	}
	if g.bits == 0 {
		return &wav.Recording{Rate: rate, Bits: 64, Float: true, Channels: [][]float64{x1, x2}, Clipped: []int{0, 0}}
	}
	for _, c := range [][]float64{x1, x2} {
		for i := range c {
			c[i] = math.Max(-1, math.Min(1, c[i]))
		}
	}
	var b bytes.Buffer
	if err := wav.Write(&b, wav.Format{Rate: rate, Bits: g.bits}, [][]float64{x1, x2}); err != nil {
		panic(err)
	}
	rec, err := wav.Read(bytes.NewReader(b.Bytes()), "rig")
	if err != nil {
		panic(err)
	}
	return rec
}

// worst is the largest departure of s from z, in dB and degrees, and where.
func worst(s *Sweep, z func(float64) complex128, from, to float64) (db, deg, atDB, atDeg float64) {
	for i, f := range s.Frequency {
		if f < from || f > to {
			continue
		}
		q := s.Z(i) / z(f)
		if d := math.Abs(20 * math.Log10(cmplx.Abs(q))); d > db {
			db, atDB = d, f
		}
		if d := math.Abs(cmplx.Phase(q)) * 180 / math.Pi; d > deg {
			deg, atDeg = d, f
		}
	}
	return
}

var stimuli = []Stimulus{
	{Kind: Chirp, From: 10, To: 1000, Seconds: 10, Rate: 8000},
	{Kind: Noise, From: 10, To: 1000, Seconds: 20, Rate: 8000, Seed: 4},
	{Kind: Steps, From: 10, To: 1000, Seconds: 30, Rate: 8000, PerOctave: 12},
}

func TestRecording(t *testing.T) {
	for _, st := range stimuli {
		sig, err := st.Make()
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			name string
			rig  rig
		}{
			{"clean", rig{z: twoPeaks, r: 22, gain: 1}},
			{"16 bits", rig{z: twoPeaks, r: 22, gain: 1, bits: 16}},
			{"noise 70 dB below full scale", rig{z: twoPeaks, r: 22, gain: 1, noise: 3e-4, bits: 24}},
		} {
			t.Run(string(st.Kind)+", "+c.name, func(t *testing.T) {
				s, err := FromRecording(c.rig.record(sig.Samples, sig.Rate), "rig", Options{Series: 22})
				if err != nil {
					t.Fatal(err)
				}
				sound(t, s)
				// Within the signal's range 0.1 dB and 1°, or what the noise
				// allows by the sweep's own account.
				inside := 0
				for i, f := range s.Frequency {
					if f < st.From || f > st.To {
						continue
					}
					inside++
					q := s.Z(i) / twoPeaks(f)
					db, deg := 20*math.Log10(cmplx.Abs(q)), cmplx.Phase(q)*180/math.Pi
					if e := 4 * s.Error[i]; math.Abs(db) > math.Max(0.1, 8.7*e) || math.Abs(deg) > math.Max(1, 57.3*e) {
						t.Errorf("%.2f Hz: %.3f dB and %.2f° off, standard error %.2g", f, db, deg, s.Error[i])
					}
				}
				db, deg, a, b := worst(s, twoPeaks, st.From, st.To)
				t.Logf("%d points %.1f to %.1f Hz, worst %.4f dB at %.2f Hz, %.3f° at %.2f Hz, %d left out, %q", s.Len(), s.Frequency[0], s.Frequency[s.Len()-1], db, a, deg, b, s.Skipped, s.Warnings)
				if inside < 60 || s.Frequency[0] > 11 || s.Frequency[s.Len()-1] < 950 {
					t.Errorf("%d points within the range, from %.1f to %.1f Hz", inside, s.Frequency[0], s.Frequency[s.Len()-1])
				}
				if len(s.Warnings) != 0 {
					t.Errorf("warnings %q", s.Warnings)
				}
			})
		}
	}
}

// The standard error must be what the errors are: over many noisy points their
// ratio has a root mean square near 1.
func TestRecordingError(t *testing.T) {
	for _, st := range stimuli {
		sig, err := st.Make()
		if err != nil {
			t.Fatal(err)
		}
		s, err := FromRecording(rig{z: twoPeaks, r: 22, gain: 1, noise: 2e-4}.record(sig.Samples, sig.Rate), "rig", Options{Series: 22})
		if err != nil {
			t.Fatal(err)
		}
		sum, beyond := 0.0, 0
		for i, f := range s.Frequency {
			u := math.Log(s.Magnitude[i]/cmplx.Abs(twoPeaks(f))) / s.Error[i]
			sum += u * u
			if math.Abs(u) > 3 {
				beyond++
			}
		}
		rms := math.Sqrt(sum / float64(s.Len()))
		t.Logf("%s: error over standard error %.2f RMS, %d of %d beyond three", st.Kind, rms, beyond, s.Len())
		if rms < 0.75 || rms > 1.3 || beyond > s.Len()/30 {
			t.Errorf("%s: error over standard error is %.2f RMS, %d of %d beyond three", st.Kind, rms, beyond, s.Len())
		}
	}
}

// Inputs of unequal gain, one late by a quarter of a sample and more: wrong
// without calibration, right with it.
func TestCalibration(t *testing.T) {
	sig, err := Stimulus{Kind: Chirp, From: 10, To: 3000, Seconds: 10, Rate: 8000}.Make()
	if err != nil {
		t.Fatal(err)
	}
	for _, skew := range []float64{30e-6, -200e-6} {
		off := rig{r: 22, gain: 1.06, skew: skew, noise: 1e-5}
		off.z = func(float64) complex128 { return 10 }
		known := off.record(sig.Samples, sig.Rate)
		off.z = twoPeaks
		load := off.record(sig.Samples, sig.Rate)

		plain, err := FromRecording(load, "rig", Options{Series: 22})
		if err != nil {
			t.Fatal(err)
		}
		if db, _, _, _ := worst(plain, twoPeaks, 15, 2500); db < 1 {
			t.Errorf("without calibration only %.2f dB off: the test shows nothing", db)
		}
		cal, err := Calibrate(known, "known", 10, Options{Series: 22})
		if err != nil {
			t.Fatal(err)
		}
		if want := 20 * math.Log10(1.06); math.Abs(cal.GainDB-want) > 0.002 || math.Abs(cal.Skew-skew) > 0.1e-6 {
			t.Errorf("gain %.4f dB, want %.4f; skew %.3g s, want %.3g", cal.GainDB, want, cal.Skew, skew)
		}
		s, err := FromRecording(load, "rig", Options{Series: 22, Calibration: cal})
		if err != nil {
			t.Fatal(err)
		}
		db, deg, a, b := worst(s, twoPeaks, 15, 2500)
		t.Logf("skew %g: %.4f dB at %.1f Hz, %.4f° at %.1f Hz", skew, db, a, deg, b)
		if db > 0.1 || deg > 1 {
			t.Errorf("%.4f dB at %.1f Hz, %.4f° at %.1f Hz", db, a, deg, b)
		}
	}
}

// A recording cut out of running noise, or one that starts at once, is read
// all the same, with a word about it.
func TestRecordingWithoutRest(t *testing.T) {
	sig, err := Stimulus{Kind: Noise, From: 10, To: 1000, Seconds: 40, Rate: 8000, Seed: 9}.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec := rig{z: twoPeaks, r: 22, gain: 1, noise: 1e-5}.record(sig.Samples, sig.Rate)
	for c, x := range rec.Channels {
		rec.Channels[c] = x[8*8000 : 36*8000]
	}
	s, err := FromRecording(rec, "rig", Options{Series: 22})
	if err != nil {
		t.Fatal(err)
	}
	db, deg, a, b := worst(s, twoPeaks, 12, 900)
	t.Logf("%d points, %.3f dB at %.1f Hz, %.2f° at %.1f Hz", s.Len(), db, a, deg, b)
	if db > 0.1 || deg > 1 {
		t.Errorf("%.3f dB at %.1f Hz, %.2f° at %.1f Hz", db, a, deg, b)
	}
	if w := strings.Join(s.Warnings, "\n"); !strings.Contains(w, "does not begin and end in silence") {
		t.Errorf("warnings %q", s.Warnings)
	}
}

func TestRecordingWarnings(t *testing.T) {
	sig, err := stimuli[0].Make()
	if err != nil {
		t.Fatal(err)
	}
	g := rig{z: twoPeaks, r: 22, gain: 1, noise: 1e-5, bits: 24}
	exchanged := func() *wav.Recording {
		r := g.record(sig.Samples, sig.Rate)
		r.Channels[0], r.Channels[1] = r.Channels[1], r.Channels[0]
		return r
	}
	loud := make([]float64, len(sig.Samples))
	for i, v := range sig.Samples {
		loud[i] = 2.2 * v
	}
	three := g.record(sig.Samples, sig.Rate)
	three.Channels = append(three.Channels, three.Channels[0])
	three.Clipped = append(three.Clipped, 0)
	uneven := g
	uneven.gain, uneven.r = 1.2, 2
	small := g
	small.r = 1
	for _, c := range []struct {
		name   string
		rec    *wav.Recording
		series float64
		want   string
		right  bool
	}{
		{"exchanged", exchanged(), 22, "the channels are taken as exchanged", true},
		{"clipped", g.record(loud, sig.Rate), 22, "channel 1 is clipped: ", false},
		{"three channels", three, 22, "3 channels: the first two are read", true},
		{"uneven", uneven.record(sig.Samples, sig.Rate), 2, "the resistance is negative at", false},
		{"small series resistor", small.record(sig.Samples, sig.Rate), 1, " times the series resistor at 31.3 Hz", false},
	} {
		s, err := FromRecording(c.rec, "rig", Options{Series: c.series})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if w := strings.Join(s.Warnings, "\n"); !strings.Contains(w, c.want) {
			t.Errorf("%s: warnings %q, want %q", c.name, s.Warnings, c.want)
		}
		if db, _, _, _ := worst(s, twoPeaks, 12, 900); c.right && db > 0.1 {
			t.Errorf("%s: %.2f dB off", c.name, db)
		}
	}
	if _, err := FromRecording(three, "rig", Options{}); err == nil || !strings.Contains(err.Error(), "no series resistor is given") {
		t.Errorf("error %v", err)
	}
}

// Rectangles and rests: what Make promises.
func TestStimulus(t *testing.T) {
	for _, st := range append(stimuli, Stimulus{Kind: Chirp}, Stimulus{Kind: Steps}, Stimulus{Kind: Noise, Level: -20}) {
		sig, err := st.Make()
		if err != nil {
			t.Fatal(err)
		}
		full, err := st.usual()
		if err != nil {
			t.Fatal(err)
		}
		if want := int(math.Round((full.Seconds + 2*full.Silence) * float64(full.Rate))); len(sig.Samples) != want || sig.Rate != full.Rate {
			t.Errorf("%s: %d samples at %d Hz, want %d", st.Kind, len(sig.Samples), sig.Rate, want)
		}
		peak, power := 0.0, 0.0
		for _, v := range sig.Samples {
			peak = math.Max(peak, math.Abs(v))
			power += v * v
		}
		if got := 20 * math.Log10(peak); math.Abs(got-full.Level) > 1e-9 || math.Abs(sig.PeakDB-full.Level) > 1e-9 {
			t.Errorf("%s: peak %.3f dB, stated %.3f, want %.3f", st.Kind, got, sig.PeakDB, full.Level)
		}
		if got := 10 * math.Log10(power/(full.Seconds*float64(full.Rate))); math.Abs(got-sig.RMSDB) > 1e-6 {
			t.Errorf("%s: RMS %.3f dB, stated %.3f", st.Kind, got, sig.RMSDB)
		}
		// It swells and fades: no click where it begins and ends.
		lead := int(full.Silence * float64(full.Rate))
		for i := range int(full.Seconds*float64(full.Rate)) / 6000 {
			if a, b := sig.Samples[lead+i], sig.Samples[len(sig.Samples)-1-lead-i]; math.Abs(a) > 0.1*peak || math.Abs(b) > 0.1*peak {
				t.Errorf("%s: %.3g and %.3g within a six-thousandth of its ends", st.Kind, a, b)
				break
			}
		}
		if !quiet(sig.Samples, sig.Rate) {
			t.Errorf("%s does not begin and end at rest", st.Kind)
		}
		// Each octave within the range holds its share of energy; outside it
		// there is next to none.
		n := smooth(len(sig.Samples))
		padded := make([]float64, n)
		copy(padded, sig.Samples)
		spec := fourier.NewFFT(n).Coefficients(nil, padded)
		energy := func(from, to float64) float64 {
			e := 0.0
			for k := int(from * float64(n) / float64(sig.Rate)); k < int(to*float64(n)/float64(sig.Rate)); k++ {
				e += real(spec[k])*real(spec[k]) + imag(spec[k])*imag(spec[k])
			}
			return e
		}
		inside := energy(full.From*1.05, full.To*0.95)
		if out := energy(0, full.From*0.7) + energy(full.To*1.3, float64(full.Rate)/2); out > 2e-3*inside {
			t.Errorf("%s: %.2g of the energy lies outside the range", st.Kind, out/inside)
		}
		if st.Kind != Steps {
			octaves := math.Log2(full.To / full.From)
			for f := full.From * 1.2; f < full.To/2.2; f *= 2 {
				if share := energy(f, 2*f) / inside * octaves; share < 0.75 || share > 1.3 {
					t.Errorf("%s: the octave from %.0f Hz has %.2f of its share", st.Kind, f, share)
				}
			}
		}
	}
	for _, c := range []struct {
		st   Stimulus
		want string
	}{
		{Stimulus{Kind: "hum"}, `stimulus "hum"`},
		{Stimulus{Kind: Chirp, From: 100, To: 50}, "a range from 100 to 50 Hz"},
		{Stimulus{Kind: Chirp, To: 30000}, "a range from 5 to 30000 Hz"},
		{Stimulus{Kind: Chirp, Level: 3}, "a level of 3 dB"},
		{Stimulus{Kind: Chirp, Seconds: 0.2}, "fewer than three waves"},
		{Stimulus{Kind: Chirp, Seconds: math.NaN()}, "NaN s of signal"},
		{Stimulus{Kind: Steps, Seconds: 3}, "leave fewer than five waves"},
		{Stimulus{Kind: Chirp, Seconds: 1e6}, "1e+06 s of signal"},
	} {
		if _, err := c.st.Make(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: error %v, want %q", c.st, err, c.want)
		}
	}
}

func TestStimulusFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "play.wav")
	sig, err := stimuli[0].WriteFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := wav.ReadFile(path)
	if err != nil || len(rec.Channels) != 1 || len(rec.Channels[0]) != len(sig.Samples) {
		t.Fatalf("%v %v", rec, err)
	}
	if want := "peak -6.00 dB, RMS "; !strings.HasPrefix(sig.Level(), want) {
		t.Errorf("level %q", sig.Level())
	}
}

func FuzzRecording(f *testing.F) {
	paths, _ := filepath.Glob(filepath.Join("testdata", "bad", "*.wav"))
	for _, p := range paths {
		if b, err := os.ReadFile(p); err == nil {
			f.Add(b, 10.0, false)
		}
	}
	var b bytes.Buffer
	x := [][]float64{make([]float64, 2000), make([]float64, 2000)}
	for i := range x[0] {
		x[0][i] = math.Sin(float64(i*i) / 4000)
		x[1][i] = 0.3 * x[0][i]
	}
	if err := wav.Write(&b, wav.Format{Rate: 8000, Bits: 16}, x); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes(), 10.0, true)
	f.Fuzz(func(t *testing.T, b []byte, series float64, calibrate bool) {
		opt := Options{Series: series}
		if calibrate {
			if rec, err := wav.Read(bytes.NewReader(b), "fuzz"); err == nil {
				if opt.Calibration, err = Calibrate(rec, "fuzz", 10, Options{Series: 10}); err != nil {
					opt.Calibration = nil
				}
			}
		}
		s, err := Read(b, "fuzz.wav", opt)
		if err != nil {
			_ = err.Error()
			return
		}
		sound(t, s)
	})
}

// A minute of 48 kHz, two channels of 24 bits, from file to impedance.
func BenchmarkRecording60s(b *testing.B) {
	for _, st := range []Stimulus{{Kind: Chirp, To: 20000, Seconds: 58}, {Kind: Noise, To: 20000, Seconds: 58}} {
		sig, err := st.Make()
		if err != nil {
			b.Fatal(err)
		}
		rec := rig{z: twoPeaks, r: 22, gain: 1, noise: 1e-5, bits: 24}.record(sig.Samples, sig.Rate)
		for _, cut := range []bool{false, true} {
			name := string(st.Kind)
			ch := rec.Channels
			if cut {
				name += ", cut short"
				ch = [][]float64{ch[0][2*48000 : 58*48000], ch[1][2*48000 : 58*48000]}
			}
			path := filepath.Join(b.TempDir(), "x.wav")
			if err := wav.WriteFile(path, wav.Format{Rate: 48000, Bits: 24}, ch); err != nil {
				b.Fatal(err)
			}
			b.Run(name, func(b *testing.B) {
				for b.Loop() {
					s, err := ReadFile(path, Options{Series: 22})
					if err != nil {
						b.Fatal(err)
					}
					b.ReportMetric(float64(s.Len()), "points")
				}
			})
		}
	}
}
