package response

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"
)

// Textbook resonances of pipes, cones and exponential horns, found where the
// line holds still the cone that closes its throat: there the throat is a
// pressure antinode with next to no flow. The mouth opens into a room so large
// that its pressure is nought, or to the outside with the end mass.

// throat is a cone at one end of a lossless line of one section.
func throat(t *testing.T, section, to string) *Bench {
	t.Helper()
	return NewBench(buildText(t, airText(textbookDensity, textbookSpeed)+driverText(40, 0.4, 5, 0.05, 0.005, "")+fmt.Sprintf(`junction "throat" {}
chamber "room" { volume = "9999 m3" }
mount "cone" {
  driver = driver.unit
  front = chamber.room
  rear = junction.throat
}
line "pipe" {
  from = junction.throat
  to = %s
  walls = "ideal"
  section {
%s
  }
}
`, to, section)))
}

// stands is where the cone stands still between two frequencies: its excursion
// changes sign against the pressure at the throat.
func stands(t *testing.T, b *Bench, low, high float64) float64 {
	m := b.Model
	return crossing(func(f float64) float64 {
		return real(b.solved(t, f).Excursion(m.Mounts[0].Diaphragm) / b.x[m.Mounts[0].Diaphragm.Rear])
	}, low, high)
}

func pitch(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got/want-1) <= tolerance) {
		t.Errorf("%s: %.9g Hz, textbook %.9g", what, got, want)
	}
}

// A pipe closed at one end sounds where its length is an odd number of quarter
// waves (any textbook; Kinsler et al. ch. 10).
func TestQuarterWavePipe(t *testing.T) {
	const length = 1.3
	b := throat(t, fmt.Sprintf("length = \"%g m\"\narea = \"60 cm2\"", length), "chamber.room")
	for n := 1; n <= 5; n += 2 {
		want := float64(n) * textbookSpeed / (4 * length)
		pitch(t, fmt.Sprintf("%d quarter waves", n), stands(t, b, want*0.9, want*1.1), want, 1e-6)
	}
	// At the outside the flanged end lengthens it by 0.8217 a (Norris & Sheng, JSV
	// 135, 1989); as a mass at the end it makes cot kL = kΔ, which is that length to
	// (kΔ)³/3.
	delta := 0.8217 * math.Sqrt(60e-4/math.Pi)
	b = throat(t, fmt.Sprintf("length = \"%g m\"\narea = \"60 cm2\"", length), "outside")
	for n := 1; n <= 3; n += 2 {
		want := float64(n) * textbookSpeed / (4 * (length + delta))
		got := stands(t, b, want*0.9, want*1.1)
		k := 2 * math.Pi * got / textbookSpeed
		pitch(t, "with its end", got, want, math.Pow(k*delta, 3))
		if off := 1/math.Tan(k*length) - k*delta; math.Abs(off) > 1e-9 {
			t.Errorf("cot kL − kΔ = %.2g", off)
		}
	}
}

// A cone closed at the narrow end and open at the wide one sounds where
// kL = nπ − arctan kx1, x1 from its apex to the narrow end; with hardly any
// narrow end left that is a whole number of half waves, as an open pipe
// (Fletcher & Rossing, The Physics of Musical Instruments, ch. 8; from memory).
func TestConicalPipe(t *testing.T) {
	const length, wide = 1.1, 0.02 // m, m²
	for _, narrow := range []float64{1e-6, 1e-4, 20e-4, 100e-4} {
		b := throat(t, fmt.Sprintf("length = \"%g m\"\narea = \"%g m2\"\nto_area = \"%g m2\"", length, narrow, wide), "chamber.room")
		ratio := math.Sqrt(wide / narrow)
		x1 := length / (ratio - 1)
		for n := 1; n <= 4; n++ {
			k := crossing(func(k float64) float64 { return k*length - float64(n)*math.Pi + math.Atan(k*x1) }, 0, float64(n)*math.Pi/length)
			want := k * textbookSpeed / (2 * math.Pi)
			near := math.Min(0.03, 0.3*x1/length) // the throat's pressure node is not far
			pitch(t, fmt.Sprintf("cone from %g m², %d", narrow, n), stands(t, b, want*(1-near), want*(1+near)), want, 1e-6)
			if narrow == 1e-6 {
				pitch(t, "whole cone", want, float64(n)*textbookSpeed/(2*length), 0.01)
			}
		}
	}
}

// An exponential horn of area S0·e^(mx), closed at the throat and open at the
// mouth, sounds where tan bL = −2b/m, b² = k² − m²/4 (Webster's equation:
// p = e^(−mx/2)·(A cos bx + B sin bx), p′ = 0 at the throat and p = 0 at the
// mouth; Kinsler et al. ch. 14 for the equation).
func TestExponentialHorn(t *testing.T) {
	const length, narrow, wide = 0.9, 20e-4, 300e-4
	m := math.Log(wide/narrow) / length
	b := throat(t, fmt.Sprintf("length = \"%g m\"\narea = \"%g m2\"\nto_area = \"%g m2\"\nshape = \"exponential\"", length, narrow, wide), "chamber.room")
	for n := 1; n <= 4; n++ {
		bend := crossing(func(bend float64) float64 { return bend*length - float64(n)*math.Pi + math.Atan(2*bend/m) }, 0, float64(n)*math.Pi/length)
		want := math.Hypot(bend, m/2) * textbookSpeed / (2 * math.Pi)
		pitch(t, fmt.Sprintf("exponential horn, %d", n), stands(t, b, want*0.97, want*1.03), want, 1e-6)
	}
}

// A horn however long and wide for its throat has a solution at all frequencies.
func TestHugeHornsSolve(t *testing.T) {
	for _, shape := range []string{"conical", "exponential"} {
		b := throat(t, fmt.Sprintf("length = \"100 m\"\narea = \"1 cm2\"\nto_area = \"100 m2\"\nshape = %q", shape), "outside")
		for _, f := range []float64{0.1, 20, 900, 4200, 20000} {
			if err := b.Solve(f); err != nil {
				t.Errorf("%s, %g Hz: %v", shape, f, err)
				continue
			}
			if z, v := b.Impedance(0), b.AirSpeed(b.Model.Lines[0]); !(cmplx.Abs(z) > 1 && cmplx.Abs(z) < 1e4) || !(cmplx.Abs(v) > 0 && cmplx.Abs(v) < 1e3) {
				t.Errorf("%s, %g Hz: %v ohm, %v m/s", shape, f, z, v)
			}
		}
	}
}
