// Package rehearse makes the recording that a design would give if a ladder of
// tones were played on it: invented sound, to practise on and to check the
// reading of recordings with.
package rehearse

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"ocarina/design"
	"ocarina/response"
	"ocarina/tone"
	"ocarina/tone/signal"
)

// Options say how the recording is made.
type Options struct {
	Calibrator float64 // level of a calibrator's tone of 1 kHz put first, dB; 0: none
	Loudest    float64 // level that is full scale, dB of a sine; 0: 6 dB above the loudest step
	Noise      float64 // level of white noise over the whole band, dB; 0: none
	Hum        float64 // level of mains hum of 50 Hz and its next two odd multiples, dB; 0: none
	Seed       uint64  // of the noise
}

const (
	calibratorTime = 5.0 // s
	calibratorTone = 1000.0
	pause          = 1.5 // s
)

// voice is what a piece of a ladder sounds like: one spectrum of RMS phasors, or
// several at drives evenly apart in dB where it glides.
type voice [][]complex128

// glideStep is how far apart the drives of a glide are predicted, dB.
const glideStep = 0.5

// at returns the spectrum at a part u of the way, into h.
func (v voice) at(u float64, h []complex128) []complex128 {
	if len(v) == 0 {
		return nil
	}
	if len(v) == 1 {
		return v[0]
	}
	place := math.Min(math.Max(u, 0), 1) * float64(len(v)-1)
	i := min(int(place), len(v)-2)
	part := complex(place-float64(i), 0)
	for k := range h {
		h[k] = v[i][k]*(1-part) + v[i+1][k]*part
	}
	return h
}

// Record returns the samples of such a recording, in parts of full scale, and
// its sensitivity in full scales for a pascal. In a glide the box is taken to keep
// up with its drive.
func Record(m *design.Model, l *signal.Ladder, o Options) (samples []float64, sensitivity float64, err error) {
	if m.Listener == nil {
		return nil, 0, fmt.Errorf("found nothing that opens to the outside; wanted something to record")
	}
	voices := make([]voice, len(l.Pieces))
	loudest := 0.0
	sing := func(frequency float64, drives []float64) ([]tone.Step, error) {
		ladder, err := tone.Predict(m, tone.Options{Tones: []float64{frequency}, Drives: drives})
		if err != nil {
			return nil, err
		}
		steps := ladder.Tones[0].Steps
		if len(steps) < len(drives) {
			return nil, fmt.Errorf("%.4g Hz: found no steady state at %.4g V; wanted a lower drive", frequency, drives[len(steps)])
		}
		for i := range steps {
			if steps[i].Level != nil {
				loudest = math.Max(loudest, *steps[i].Level)
			}
		}
		return steps, nil
	}
	// The steps of a tone are climbed together: what a cone does depends on where
	// it comes from.
	for i, t := range l.Plan.Tones {
		var drives []float64
		for _, s := range t.Steps {
			drives = append(drives, s.Volts)
		}
		if t.Glide > 0 {
			first, last := drives[0], drives[len(drives)-1]
			n := 1 + int(math.Ceil(20*math.Abs(math.Log10(last/first))/glideStep))
			drives = response.LogSpaced(math.Min(first, last), math.Max(first, last), max(n, 2))
			steps, err := sing(t.Frequency, drives)
			if err != nil {
				return nil, 0, err
			}
			for k := range l.Pieces {
				if l.Pieces[k].Tone == i {
					for n := range steps {
						voices[k] = append(voices[k], spectrum(&steps[n]))
					}
					if last < first {
						slices.Reverse(voices[k])
					}
				}
			}
			continue
		}
		steps, err := sing(t.Frequency, drives)
		if err != nil {
			return nil, 0, err
		}
		for k := range l.Pieces {
			if l.Pieces[k].Tone == i {
				voices[k] = voice{spectrum(&steps[l.Pieces[k].Step])}
			}
		}
	}
	for k := range l.Pieces {
		if c := &l.Pieces[k]; c.Tone < 0 {
			steps, err := sing(c.Frequency, []float64{c.Volts})
			if err != nil {
				return nil, 0, err
			}
			voices[k] = voice{spectrum(&steps[0])}
		}
	}
	if o.Loudest == 0 {
		o.Loudest = math.Max(loudest, o.Calibrator) + 6
	}
	full := math.Sqrt2 * response.Reference * math.Pow(10, o.Loudest/20) // Pa
	samples = play(l, voices, o)
	for i := range samples {
		samples[i] /= full
	}
	return samples, 1 / full, nil
}

