package sound

import "math"

// A Weighting is a frequency weighting of IEC 61672-1.
type Weighting int

// The weightings; Z is flat.
const (
	Z Weighting = iota
	A
	C
)

func (w Weighting) String() string {
	switch w {
	case A:
		return "A"
	case C:
		return "C"
	}
	return "Z"
}

// The poles of the A and C weightings in Hz, from the design goals of IEC
// 61672-1:2013 Annex E: f_r = 1000, f_L = 10^1.5, f_H = 10^3.9, f_A = 10^2.45
// and D = √½. A has pole1 twice, pole2, pole3 and pole4 twice; C has pole1
// and pole4 twice each.
var pole1, pole2, pole3, pole4 = poles()

func poles() (f1, f2, f3, f4 float64) {
	fr, fL, fH, fA := 1000.0, math.Pow(10, 1.5), math.Pow(10, 3.9), math.Pow(10, 2.45)
	d := math.Sqrt(0.5)
	b := 1 / (1 - d) * (fr*fr + fL*fL*fH*fH/(fr*fr) - d*(fL*fL+fH*fH)) // E.2
	c := fL * fL * fH * fH                                             // E.3
	root := math.Sqrt(b*b - 4*c)
	f1 = math.Sqrt((-b - root) / 2)  // E.4
	f4 = math.Sqrt((-b + root) / 2)  // E.5
	f2 = (3 - math.Sqrt(5)) / 2 * fA // E.6
	f3 = (3 + math.Sqrt(5)) / 2 * fA // E.7
	return f1, f2, f3, f4
}

// At is the weighting in dB at frequency f in Hz, 0 at 1 kHz
// (IEC 61672-1:2013, equations E.1 and E.8). At and below 0 Hz, where A and C
// pass nothing, it is Silent.
func (w Weighting) At(f float64) float64 {
	if w == Z {
		return 0
	}
	if f <= 0 {
		return Silent
	}
	return max(Silent, w.raw(f)-w.Norm())
}

// Norm is the normalisation constant in dB, the response at 1 kHz before it is
// set to zero: A1000 and C1000 of IEC 61672-1:2013 Annex E.
func (w Weighting) Norm() float64 { return w.raw(1000) }

func (w Weighting) raw(f float64) float64 {
	if w == Z {
		return 0
	}
	s := f * f
	r := pole4 * pole4 * s / ((s + pole1*pole1) * (s + pole4*pole4))
	if w == A {
		r *= s / math.Sqrt((s+pole2*pole2)*(s+pole3*pole3))
	}
	return 20 * math.Log10(r)
}
