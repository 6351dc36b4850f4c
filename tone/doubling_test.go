package tone

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ocarina/driver/large"
)

// An invented driver on a box with a passive radiator that, driven far past its
// xmax, comes to do the same every second period only.
const doubling = `
driver "unit" {
  re   = "6.7 ohm"
  sd   = "127 cm2"
  mms  = "16.5 g"
  cms  = "2.41 mm/N"
  rms  = "0.694 N*s/m"
  bl   = "6.14 T*m"
  xmax = "3.68 mm"
  le   = "1.08 mH"
  large {
    bl_shape  = [-0.107, -0.0709, -0.0075, 0.0149]
    kms_shape = [-0.0298, 0.212, -0.0177, 0.0264]
    le_shape  = [-0.011, -0.0716]
  }
}
air {
  density = "1.2 kg/m3"
  speed   = "344 m/s"
}
listen { radiation = "none" }
chamber "box" { volume = "5 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
passive "drone" {
  sd    = "132 cm2"
  mms   = "78 g"
  cms   = "2.91 mm/N"
  rms   = "0.722 N*s/m"
  front = outside
  rear  = chamber.box
}
`

// cycles integrates those equations in time (Runge–Kutta of fourth order, started
// softly) and returns the cone's place at the end of each of the last periods.
func cycles(t *testing.T, f, volts float64) [4]float64 {
	t.Helper()
	const (
		re, sd, mass, cms, rms, bl, xmax, le = 6.7, 127e-4, 16.5e-3, 2.41e-3, 0.694, 6.14, 3.68e-3, 1.08e-3
		area, drone, give, drag              = 132e-4, 78e-3, 2.91e-3, 0.722
		air                                  = 5e-3 / (1.2 * 344 * 344)
		periods, steps                       = 700, 1500
	)
	curve := func(c ...float64) large.Curve {
		v, err := large.Polynomial(c, xmax)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	motor, spring, coil := curve(-0.107, -0.0709, -0.0075, 0.0149), curve(-0.0298, 0.212, -0.0177, 0.0264), curve(-0.011, -0.0716)
	omega := 2 * math.Pi * f
	rate := func(at float64, y [5]float64) [5]float64 {
		x, v, i, z, u := y[0], y[1], y[2], y[3], y[4]
		b, _ := motor.At(x)
		k, _ := spring.At(x)
		l, dl := coil.At(x)
		p := -(sd*x + area*z) / air
		e := volts * math.Sqrt2 * math.Cos(omega*at) * math.Min(1, at*f/300)
		return [5]float64{
			v, (bl*b*i - k*x/cms - rms*v + p*sd + le*dl*i*i/2) / mass,
			(e - re*i - bl*b*v - le*dl*v*i) / (le * l),
			u, (p*area - z/give - drag*u) / drone,
		}
	}
	var y [5]float64
	h := 1 / f / steps
	plus := func(y, d [5]float64, k float64) [5]float64 {
		for i := range y {
			y[i] += k * d[i]
		}
		return y
	}
	var last [4]float64
	for n := range periods {
		for s := range steps {
			at := (float64(n) + float64(s)/steps) / f
			a := rate(at, y)
			b := rate(at+h/2, plus(y, a, h/2))
			c := rate(at+h/2, plus(y, b, h/2))
			d := rate(at+h, plus(y, c, h))
			y = plus(plus(plus(plus(y, a, h/6), b, h/3), c, h/3), d, h/6)
		}
		copy(last[:], last[1:])
		last[3] = y[0]
	}
	return last
}

// TestDoubling: from the drive told on, and not below it, the same equations
// integrated in time repeat themselves every second period only.
func TestDoubling(t *testing.T) {
	const f = 36.9
	m := read(t, doubling)
	l, err := Predict(m, Options{Tones: []float64{f}, Drives: []float64{20, 25, 30, 31, 32, 33, 34, 35, 36, 37, 38, 39, 40, 45}, Cold: true})
	if err != nil {
		t.Fatal(err)
	}
	tone := &l.Tones[0]
	if tone.DoublesAbove == nil {
		t.Fatal("nothing is told of doubling")
	}
	from := *tone.DoublesAbove
	if !strings.Contains(tone.Reading, fmt.Sprintf("Above %s V the cone no longer does the same every period", figures(from))) {
		t.Error(tone.Reading)
	}
	for _, c := range []struct {
		volts   float64
		doubled bool
	}{{from * 0.97, false}, {from + 2, true}} {
		x := cycles(t, f, c.volts)
		apart, again := math.Abs(x[3]-x[2]), math.Abs(x[3]-x[1])
		if c.doubled != (apart > 1e-5) || again > 0.05*apart+1e-6 {
			t.Errorf("%.3g V: %.4g m from period to period, %.4g from every second; told to double above %.3g V", c.volts, apart, again, from)
		}
	}
	// What stays inside xmax does not.
	if l, err = Predict(m, Options{Tones: []float64{f}, Drives: []float64{1, 5, 10}}); err != nil || l.Tones[0].DoublesAbove != nil {
		t.Errorf("%v, doubles above %v", err, l.Tones[0].DoublesAbove)
	}
}
