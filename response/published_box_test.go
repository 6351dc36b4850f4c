package response

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"
)

// Systems of the textbooks are lumped: their ports are given so small an area
// and length that no wave fits in, walls are ideal, and the outside loads
// nothing.

const (
	textbookDensity = 1.18  // kg/m³
	textbookSpeed   = 345.0 // m/s, as Small takes it
)

func airText(density, speed float64) string {
	return fmt.Sprintf("air {\n  density = \"%s kg/m3\"\n  speed = \"%s m/s\"\n}\nlisten {\n  radiation = \"none\"\n}\n", number(density), number(speed))
}

// driverText is a driver by its total Q and mechanical Q.
func driverText(fs, qts, qms, vas, sd float64, more string) string {
	return fmt.Sprintf(`driver "unit" {
  re = "6 ohm"
  sd = "%s m2"
  fs = "%s Hz"
  qts = %s
  qms = %s
  vas = "%s m3"
  %s
}
`, number(sd), number(fs), number(qts), number(qms), number(vas), more)
}

// lossless is a mechanical Q so high that the losses are the coil's.
const lossless = 1e4

func sealedText(driver string, volume float64, drive string) string {
	return airText(textbookDensity, textbookSpeed) + driver + fmt.Sprintf(`chamber "box" { volume = "%s m3" }
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.box
}
drive { %s }
`, number(volume), drive)
}

// ventText is a port between a chamber and the outside that tunes the chamber's
// volume to a frequency as a mass alone does.
func ventText(chamber string, volume, fb, speed float64) string {
	const area = 1e-6 // m²
	w := 2 * math.Pi * fb
	return fmt.Sprintf(`port "vent" {
  from = chamber.%s
  to = outside
  area = "%s m2"
  length = "%s m"
  end_correction = ["0 mm", "0 mm"]
  walls = "ideal"
}
`, chamber, number(area), number(speed*speed*area/(w*w*volume)))
}

// reference is the pressure of the driver far above resonance, Pa: moving
// mass against force factor and resistance alone, by the data it was given.
func reference(b *Bench) float64 {
	m := b.Model
	mount, g := m.Mounts[0], b.Values
	motor := mount.Motor
	volts := g[m.Drives[0].Voltage]
	acceleration := g[motor.Bl] * volts / g[mount.Coil.Resistance] / g[motor.Mms]
	return m.Air.Density * g[mount.Area] * acceleration / (m.Angle * g[m.Distance])
}

// overReference is the level at the listener re that far above resonance, dB.
func overReference(t *testing.T, b *Bench, f float64) float64 {
	return 20 * math.Log10(cmplx.Abs(b.solved(t, f).Pressure())/reference(b))
}

// falls is the highest frequency below which the level has fallen to so many dB.
func falls(t *testing.T, level func(f float64) float64, to, from float64) float64 {
	f := from
	for level(f) > to {
		f /= 1.02
		if f < 1 {
			t.Fatal("the level never falls")
		}
	}
	return crossing(func(f float64) float64 { return level(f) - to }, f, 1.02*f)
}

// peak is the highest level between two frequencies.
func peak(level func(f float64) float64, from, to float64) (at, most float64) {
	most = math.Inf(-1)
	for f := from; f < to; f *= 1.01 {
		if l := level(f); l > most {
			at, most = f, l
		}
	}
	return highest(level, at/1.01, at*1.01)
}

const textbookFs = 30.0 // Hz

