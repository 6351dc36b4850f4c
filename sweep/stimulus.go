package sweep

import (
	"fmt"
	"math"
	"math/rand/v2"

	"ocarina/wav"
)

// A Kind is a kind of signal to measure with.
type Kind string

const (
	Steps Kind = "steps" // tones one after another, each with its own silence
	Chirp Kind = "sweep" // one tone gliding up, every octave in the same time
	Noise Kind = "noise" // every octave with the same power, all at once
)

// A Stimulus is the signal to play while a recording is made. The zero value
// of a field but the kind means the usual one.
type Stimulus struct {
	Kind      Kind
	From, To  float64 // Hz; usually 5 and 2000
	Seconds   float64 // of signal, without the silence; usually 30
	Rate      int     // Hz; usually 48 000
	Level     float64 // of the highest peak, dB re full scale; usually −6. 0 dB itself cannot be told from the usual: say −0.01
	Silence   float64 // before and after, s; usually 1
	PerOctave int     // tones of Steps; usually 6
	Seed      uint64  // of Noise
}

// Caution goes wherever a stimulus is made or played.
const Caution = "Begin with the volume down and raise it slowly: a low tone at full level can overheat a coil or tear a cone before it sounds loud, and a loud one harms hearing. Connect with the amplifier off."

// A Signal is a stimulus worked out.
type Signal struct {
	Samples []float64 // full scale ±1
	Rate    int       // Hz
	PeakDB  float64   // highest peak, dB re full scale
	RMSDB   float64   // while it sounds, silence left out, dB re a constant at full scale; a sine at full scale is −3.01
	Tones   []float64 // Hz, of Steps
}

// Level states the level in words.
func (s Signal) Level() string {
	return fmt.Sprintf("peak %.2f dB, RMS %.2f dB re full scale (a full-scale sine is −3.01 dB RMS)", s.PeakDB, s.RMSDB)
}

// usual fills in what was left at zero and checks the rest.
func (s Stimulus) usual() (Stimulus, error) {
	def := func(v *float64, usual float64) {
		if *v == 0 {
			*v = usual
		}
	}
	def(&s.From, 5)
	def(&s.To, 2000)
	def(&s.Seconds, 30)
	def(&s.Level, -6)
	def(&s.Silence, 1)
	if s.Rate == 0 {
		s.Rate = 48000
	}
	if s.PerOctave == 0 {
		s.PerOctave = 6
	}
	switch {
	case s.Kind != Steps && s.Kind != Chirp && s.Kind != Noise:
		return s, fmt.Errorf("stimulus %q; wanted %s, %s or %s", s.Kind, Steps, Chirp, Noise)
	case s.Rate < 1000 || s.Rate > 1e6:
		return s, fmt.Errorf("a rate of %d Hz; wanted 1 kHz to 1 MHz", s.Rate)
	case !(s.From > 0) || !(s.To > s.From) || s.To > 0.45*float64(s.Rate):
		return s, fmt.Errorf("a range from %g to %g Hz at a rate of %d Hz; wanted a lower and a higher frequency up to %g Hz", s.From, s.To, s.Rate, 0.45*float64(s.Rate))
	case !(s.Seconds >= 0.1) || !(s.Silence >= 0) || s.Seconds+2*s.Silence > float64(longest)/float64(s.Rate):
		return s, fmt.Errorf("%g s of signal and twice %g s of silence; wanted 0.1 s to %.0f s together", s.Seconds, s.Silence, float64(longest)/float64(s.Rate))
	case !(s.Seconds*s.From >= 3):
		return s, fmt.Errorf("%g s hold fewer than three waves of %g Hz; wanted %.3g s or more", s.Seconds, s.From, 3/s.From)
	case !(s.Level <= 0) || s.Level < -80:
		return s, fmt.Errorf("a level of %g dB; wanted −80 to 0 dB re full scale", s.Level)
	case s.PerOctave < 1 || s.PerOctave > 48:
		return s, fmt.Errorf("%d tones per octave; wanted 1 to 48", s.PerOctave)
	}
	return s, nil
}

