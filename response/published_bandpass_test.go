package response

import (
	"fmt"
	"math"
	"testing"
)

// bandpass is the symmetric fourth-order system of a driver with the rear box
// that raises its Q to qtc and the front volume for a shape S: both boxes
// resonate at fb.
func bandpass(t *testing.T, fs, qts, vas, qtc, s float64) (b *Bench, fb, rear, front float64) {
	fb = fs * qtc / qts
	rear = vas / ((qtc/qts)*(qtc/qts) - 1)
	front = math.Pow(2*s*qts, 2) * vas
	text := airText(textbookDensity, textbookSpeed) + driverText(fs, qts, lossless, vas, 0.03, "") + fmt.Sprintf(`chamber "rear" { volume = "%s m3" }
chamber "front" { volume = "%s m3" }
mount "cone" {
  driver = driver.unit
  front = chamber.front
  rear = chamber.rear
}
`, number(rear), number(front)) + ventText("front", front, fb, textbookSpeed)
	return NewBench(buildText(t, text)), fb, rear, front
}

// checkBandpass measures ripple and bandwidth: the frequencies 3 dB below the
// middle are fL,H = fb·(∓b + √(b² + 4Qtc²))/(2Qtc), so that b = Qtc·(fH−fL)/fb.
func checkBandpass(t *testing.T, r *published) {
	const qtc = 0.8
	b, fb, _, _ := bandpass(t, 30, 0.35, 0.1, qtc, r.input(t, "S"))
	level := func(f float64) float64 { return overReference(t, b, f) }
	middle := level(fb)
	_, most := peak(level, fb/3, fb)
	r.check(t, "ripple_dB", most-middle)
	low := falls(t, level, middle-3, fb*0.999)
	high := 1 / falls(t, func(inverse float64) float64 { return level(1e3 / inverse) }, middle-3, 1e3/fb*0.999) * 1e3
	r.check(t, "b", qtc*(high-low)/fb)
	if off := math.Abs(low*high/(fb*fb) - 1); off > 1e-4 {
		t.Errorf("fL·fH is %.2g off fb²", off)
	}
}

func checkBandpassGain(t *testing.T, r *published) {
	b, fb, _, _ := bandpass(t, 30, 0.35, 0.1, r.input(t, "Qtc"), r.input(t, "S"))
	r.check(t, "gain_dB", overReference(t, b, fb))
}

func checkBandpassExample(t *testing.T, r *published) {
	fs, qts, vas := r.input(t, "fs"), r.input(t, "Qts"), r.input(t, "Vas")
	b, fb, rear, front := bandpass(t, fs, qts, vas, r.input(t, "Qtc"), r.input(t, "S"))
	level := func(f float64) float64 { return overReference(t, b, f) }
	middle := level(fb)
	r.check(t, "gain_dB", middle)
	low := falls(t, level, middle-3, fb*0.999)
	high := 1 / falls(t, func(inverse float64) float64 { return level(1e3 / inverse) }, middle-3, 1e3/fb*0.999) * 1e3
	r.check(t, "fL_Hz", low)
	r.check(t, "fH_Hz", high)
	// The tuning as the impedance shows it: between its two peaks the vent's
	// resonance holds the cone.
	still, _ := highest(func(f float64) float64 {
		return -math.Abs(real(b.solved(t, f).Excursion(b.Model.Mounts[0].Diaphragm))) - math.Abs(imag(b.Excursion(b.Model.Mounts[0].Diaphragm)))
	}, fb*0.9, fb*1.1)
	r.check(t, "fb_Hz", still)
	// The boxes, as the springs that the solver makes of them.
	volume := func(n int) float64 { return b.Values[b.Model.Chambers[n].Volume] }
	if math.Abs(volume(0)-rear) > 1e-12 || math.Abs(volume(1)-front) > 1e-12 {
		t.Errorf("volumes %v and %v", volume(0), volume(1))
	}
	r.check(t, "Vr_m3", rear)
	r.check(t, "Vf_m3", front)
}

// checkHelmholtz finds a bottle's resonance from the cone that it holds still.
// The neck is no pure mass: as a wave duct of length L with masses Δ at its ends
// it resonates where (1 − k²LΔ₁…) differs in the order of (kL)²/6, two
// thousandths here, and lower.
func checkHelmholtz(t *testing.T, r *published) {
	v, a, l, c := r.input(t, "V"), r.input(t, "a"), r.input(t, "L"), r.input(t, "c")
	ends := [2]float64{8 / (3 * math.Pi) * a, 0.6133 * a} // flanged inside, free outside
	text := airText(textbookDensity, c) + driverText(40, 0.4, 5, 0.05, 0.02, "") + fmt.Sprintf(`chamber "bottle" { volume = "%g m3" }
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.bottle
}
port "neck" {
  from = chamber.bottle
  to = outside
  diameter = "%g m"
  length = "%g m"
  end_correction = ["%s m", "%s m"]
  walls = "ideal"
}
`, v, 2*a, l, number(ends[0]), number(ends[1]))
	m := buildText(t, text)
	r.check(t, "Leff", m.Graph.Value(m.Ports[0].Ideal))
	b := NewBench(m)
	found := crossing(func(f float64) float64 {
		return real(b.solved(t, f).Excursion(m.Mounts[0].Diaphragm) / b.ChamberPressure(m.Chambers[0]))
	}, 40, 60)
	want, _ := r.expected(t, "f")
	k := 2 * math.Pi * want / c
	most := math.Pow(k*l, 2) / 3
	if off := found/want - 1; !(off < 0 && off > -most) {
		t.Errorf("%.6g Hz, published as lumped %.6g: %.2g apart, at most −%.2g expected of the neck's own spring", found, want, off, most)
	}
}