// checkVented builds the driver and box that a row of alignments gives and
// looks where their response falls by 3 dB. With a leak, what leaves the box
// through cone, vent and leak is what its air is compressed by.
func checkVented(t *testing.T, r *published) {
	value := func(keys ...string) float64 {
		for _, key := range keys {
			if _, ok := r.Inputs[key]; ok {
				return r.input(t, key)
			}
		}
		v, _ := r.expected(t, keys[0])
		return v
	}
	qt, alpha, h := value("Qt", "Qts"), value("Vas_over_Vb"), value("fb_over_fs")
	const vas = 0.1
	volume := vas / alpha
	leak := ""
	if _, ok := r.Inputs["QL"]; ok {
		leak = fmt.Sprintf("leak_q = %s\n  leak_at = \"%s Hz\"", number(r.input(t, "QL")), number(h*textbookFs))
	}
	text := airText(textbookDensity, textbookSpeed) + driverText(textbookFs, qt, lossless, vas, 0.03, "") + fmt.Sprintf(`chamber "box" {
  volume = "%s m3"
  %s
}
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.box
}
`, number(volume), leak) + ventText("box", volume, h*textbookFs, textbookSpeed)
	b := NewBench(buildText(t, text))
	level := func(f float64) float64 { return overReference(t, b, f) }
	if leak != "" {
		stiffness := textbookDensity * textbookSpeed * textbookSpeed
		level = func(f float64) float64 {
			w := 2 * math.Pi * f
			flow := w * volume / stiffness * cmplx.Abs(b.solved(t, f).ChamberPressure(b.Model.Chambers[0]))
			return 20 * math.Log10(w*textbookDensity*flow/(2*math.Pi)/reference(b))
		}
	}
	r.check(t, "f3_over_fs", falls(t, level, halfPower, 20*textbookFs)/textbookFs)
	if r.ID[:3] == "c4." {
		_, most := peak(level, 0.5*textbookFs, 20*textbookFs)
		r.check(t, "passband_peak_dB", most)
	}
	if r.ID == "ql7.b4" || r.ID == "ql7.bl4" {
		r.check(t, "f10_over_fs", falls(t, level, -10, 20*textbookFs)/textbookFs)
	}
	if far := level(1000 * textbookFs); math.Abs(far) > 1e-3 {
		t.Errorf("%.4f dB far above resonance", far)
	}
}

// wattLevel is the level of one watt into the driver's resistance, far above
// resonance, at a metre in half space [dB], solved for in a box so large that it
// does nothing.
func wattLevel(t *testing.T, density, speed, fs, qes, vas float64) float64 {
	const qms = 5
	text := airText(density, speed) + driverText(fs, qms*qes/(qms+qes), qms, vas, 0.03, "") + `chamber "room" { volume = "9999 m3" }
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.room
}
drive { power = "1 W" }
`
	return Level(NewBench(buildText(t, text)).solved(t, 3000*fs).Pressure())
}

// checkEfficiency works out the reference efficiency from the acoustic power at
// a watt: p²·2πr²/(ρc). The constant is that times Qes/(fs³·Vas).
func checkEfficiency(t *testing.T, r *published) {
	var want []float64
	parseRow(t, r.Expected, &want)
	r.used[""] = true
	for i, c := range r.inputs(t, "c") {
		const fs, qes, vas = 28.0, 0.39, 0.083
		p := Reference * math.Pow(10, wattLevel(t, textbookDensity, c, fs, qes, vas)/20)
		got := p * p * 2 * math.Pi / (textbookDensity * c) * qes / (fs * fs * fs * vas)
		if math.Abs(got/want[i]-1) > 1e-4 { // the row's tolerance
			t.Errorf("c = %g m/s: %.5g, published %.5g (%s)", c, got, want[i], r.Source)
		}
	}
}

// checkSensitivity takes the reference efficiency by its formula off the level of
// a watt.
func checkSensitivity(t *testing.T, r *published) {
	var want []float64
	parseRow(t, r.Expected, &want)
	r.used[""] = true
	for i, rc := range r.inputs(t, "rho_c") {
		const fs, qes, vas, c = 28.0, 0.39, 0.083, 344.0
		eta := 4 * math.Pi * math.Pi / (c * c * c) * fs * fs * fs * vas / qes
		if got := wattLevel(t, rc/c, c, fs, qes, vas) - 10*math.Log10(eta); math.Abs(got-want[i]) > 0.006 { // the row's tolerance
			t.Errorf("ρc = %g: %.4f dB, published %.4f (%s)", rc, got, want[i], r.Source)
		}
	}
}

// checkVentedExample takes Small's driver and the box he arrives at.
func checkVentedExample(t *testing.T, r *published) {
	fs, qms, qes, vas := r.input(t, "fs_Hz"), r.input(t, "Qms"), r.input(t, "Qes"), r.input(t, "Vas_m3")
	volume, _ := r.expected(t, "VB_m3") // what he chose from a chart
	fb, _ := r.expected(t, "fB_Hz")
	text := airText(textbookDensity, r.input(t, "c")) + fmt.Sprintf(`driver "unit" {
  re = "6 ohm"
  sd = "300 cm2"
  fs = "%g Hz"
  qms = %g
  qes = %g
  vas = "%g m3"
}
chamber "box" {
  volume = "%g m3"
  leak_q = %g
  leak_at = "%g Hz"
}
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.box
}
`, fs, qms, qes, vas, volume, r.input(t, "QL"), fb) + ventText("box", volume, fb, textbookSpeed)
	b := NewBench(buildText(t, text))
	r.check(t, "Qts", b.Values[b.Model.Mounts[0].Motor.Qts])
	level := wattLevel(t, textbookDensity, textbookSpeed, fs, qes, vas)
	r.check(t, "eta0", math.Pow(10, level/10)*Reference*Reference*2*math.Pi/(textbookDensity*textbookSpeed))
	r.check(t, "f3_Hz", falls(t, func(f float64) float64 { return overReference(t, b, f) }, halfPower, 20*fs))
}

