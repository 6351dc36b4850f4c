package recording

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"ocarina/wav"
)

// A scene is an invented recording whose truth is known.
type scene struct {
	rate     int
	clock    float64 // factor by which the player runs fast: 1.0005 is 0.05 %
	seed     uint64
	lead     float64 // s of pause first
	tail     float64 // s of pause last
	gap      float64 // s of pause between tones
	fade     float64 // s, raised cosine between steps
	noise    float64 // RMS, full scale
	rumble   bool    // noise that falls by 6 dB an octave from 30 Hz on
	offset   float64
	hum      []complex128 // RMS phasors of the mains lines
	mains    float64      // Hz
	tones    []playedTone
	bits     int // 0: unrounded
	clipAt   float64
	settling float64 // s, time constant with which a step settles; 0 for none
}

type playedTone struct {
	frequency float64 // Hz, before the clock's error
	hold      float64 // s each step
	steps     [][]complex128
	gaps      float64 // s of pause between the steps
}

// db is the ratio of a level.
func db(level float64) float64 { return math.Pow(10, level/20) }

// chord makes RMS phasors of harmonics from levels in dB re a full-scale sine;
// the phases are arbitrary but fixed.
func chord(levels ...float64) []complex128 {
	h := make([]complex128, len(levels))
	for i, l := range levels {
		h[i] = cmplx.Rect(db(l)/root2, 0.9+2.3*float64(i))
	}
	return h
}

func (s scene) samples() []float64 {
	rng := rand.New(rand.NewPCG(s.seed, 7))
	rate := float64(s.rate)
	var x []float64
	pause := func(seconds float64) { x = append(x, make([]float64, int(seconds*rate))...) }
	pause(s.lead)
	for i, tone := range s.tones {
		if i > 0 {
			pause(s.gap)
		}
		f := tone.frequency * s.clock
		start := len(x)
		for k, h := range tone.steps {
			n := int(tone.hold * rate)
			fade := int(s.fade * rate)
			before := make([]complex128, len(h))
			if k > 0 && tone.gaps == 0 {
				before = tone.steps[k-1]
			}
			for j := range n {
				t := float64(len(x)-start) / rate
				a := 1.0
				if j < fade {
					a = 0.5 - 0.5*math.Cos(math.Pi*float64(j)/float64(fade))
				} else if s.settling > 0 {
					a = 1 - 0.1*math.Exp(-float64(j-fade)/rate/s.settling)
				}
				if last := k == len(tone.steps)-1 || tone.gaps > 0; last && n-j < fade {
					a = 0.5 - 0.5*math.Cos(math.Pi*float64(n-j)/float64(fade))
				}
				z := cmplx.Rect(1, 2*math.Pi*f*t)
				p := z
				var v float64
				for m := range h {
					v += real(p * (h[m]*complex(a, 0) + before[m]*complex(1-a, 0)))
					p *= z
				}
				x = append(x, root2*v)
			}
			if k < len(tone.steps)-1 {
				pause(tone.gaps)
			}
		}
	}
	pause(s.tail)
	var low float64
	for i := range x {
		t := float64(i) / rate
		for m, h := range s.hum {
			x[i] += root2 * real(h*cmplx.Rect(1, 2*math.Pi*s.mains*float64(m+1)*t))
		}
		noise := s.noise * rng.NormFloat64()
		if s.rumble {
			const corner = 30 // Hz
			pole := math.Exp(-2 * math.Pi * corner / rate)
			low = pole*low + math.Sqrt(1-pole*pole)*noise
			noise = low
		}
		x[i] += s.offset + noise
		if s.clipAt > 0 {
			x[i] = min(s.clipAt, max(-s.clipAt, x[i]))
		}
		if s.bits > 0 {
			q := math.Exp2(float64(s.bits - 1))
			x[i] = min(1-1/q, max(-1, math.Round(x[i]*q)/q))
		}
	}
	return x
}

func (s scene) recording() *wav.Recording {
	bits := s.bits
	if bits == 0 {
		bits = 64
	}
	return &wav.Recording{Rate: s.rate, Bits: bits, Float: s.bits == 0, Channels: [][]float64{s.samples()}, Clipped: []int{0}}
}