// Make works the signal out. It begins and ends at rest.
func (s Stimulus) Make() (Signal, error) {
	s, err := s.usual()
	if err != nil {
		return Signal{}, err
	}
	rate := float64(s.Rate)
	lead := int(math.Round(s.Silence * rate))
	n := int(math.Round(s.Seconds * rate))
	out := Signal{Samples: make([]float64, lead+n+lead), Rate: s.Rate}
	x := out.Samples[lead : lead+n]
	switch s.Kind {
	case Steps:
		if out.Tones, err = s.steps(x); err != nil {
			return Signal{}, err
		}
	case Chirp:
		s.chirp(x)
	case Noise:
		s.noise(x)
	}
	peak, power := 0.0, 0.0
	for _, v := range x {
		peak = math.Max(peak, math.Abs(v))
	}
	gain := math.Pow(10, s.Level/20) / peak
	for i := range x {
		x[i] *= gain
		power += x[i] * x[i]
	}
	out.PeakDB = s.Level
	out.RMSDB = 10 * math.Log10(power/float64(n))
	return out, nil
}

// WriteFile writes the signal, one channel of 24 bits, at path.
func (s Stimulus) WriteFile(path string) (Signal, error) {
	sig, err := s.Make()
	if err != nil {
		return sig, err
	}
	return sig, wav.WriteFile(path, wav.Format{Rate: sig.Rate, Bits: 24}, [][]float64{sig.Samples})
}

// swell is the raised cosine from 0 to 1 as u goes from 0 to 1.
func swell(u float64) float64 {
	switch {
	case u <= 0:
		return 0
	case u >= 1:
		return 1
	}
	return 0.5 - 0.5*math.Cos(math.Pi*u)
}

// chirp: φ(t) = 2π f1 T/L·(exp(t L/T) − 1), L = ln(f2/f1), after Farina, 108th
// AES Convention 2000, preprint 5093. It swells over two waves of the lowest
// frequency and fades over a fiftieth of the whole.
func (s Stimulus) chirp(x []float64) {
	n := float64(len(x))
	t1 := n / float64(s.Rate)
	l := math.Log(s.To / s.From)
	in, out := math.Min(2/s.From/t1, 0.25), 0.02
	for i := range x {
		u := float64(i) / n
		x[i] = math.Sin(2*math.Pi*s.From*t1/l*math.Expm1(u*l)) * swell(u/in) * swell((1-u)/out)
	}
}

// steps plays tones spaced evenly over the octaves, each as long as its share:
// half the time is shared evenly, half in proportion to the length of a wave,
// for low tones need longer. A fifth of each swells and a fifth fades.
func (s Stimulus) steps(x []float64) ([]float64, error) {
	count := 1 + int(math.Floor(math.Log2(s.To/s.From)*float64(s.PerOctave)+1e-9))
	tones := make([]float64, count)
	waves := 0.0
	for i := range tones {
		tones[i] = s.From * math.Pow(2, float64(i)/float64(s.PerOctave))
		waves += 1 / tones[i]
	}
	at := 0.0
	total := float64(len(x))
	for _, f := range tones {
		length := total * (0.5/float64(count) + 0.5/f/waves)
		if length/float64(s.Rate)*f < 5 {
			return nil, fmt.Errorf("%d tones in %g s leave fewer than five waves of %.3g Hz; wanted a longer signal or fewer tones", count, s.Seconds, f)
		}
		from, to := int(at), min(int(at+length), len(x))
		for i := from; i < to; i++ {
			u := float64(i-from) / float64(to-from)
			x[i] = math.Sin(2*math.Pi*f*float64(i-from)/float64(s.Rate)) * swell(u*5) * swell((1-u)*5)
		}
		at += length
	}
	return tones, nil
}

// noise is a sum of equal-power octaves: white noise of a fixed seed, shaped
// and bounded in frequency, swelling and fading over a fiftieth each.
func (s Stimulus) noise(x []float64) {
	n := smooth(len(x))
	rng := rand.New(rand.NewPCG(s.Seed, 0x0ca21a))
	spec := make([]complex128, n/2+1)
	step := float64(s.Rate) / float64(n)
	for k := range spec {
		if f := float64(k) * step; f >= s.From && f <= s.To {
			a := 1 / math.Sqrt(f)
			spec[k] = complex(a*rng.NormFloat64(), a*rng.NormFloat64())
		}
	}
	full := inverse(spec, n)
	copy(x, full)
	for i := range x {
		u := float64(i) / float64(len(x))
		x[i] *= swell(u*50) * swell((1-u)*50)
	}
}