// closedBench is a driver of a total Q of a quarter in the box that raises it
// to qtc, with their resonance.
func closedBench(t *testing.T, qtc, alpha float64) (b *Bench, fc, volume float64) {
	const vas = 0.1
	volume = vas / alpha
	root := math.Sqrt(1 + alpha)
	return NewBench(buildText(t, sealedText(driverText(textbookFs, qtc/root, lossless, vas, 0.03, ""), volume, ""))), textbookFs * root, volume
}

func checkClosed(t *testing.T, r *published) {
	b, fc, _ := closedBench(t, r.input(t, "Qtc"), 3)
	level := func(f float64) float64 { return overReference(t, b, f) }
	r.check(t, "f3_over_fc", falls(t, level, halfPower, 30*fc)/fc)
	_, most := peak(level, 0.5*fc, 1000*fc)
	r.check(t, "peak_dB", most)
}

// perVolume is the efficiency constant η0/(f3³·VB) of a box [s³/m³], its
// efficiency taken from the pressure of a watt far above resonance.
func perVolume(t *testing.T, b *Bench, volume, top float64) float64 {
	p := cmplx.Abs(b.solved(t, 300*top).Pressure())
	volts, re := b.Values[b.Model.Drives[0].Voltage], b.Values[b.Model.Mounts[0].Coil.Resistance]
	eta := p * p * 2 * math.Pi / (textbookDensity * textbookSpeed) / (volts * volts / re)
	f3 := falls(t, func(f float64) float64 { return overReference(t, b, f) }, halfPower, 20*top)
	return eta / (f3 * f3 * f3 * volume)
}

func checkClosedEfficiency(t *testing.T, r *published) {
	k := func(qtc float64) float64 {
		b, fc, volume := closedBench(t, qtc, 3000) // the air is all of the spring
		return perVolume(t, b, volume, fc)
	}
	at, most := highest(k, 0.8, 1.6)
	r.check(t, "keta_max", most)
	r.check(t, "Qtc_at_max", at)
	r.check(t, "keta_B2", k(math.Sqrt(0.5)))
}

// checkVentedEfficiency goes through the fourth-order Chebyshev alignments
// (Small, JAES 21, 1973) for the most efficient.
func checkVentedEfficiency(t *testing.T, r *published) {
	_, most := highest(func(k float64) float64 {
		d := (k*k*k*k + 6*k*k + 1) / 8
		a3 := k * math.Sqrt(4+2*math.Sqrt2) / math.Pow(d, 0.25)
		a2 := (1 + k*k*(1+math.Sqrt2)) / math.Sqrt(d)
		a1 := a3 / math.Sqrt(d) * (1 - (1-k*k)/(2*math.Sqrt2))
		h, qt := a3/a1, 1/math.Sqrt(a1*a3)
		alpha := a2*h - 1 - h*h
		const vas = 0.1
		volume := vas / alpha
		text := airText(textbookDensity, textbookSpeed) + driverText(textbookFs, qt, lossless, vas, 0.03, "") + fmt.Sprintf(`chamber "box" { volume = "%s m3" }
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.box
}
`, number(volume)) + ventText("box", volume, h*textbookFs, textbookSpeed)
		return perVolume(t, NewBench(buildText(t, text)), volume, textbookFs)
	}, 0.35, 0.8)
	r.check(t, "keta_max", most)
	_, closed := highest(func(qtc float64) float64 {
		b, fc, volume := closedBench(t, qtc, 3000)
		return perVolume(t, b, volume, fc)
	}, 0.8, 1.6)
	r.check(t, "dB_above_closed", 10*math.Log10(most/closed))
}

// resonance is where the load of a drive is a pure resistance between two
// frequencies.
func resonance(t *testing.T, b *Bench, low, high float64) float64 {
	return crossing(func(f float64) float64 { return imag(b.solved(t, f).Impedance(0)) }, low, high)
}

