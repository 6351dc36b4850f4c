package sound

import (
	"fmt"
	"math"
	"math/cmplx"
)

// LowestRate is the lowest sample rate in Hz that a Filter can be made for.
const LowestRate = 8000

// A Filter weights a time signal. It starts at rest and remembers the signal
// from call to call; a Filter belongs to one channel.
type Filter struct {
	section []section
	gain    float64
}

// section is y[n] = x[n] + b·x[n−1] + a·y[n−1].
type section struct{ a, b, x, y float64 }

// NewFilter makes the weighting w for a sample rate in Hz, at least LowestRate.
//
// Every pole of the analogue weighting becomes a first-order section with the
// same time constant (matched z). A high-pass section keeps its zero at 0 Hz;
// the zero of a low-pass section is set so that the section is exact at 0 Hz
// and at 0.28 of the sample rate, which keeps the top octave well inside class 1
// where the bilinear transform would bend it down. The whole is exact at 1 kHz.
func NewFilter(w Weighting, rate int) (*Filter, error) {
	if rate < LowestRate {
		return nil, fmt.Errorf("sample rate %d Hz: a weighting needs at least %d Hz", rate, LowestRate)
	}
	fs := float64(rate)
	f := &Filter{gain: 1}
	highpass := func(pole float64) {
		f.section = append(f.section, section{a: math.Exp(-2 * math.Pi * pole / fs), b: -1})
	}
	lowpass := func(pole float64) {
		a := math.Exp(-2 * math.Pi * pole / fs)
		fm := 0.28 * fs
		cos := math.Cos(2 * math.Pi * fm / fs)
		// (1 + b² + 2b·cos)/(1+b)² = t makes |H| at fm that of the analogue pole.
		t := 1 / (1 + fm*fm/(pole*pole)) * (1 + a*a - 2*a*cos) / ((1 - a) * (1 - a))
		q := cos - t
		b := (-q - math.Sqrt(q*q-(1-t)*(1-t))) / (1 - t)
		if math.Abs(b) > 1 {
			b = 1 / b
		}
		f.section = append(f.section, section{a: a, b: b})
	}
	switch w {
	case A:
		highpass(pole1)
		highpass(pole1)
		highpass(pole2)
		highpass(pole3)
	case C:
		highpass(pole1)
		highpass(pole1)
	case Z:
		return f, nil
	}
	lowpass(pole4)
	lowpass(pole4)
	f.gain = 1 / cmplx.Abs(f.response(1000/fs))
	return f, nil
}

// response is the gain at a frequency given as a fraction of the sample rate.
func (f *Filter) response(nu float64) complex128 {
	z := cmplx.Rect(1, -2*math.Pi*nu)
	h := complex(f.gain, 0)
	for _, s := range f.section {
		h *= (1 + complex(s.b, 0)*z) / (1 - complex(s.a, 0)*z)
	}
	return h
}

// Process writes the weighted src to dst, of the same length; they may be the
// same slice.
func (f *Filter) Process(dst, src []float64) {
	if len(dst) != len(src) {
		panic("sound: Process with slices of different length")
	}
	for i, v := range src {
		dst[i] = f.gain * v
	}
	for i := 0; i+1 < len(f.section); i += 2 {
		pass(&f.section[i], &f.section[i+1], dst)
	}
}

// pass runs two sections at once: the processor works on the second while the
// first waits for its own last sample.
func pass(s, t *section, x []float64) {
	s0, t0 := *s, *t
	for i, v := range x {
		s0.y = v + s0.b*s0.x + s0.a*s0.y
		s0.x = v
		t0.y = s0.y + t0.b*t0.x + t0.a*t0.y
		t0.x = s0.y
		x[i] = t0.y
	}
	*s, *t = s0, t0
}