// spectrum returns a step's harmonics at the listener, Pa RMS.
func spectrum(s *tone.Step) (h []complex128) {
	for n, level := range s.Harmonics {
		var z complex128
		if level != nil {
			// The tone is a sine, the prediction's source a cosine.
			turn := s.Phases[n]*math.Pi/180 - float64(n+1)*math.Pi/2
			z = cmplx.Rect(response.Reference*math.Pow(10, *level/20), turn)
		}
		h = append(h, z)
	}
	return h
}

// play returns the sound pressure, Pa.
func play(l *signal.Ladder, voices []voice, o Options) []float64 {
	rate := float64(l.Plan.Rate)
	lead := 0
	if o.Calibrator > 0 {
		lead = int((calibratorTime + pause) * rate)
	}
	x := make([]float64, lead+l.Length)
	if o.Calibrator > 0 {
		a := math.Sqrt2 * response.Reference * math.Pow(10, o.Calibrator/20)
		n := int(calibratorTime * rate)
		for i := range n {
			edge := math.Min(1, math.Min(float64(i), float64(n-i))/(0.05*rate))
			x[i] = a * edge * math.Sin(2*math.Pi*calibratorTone*float64(i)/rate)
		}
	}
	fade := max(int(math.Round(l.Plan.Fade*rate)), 1)
	begin, before := 0, []complex128(nil)
	for k := range l.Pieces {
		c := &l.Pieces[k]
		if before == nil {
			begin = c.Start
		}
		end := c.Settle + c.Hold
		if !c.Joined {
			end += fade
		}
		h := make([]complex128, tone.Reported)
		for i := range end {
			now := voices[k].at(float64(i-c.Settle)/float64(max(c.Hold, 1)), h)
			angle := 2 * math.Pi * math.Mod(c.Frequency*float64(c.Start+i-begin)/rate, 1)
			v := at(now, angle)
			switch {
			case i < fade:
				w := swell(i, fade)
				v = w*v + (1-w)*at(before, angle)
			case i >= c.Settle+c.Hold:
				v *= 1 - swell(i-c.Settle-c.Hold, fade)
			}
			if n := lead + c.Start + i; n < len(x) {
				x[n] += v
			}
		}
		before = nil
		if c.Joined {
			before = voices[k].at(1, make([]complex128, tone.Reported))
		}
	}
	rng := rand.New(rand.NewPCG(o.Seed, 1))
	noise, hum := 0.0, 0.0
	if o.Noise > 0 {
		noise = response.Reference * math.Pow(10, o.Noise/20)
	}
	if o.Hum > 0 {
		hum = math.Sqrt2 * response.Reference * math.Pow(10, o.Hum/20)
	}
	for i := range x {
		t := 2 * math.Pi * 50 * float64(i) / rate
		x[i] += noise*rng.NormFloat64() + hum*(math.Sin(t)+0.5*math.Sin(3*t+1)+0.25*math.Sin(5*t+2))
	}
	return x
}

// at is the momentary value of a spectrum of RMS phasors.
func at(h []complex128, angle float64) float64 {
	sum := 0.0
	for k, z := range h {
		sin, cos := math.Sincos(float64(k+1) * angle)
		sum += real(z)*cos - imag(z)*sin
	}
	return math.Sqrt2 * sum
}

// swell is a raised cosine from 0 to 1.
func swell(i, n int) float64 { return 0.5 - 0.5*math.Cos(math.Pi*(float64(i)+0.5)/float64(n)) }