// checkImpedanceMethod reads a driver's Qs off the impedance of the driver in
// a box so large that it is free air.
func checkImpedanceMethod(t *testing.T, r *published) {
	re, fs, qms, qes := r.input(t, "Re"), r.input(t, "fs"), r.input(t, "Qms"), r.input(t, "Qes")
	text := airText(textbookDensity, textbookSpeed) + fmt.Sprintf(`driver "unit" {
  re = "%g ohm"
  sd = "50 cm2"
  fs = "%g Hz"
  qms = %g
  qes = %g
  vas = "1 L"
}
chamber "room" { volume = "9999 m3" }
mount "cone" {
  driver = driver.unit
  front = outside
  rear = chamber.room
}
`, re, fs, qms, qes)
	b := NewBench(buildText(t, text))
	size := func(f float64) float64 { return cmplx.Abs(b.solved(t, f).Impedance(0)) }
	at, most := highest(size, fs/2, 2*fs)
	r0 := most / re
	half := func(f float64) float64 { return size(f) - re*math.Sqrt(r0) }
	f1, f2 := crossing(half, fs/10, at), crossing(half, at, 10*fs)
	root := math.Sqrt(f1 * f2)
	q := root * math.Sqrt(r0) / (f2 - f1)
	r.check(t, "Rmax", most)
	r.check(t, "r0", r0)
	r.check(t, "f1", f1)
	r.check(t, "f2", f2)
	r.check(t, "fs", root)
	r.check(t, "Qms", q)
	r.check(t, "Qes", q/(r0-1))
}

// checkAddedMass loads a driver with a known mass and works out its own from the
// two resonances that the program finds.
func checkAddedMass(t *testing.T, r *published) {
	mass, _ := r.expected(t, "Mms")
	compliance, _ := r.expected(t, "Cms")
	added := r.input(t, "Ma")
	fs := func(mass float64) float64 {
		m := buildText(t, sealedText(fmt.Sprintf(`driver "unit" {
  re = "6 ohm"
  sd = "200 cm2"
  mms = "%s kg"
  cms = "%s m/N"
  rms = "1 N*s/m"
  bl = "8 T*m"
}
`, number(mass), number(compliance)), 0.02, ""))
		return m.Graph.Value(m.Mounts[0].Motor.Fs)
	}
	alone, loaded := fs(mass), fs(mass+added)
	if off := math.Abs(alone/r.input(t, "fs") - 1); off > 1e-9 {
		t.Errorf("fs %.12g Hz, published %.12g", alone, r.input(t, "fs"))
	}
	if off := math.Abs(loaded/r.input(t, "fm") - 1); off > 1e-9 {
		t.Errorf("fs with the mass %.12g Hz, published %.12g", loaded, r.input(t, "fm"))
	}
	got := added / ((alone/loaded)*(alone/loaded) - 1)
	r.check(t, "Mms", got)
	r.check(t, "Cms", 1/(math.Pow(2*math.Pi*alone, 2)*got))
}

// checkKnownVolume puts a driver of the published Vas into the test box and
// finds its resonance there.
func checkKnownVolume(t *testing.T, r *published) {
	vas, _ := r.expected(t, "Vas")
	fs := r.input(t, "fs")
	volume := r.input(t, "VB")
	b := NewBench(buildText(t, sealedText(driverText(fs, 0.4, 5, vas, 0.02, ""), volume, "")))
	fc := resonance(t, b, 1.2*fs, 5*fs)
	r.check(t, "fc", fc)
	r.check(t, "Vas", volume*((fc/fs)*(fc/fs)-1))
}

// checkScaledFrequency scales a closed box and compares where the two resonate.
func checkScaledFrequency(t *testing.T, r *published) {
	n := r.input(t, "n")
	d := parseText(t, sealedText(driverText(40, 0.4, 5, 0.05, 0.02, ""), 0.02, ""))
	model, _, err := d.Scaled(n, true)
	if err != nil {
		t.Fatal(err)
	}
	full := resonance(t, NewBench(build(t, d)), 45, 200)
	small := resonance(t, NewBench(build(t, model)), 45*n, 200*n)
	want := n
	parseRow(t, r.Expected, &struct {
		Factor *float64 `json:"freq_factor"`
	}{&want})
	r.used["freq_factor"] = true
	if math.Abs(small/full/want-1) > 1e-9 {
		t.Errorf("a 1:%g model resonates %.12g times as high", n, small/full)
	}
}
