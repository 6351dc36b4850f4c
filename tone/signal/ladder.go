package signal

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"

	"ocarina/wav"
)

// A Ladder is a plan laid out in samples.
type Ladder struct {
	Plan   Plan // with its defaults
	Pieces []Piece
	Length int // samples of a channel
}

// A Piece is one step, glide or reference tone. Its samples are Start to
// Start+Settle+Hold, then the fade to silence if nothing follows at once.
type Piece struct {
	Tone, Step int // indexes into the plan; both −1 for the reference tone
	Frequency  float64
	Start      int // first sample
	Settle     int // samples in which it fades in and settles
	Hold       int // samples of a whole number of periods; of a glide, all of it
	Periods    int // in Hold; 0 for a glide
	Volts      float64
	Level      float64 // dB re a full-scale sine
	ToVolts    float64 // where a glide ends; Volts otherwise
	Joined     bool    // the next piece goes on without a pause
}

// Lay lays a plan out. All that is wrong with the plan is in the error.
func Lay(p Plan) (*Ladder, error) {
	p = p.orDefault()
	if err := p.check(); err != nil {
		return nil, err
	}
	l := &Ladder{Plan: p}
	samples := func(seconds float64) int { return int(math.Round(seconds * float64(p.Rate))) }
	fade := samples(p.Fade)
	at := samples(p.Lead)
	add := func(c Piece) {
		c.Start, c.Level = at, p.level(c.Volts)
		if c.ToVolts == 0 {
			c.ToVolts = c.Volts
		}
		at += c.Settle + c.Hold
		if !c.Joined {
			at += fade
		}
		l.Pieces = append(l.Pieces, c)
	}
	if r := p.Reference; r != nil {
		hold, periods := whole(r.Frequency, p.Rate, samples(r.Seconds))
		add(Piece{Tone: -1, Step: -1, Frequency: r.Frequency, Settle: fade, Hold: hold, Periods: periods, Volts: r.Volts})
		at += samples(p.Gap)
	}
	for i, t := range p.Tones {
		settle := fade + samples(t.settling())
		if t.Glide > 0 {
			last := t.Steps[len(t.Steps)-1].Volts
			add(Piece{Tone: i, Frequency: t.Frequency, Settle: settle, Hold: samples(t.Glide), Volts: t.Steps[0].Volts, ToVolts: last})
		} else {
			hold, periods := whole(t.Frequency, p.Rate, samples(p.Hold))
			for k, s := range t.Steps {
				last := k == len(t.Steps)-1
				add(Piece{
					Tone: i, Step: k, Frequency: t.Frequency, Settle: settle, Hold: hold, Periods: periods,
					Volts: s.Volts, Joined: !last && p.StepGap == 0,
				})
				if !last {
					at += samples(p.StepGap)
				}
			}
		}
		at += samples(p.Gap)
	}
	l.Length = at
	if float64(at) > longest*float64(p.Rate) {
		return nil, fmt.Errorf("ladder: found %.0f s, want two hours at most", l.Seconds())
	}
	return l, nil
}

// whole is the number of samples, no fewer than least, that comes nearest to a
// whole number of periods among the next sixteen numbers of periods.
func whole(f float64, rate, least int) (samples, periods int) {
	perPeriod := float64(rate) / f
	first := int(math.Ceil(float64(least) / perPeriod))
	best := math.Inf(1)
	for k := first; k < first+16; k++ {
		n := math.Round(float64(k) * perPeriod)
		if off := math.Abs(float64(k)*perPeriod - n); off < best-1e-9 {
			best, samples, periods = off, int(n), k
		}
	}
	return samples, periods
}

// Seconds is the length of the ladder.
func (l *Ladder) Seconds() float64 { return float64(l.Length) / float64(l.Plan.Rate) }

// Drives are the drives of a tone's steps in dB re 1 V.
func (l *Ladder) Drives(tone int) []float64 {
	var out []float64
	for _, c := range l.Pieces {
		if c.Tone == tone {
			out = append(out, 20*math.Log10(c.Volts))
		}
	}
	return out
}

// Samples makes the samples of one channel. 16-bit samples get triangular dither
// of one step, without which the softest steps would be distorted by rounding.
func (l *Ladder) Samples() []float64 {
	x := make([]float64, l.Length)
	fade := int(math.Round(l.Plan.Fade * float64(l.Plan.Rate)))
	before := 0.0 // amplitude of the piece that goes over into this one
	phase := 0    // sample at which the tone began
	for _, c := range l.Pieces {
		if before == 0 {
			phase = c.Start
		}
		amplitude := c.Volts / l.Plan.FullScale
		end := c.ToVolts / l.Plan.FullScale
		n := c.Settle + c.Hold
		for i := range n + fade {
			a := amplitude
			switch {
			case i < fade:
				a = before + (amplitude-before)*raised(i, fade)
			case i >= n && c.Joined:
				continue
			case i >= n:
				a = end * (1 - raised(i-n, fade))
			case i > c.Settle && end != amplitude:
				a = amplitude * math.Pow(end/amplitude, float64(i-c.Settle)/float64(c.Hold))
			}
			turns := c.Frequency / float64(l.Plan.Rate) * float64(c.Start+i-phase)
			x[c.Start+i] = a * math.Sin(2*math.Pi*(turns-math.Floor(turns)))
		}
		before = 0
		if c.Joined {
			before = amplitude
		}
	}
	if l.Plan.Bits == 16 && !l.Plan.Float {
		dither(x, math.Exp2(-15))
	}
	return x
}

// raised is a raised cosine from 0 to 1.
func raised(i, n int) float64 {
	return 0.5 - 0.5*math.Cos(math.Pi*(float64(i)+0.5)/float64(n))
}

// dither adds the sum of two even noises of half a step each way.
func dither(x []float64, step float64) {
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range x {
		x[i] += step * (rng.Float64() + rng.Float64() - 1)
	}
}

// Write writes the ladder as WAV.
func (l *Ladder) Write(w io.Writer) error { return wav.Write(w, l.format(), l.channels()) }

// WriteFile writes the ladder as a WAV file.
func (l *Ladder) WriteFile(path string) error { return wav.WriteFile(path, l.format(), l.channels()) }

func (l *Ladder) format() wav.Format {
	return wav.Format{Rate: l.Plan.Rate, Bits: l.Plan.Bits, Float: l.Plan.Float}
}

func (l *Ladder) channels() [][]float64 {
	x := l.Samples()
	channels := make([][]float64, l.Plan.Channels)
	for i := range channels {
		channels[i] = x
	}
	return channels
}
