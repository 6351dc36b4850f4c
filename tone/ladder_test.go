package tone

import (
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/response"

	"github.com/google/go-cmp/cmp"
)

func ladder(t testing.TB, text string, o Options) *Ladder {
	t.Helper()
	l, err := Predict(read(t, text), o)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// TestInterpolatedDrives holds the first limit, the safe drive and the clean
// level, which lie between steps, to a prediction at just that drive.
func TestInterpolatedDrives(t *testing.T) {
	m := open(t, "testdata/dunlin.hcl")
	l, err := Predict(m, Options{})
	if err != nil {
		t.Fatal(err)
	}
	one := func(f, v float64) Step {
		again, err := Predict(m, Options{Tones: []float64{f}, Drives: []float64{v / 2, v}})
		if err != nil {
			t.Fatal(err)
		}
		return again.Tones[0].Steps[1]
	}
	limits, cleans := 0, 0
	for _, tone := range l.Tones {
		if tone.LimitVoltage != nil {
			limits++
			s := one(tone.Frequency, *tone.LimitVoltage)
			for _, u := range s.used {
				if u.name == tone.FirstLimit && math.Abs(u.part-1) > 0.01 || u.part > 1.01 {
					t.Errorf("%g Hz: at the first limit, %s, %s is used to %.4f", tone.Frequency, tone.FirstLimit, u.name, u.part)
				}
			}
			if math.Abs(*s.Level-*tone.LimitLevel) > 0.05 {
				t.Errorf("%g Hz: level at the limit %.3f dB, want %.3f", tone.Frequency, *tone.LimitLevel, *s.Level)
			}
		}
		if tone.CleanVoltage != nil && !tone.CleanAll {
			cleans++
			if s := one(tone.Frequency, *tone.CleanVoltage); math.Abs(s.THD/l.Clean-1) > 0.01 {
				t.Errorf("%g Hz: at the highest clean drive %.4f distortion, want %.4f", tone.Frequency, s.THD, l.Clean)
			}
		}
		s := one(tone.Frequency, *tone.SafeVoltage)
		travel := s.Mounts["cone"]
		if x := math.Max(travel.Outward, travel.Inward); x > 2.6*1.01 || travel.Power > 10*1.01 {
			t.Errorf("%g Hz: the safe drive of %.3f V travels %.3f mm and heats with %.3f W", tone.Frequency, *tone.SafeVoltage, x, travel.Power)
		}
	}
	if limits < 3 || cleans < 2 {
		t.Errorf("%d limits and %d clean levels between steps: too few to say anything", limits, cleans)
	}
}

// TestWarmCoil holds a warmed coil to a cold prediction of the same driver at
// that temperature, and its temperature to the thermal model.
func TestWarmCoil(t *testing.T) {
	text := `
driver "unit" {
  re  = "6 ohm"
  fs  = "40 Hz"
  qms = 4
  qes = 0.4
  vas = "30 L"
  sd  = "150 cm2"
  large {
    coil_thermal   = 1.2
    coil_time      = "10 s"
    magnet_thermal = 0.8
    magnet_time    = "900 s"
  }
}
chamber "box" { volume = "20 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
drive {
  voltage = "1 V"
  coil_temperature = "%.12g C"
}
`
	const seconds = 45.0
	z := 1.2*(1-math.Exp(-seconds/10)) + 0.8*(1-math.Exp(-seconds/900))
	for _, f := range []float64{30, 80} {
		for _, start := range []float64{20, 60} {
			l := ladder(t, fmt.Sprintf(text, start), Options{Tones: []float64{f}, Drives: []float64{5, 20, 30}, Seconds: seconds})
			s := l.Tones[0].Steps[2].Mounts["cone"]
			if want := start + z*s.Power; math.Abs(s.Temperature-want) > 1e-6 || s.Temperature < start+10 {
				t.Errorf("%g Hz from %g °C: %.6f °C at %.6f W, want %.6f", f, start, s.Temperature, s.Power, want)
			}
			if want := 6 * (1 + 0.00393*(s.Temperature-20)); math.Abs(s.Resistance-want) > 1e-6 {
				t.Errorf("%g Hz from %g °C: %.6f ohm, want %.6f", f, start, s.Resistance, want)
			}
			cold := ladder(t, fmt.Sprintf(text, s.Temperature), Options{Tones: []float64{f}, Drives: []float64{5, 20, 30}, Cold: true})
			c := cold.Tones[0].Steps[2].Mounts["cone"]
			if math.Abs(c.Excursion/s.Excursion-1) > 1e-7 || math.Abs(c.Current/s.Current-1) > 1e-7 {
				t.Errorf("%g Hz from %g °C: %.9g mm and %.9g A, a coil as warm makes %.9g and %.9g", f, start, s.Excursion, s.Current, c.Excursion, c.Current)
			}
			if l.Tones[0].Steps[2].Compression <= 0 {
				t.Errorf("%g Hz: a warm coil compresses by %g dB", f, l.Tones[0].Steps[2].Compression)
			}
		}
	}
}

// TestJump holds the drive at which a stiffening cone jumps to the first order
// of Duffing's equation: with F² = a·((d + ¾ga)² + c²), a the square of the
// peak, the branch of small motions ends where dF²/da = 0.
func TestJump(t *testing.T) {
	const eps, xmax = 1.5, 5e-3
	text := strings.Replace(fmt.Sprintf(bare, 0.0, eps), "qes  = 0.5", "qes  = 12", 1)
	m := read(t, text)
	h := hand(m)
	const f = 75.0
	omega := 2 * math.Pi * f
	z := h.impedance(omega)
	g, d, c := h.suspension*eps/(xmax*xmax), real(z), imag(z)
	root := math.Sqrt(9*d*d*g*g - 4*27.0/16*g*g*(d*d+c*c))
	a := (-3*d*g - root) / (2 * 27.0 / 16 * g * g)
	force := math.Sqrt(a * ((d+0.75*g*a)*(d+0.75*g*a) + c*c))
	volts := force * h.re / h.bl / math.Sqrt2
	var drives []float64
	for k := 0.8; k < 1.3; k += 0.02 {
		drives = append(drives, k*volts)
	}
	l, err := Predict(m, Options{Tones: []float64{f}, Drives: drives, Cold: true})
	if err != nil {
		t.Fatal(err)
	}
	steps := l.Tones[0].Steps
	jump := -1
	for i, s := range steps {
		if s.Jumped {
			if jump >= 0 {
				t.Error("it jumps twice")
			}
			jump = i
		}
	}
	if jump < 1 || len(steps) != len(drives) {
		t.Fatalf("no jump in %d of %d steps near %g V", len(steps), len(drives), volts)
	}
	// The third harmonic moves the fold a little.
	if v := steps[jump].Voltage; math.Abs(v/volts-1) > 0.04 {
		t.Errorf("jumps at %.4g V, the first order says %.4g", v, volts)
	}
	before, after := steps[jump-1].Mounts["cone"].Excursion, steps[jump].Mounts["cone"].Excursion
	if after < 1.5*before {
		t.Errorf("from %.4g to %.4g mm is no jump", before, after)
	}
	// The branch above is the largest root of the same equation, nearly.
	x := after / 1000
	got := math.Sqrt(x * x * ((d+0.75*g*x*x)*(d+0.75*g*x*x) + c*c))
	if want := steps[jump].Voltage * math.Sqrt2 * h.bl / h.re; math.Abs(got/want-1) > 0.15 {
		t.Errorf("the branch above: %.4g N, want %.4g", got, want)
	}
	if !strings.Contains(l.Tones[0].Reading, "jumps") {
		t.Errorf("the reading does not tell: %s", l.Tones[0].Reading)
	}
}

// TestWaveforms holds waveforms told to the numbers told beside them.
func TestWaveforms(t *testing.T) {
	l := ladder(t, lopsided, Options{Tones: []float64{34}, Drives: []float64{2, 10, 20}, Waveform: 512})
	for _, s := range l.Tones[0].Steps {
		v := s.Mounts["cone"]
		out, in, mean := math.Inf(-1), math.Inf(-1), 0.0
		var first complex128
		for q, x := range v.Waveform {
			out, in = math.Max(out, x), math.Max(in, -x)
			mean += x / 512
			first += complex(x/256, 0) * cmplx.Rect(1, -2*math.Pi*float64(q)/512)
		}
		for name, fastest := range s.Ports {
			most := 0.0
			for _, place := range s.Along[name] {
				for q, x := range place.Travel {
					most = math.Max(most, math.Abs(place.Travel[(q+1)%512]-x)*512*34/1000)
				}
			}
			if math.Abs(most/fastest-1) > 5e-4 {
				t.Errorf("%.3g V: the air in %s reaches %.5g m/s, told are %.5g", s.Voltage, name, most, fastest)
			}
		}
		// A port's air begins and ends in the chambers it joins.
		if d := cmp.Diff(s.ChamberWaveforms["near"], s.Along["inner"][0].Pressure); len(s.ChamberWaveforms) != 2 || d != "" {
			t.Errorf("%.3g V: %d chambers, pressure at the start of inner: %s", s.Voltage, len(s.ChamberWaveforms), d)
		}
		if math.Abs(out-v.Outward) > 2e-4*v.Outward || math.Abs(in-v.Inward) > 2e-4*v.Inward || math.Abs(mean-v.Offset) > 1e-9+1e-6*math.Abs(v.Offset) || math.Abs(cmplx.Abs(first)-v.Excursion) > 1e-6*v.Excursion {
			t.Errorf("%.3g V: waveform reaches %.5f and %.5f mm about %.6f, told are %.5f, %.5f and %.6f", s.Voltage, out, in, mean, v.Outward, v.Inward, v.Offset)
		}
	}
}

// TestSoftWaveforms: at a drive that moves nothing far, everything moves as the
// linear network says.
func TestSoftWaveforms(t *testing.T) {
	for _, path := range []string{"testdata/dunlin.hcl", "../demo/avocet.hcl", "../demo/curlew.hcl", "../demo/godwit.hcl"} {
		m := open(t, path)
		const f, volts, n = 97, 1e-5, 32
		l, err := Predict(m, Options{Tones: []float64{f}, Drives: []float64{volts}, Waveform: n, Cold: true})
		if err != nil {
			t.Fatal(err)
		}
		step := &l.Tones[0].Steps[0]
		b := response.NewBench(m)
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		e, _ := m.Drives[0].Weight(b.Values, 2*math.Pi*f)
		compared := 0
		same := func(what string, got []float64, phasor complex128) {
			t.Helper()
			compared++
			phasor *= complex(math.Sqrt2*volts/cmplx.Abs(e), 0)
			for q, x := range got {
				if want := real(phasor * cmplx.Rect(1, 2*math.Pi*float64(q)/n)); math.Abs(x-want) > 1e-5*cmplx.Abs(phasor) {
					t.Errorf("%s, %s at %d: %g, linear %g", path, what, q, x, want)
					return
				}
			}
		}
		for _, v := range m.Mounts {
			same(v.Name, step.Mounts[v.Name].Waveform, 1000*b.Solution()[v.Diaphragm.Displacement])
		}
		for _, v := range m.Passives {
			same(v.Name, step.PassiveWaveforms[v.Name], 1000*b.Solution()[v.Diaphragm.Displacement])
		}
		for _, v := range m.Chambers {
			same(v.Name, step.ChamberWaveforms[v.Name], b.ChamberPressure(v))
		}
		for _, v := range append(append([]*design.DuctModel{}, m.Ports...), m.Lines...) {
			for i, a := range response.Along(v, b.Values, b.Solution(), f, 3*f) {
				same(v.Name+" travel", step.Along[v.Name][i].Travel, 1000*a.Travel)
				same(v.Name+" pressure", step.Along[v.Name][i].Pressure, a.Pressure)
			}
		}
		if compared < 3 {
			t.Errorf("%s: %d waveforms", path, compared)
		}
	}
}

// TestSoftAirIsLinear: at a drive that moves nothing far the air in tapers is as
// fast as the linear prediction has it, also where that is between their ends.
func TestSoftAirIsLinear(t *testing.T) {
	m := open(t, "../demo/avocet.hcl")
	const volts = 1e-5
	inner := 0
	for _, f := range []float64{60, 160, 240, 350, 430, 560, 640, 760, 910} {
		l, err := Predict(m, Options{Tones: []float64{f}, Drives: []float64{volts}, Cold: true})
		if err != nil {
			t.Fatal(err)
		}
		b := response.NewBench(m)
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		e, _ := m.Drives[0].Weight(b.Values, 2*math.Pi*f)
		for _, v := range m.Lines {
			want := cmplx.Abs(b.AirSpeed(v)) * volts / cmplx.Abs(e)
			if got := l.Tones[0].Steps[0].Lines[v.Name]; math.Abs(got/want-1) > 1e-5 {
				t.Errorf("%g Hz: the air in %s reaches %.8g m/s, linear %.8g", f, v.Name, got, want)
			}
			if _, _, _, inside := b.Workspace().Fastest(v.Sections[0], b.Solution()); inside {
				inner++
			}
		}
	}
	if inner == 0 {
		t.Error("at none of the frequencies is the air fastest between the ends")
	}
}

// TestLadderIsFinite: what is printed is finite numbers whatever was asked.
func TestLadderIsFinite(t *testing.T) {
	for name, text := range map[string]string{
		"everything":       lopsided,
		"nothing to limit": strings.NewReplacer(`xmax  = "5 mm"`, `xmax = "20 mm"`, `power = "80 W"`, "").Replace(lopsided),
		"sealed inside": `
driver "unit" {
  re = "6 ohm"
  fs = "40 Hz"
  qms = 4
  qes = 0.4
  vas = "30 L"
  sd = "150 cm2"
  xmax = "3 mm"
}
chamber "a" { volume = "20 L" }
chamber "b" { volume = "10 L" }
mount "cone" {
  driver = driver.unit
  front  = chamber.a
  rear   = chamber.b
}
`,
	} {
		for _, o := range []Options{{Tones: []float64{5, 37, 800}}, {Tones: []float64{50}, Drives: []float64{1e-6, 1e-3, 1, 60}, Waveform: 64}} {
			l := ladder(t, text, o)
			raw, err := json.Marshal(l)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if strings.Contains(string(raw), "null,null,null,null,null,null,null,null,null,null") && name != "sealed inside" {
				t.Errorf("%s: a step without any level", name)
			}
			for _, tone := range l.Tones {
				if tone.Reading == "" {
					t.Errorf("%s, %g Hz: no reading", name, tone.Frequency)
				}
			}
		}
	}
}

func TestAskedWrongly(t *testing.T) {
	m := open(t, "testdata/dunlin.hcl")
	for want, o := range map[string]Options{
		"a tone of -3 Hz":           {Tones: []float64{-3}},
		"a drive of 1 V at place 2": {Drives: []float64{2, 1}},
		"a drive of NaN V":          {Drives: []float64{math.NaN()}},
		"1 steps; wanted 2 to":      {Steps: 1},
		"a time of -1 s":            {Seconds: -1},
		"a distortion of +Inf":      {Clean: math.Inf(1)},
		"3 harmonics":               {Harmonics: 3},
		"-1 points of a period":     {Waveform: -1},
	} {
		if _, err := Predict(m, o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	m.Design.Tones = nil
	if _, err := Predict(m, Options{}); err == nil || !strings.Contains(err.Error(), "no tones") {
		t.Errorf("no tones: %v", err)
	}
}

// TestReadings: which tones the box keeps clean by holding the cone, which need
// throw.
func TestReadings(t *testing.T) {
	m := open(t, "testdata/dunlin.hcl")
	l, err := Predict(m, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"", "needs throw", "% of xmax used", "short-throw driver with a strong motor"} {
		if !strings.Contains(l.Tones[i].Reading, want) {
			t.Errorf("%g Hz: %q lacks %q", l.Tones[i].Frequency, l.Tones[i].Reading, want)
		}
	}
	if !strings.Contains(l.Reading, "At 252 Hz little travel is used") || !strings.Contains(l.Reading, "At 144 Hz travel gives way first") {
		t.Errorf("%q", l.Reading)
	}
	all := strings.Join(l.Cautions, "\n")
	for _, want := range []string{"NIOSH", "predicted, not prescribed", "let them cool"} {
		if !strings.Contains(all, want) {
			t.Errorf("cautions lack %q: %s", want, all)
		}
	}
	if !strings.Contains(strings.Join(l.Assumed, "\n"), "82 %") {
		t.Errorf("assumed: %q", l.Assumed)
	}
}

// TestDriftIsExplained: each cause alone moves the cone and is named.
func TestDriftIsExplained(t *testing.T) {
	for want, block := range map[string]string{
		"the motor is stronger":        "bl_shape = [0.2]\nkms_shape = [0]",
		"the suspension is stiffer":    "bl_shape = [0]\nkms_shape = [0.3]",
		"the coil's own field pulls":   "bl_shape = [0]\nkms_shape = [0]\nle_shape = [-0.5]",
		"a port loses more pressure o": "bl_shape = [0]\nkms_shape = [0]",
	} {
		text := strings.Replace(`
driver "unit" {
  re = "6 ohm"
  le = "1 mH"
  fs = "40 Hz"
  qms = 4
  qes = 0.4
  vas = "60 L"
  sd = "150 cm2"
  xmax = "3 mm"
  large {
    %s
  }
}
chamber "box" { volume = "8 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
port "vent" {
  from = chamber.box
  to = outside
  diameter = "45 mm"
  length = "100 mm"
  edges = ["sharp", "sharp"]
}
`, "%s", block, 1)
		if strings.HasPrefix(want, "a port") {
			text = strings.Replace(text, `["sharp", "sharp"]`, "[\"sharp\", \"rounded\"]\nedge_radius = \"15 mm\"", 1)
		}
		l := ladder(t, text, Options{Tones: []float64{65}, Drives: []float64{1, 10, 30}})
		if !strings.Contains(l.Tones[0].Reading, want) {
			t.Errorf("%q: %s", want, l.Tones[0].Reading)
		}
	}
}

// TestTablesOfCurves: tables drawn from the curves that an xmax implies give the
// same ladder, and a table that the data sheet contradicts is told.
func TestTablesOfCurves(t *testing.T) {
	text := `
driver "unit" {
  re = "6 ohm"
  fs = "40 Hz"
  qms = 4
  qes = 0.4
  vas = "30 L"
  sd = "150 cm2"
  xmax = "4 mm"
  %s
}
chamber "box" { volume = "20 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
`
	plain := read(t, strings.Replace(text, "%s", "", 1))
	bl, cms := plain.Graph.Value(plain.Mounts[0].Motor.Bl), plain.Graph.Value(plain.Mounts[0].Motor.Cms)
	table := func(scale float64) string {
		var x, b, c []string
		for mm := -9.0; mm <= 9; mm += 0.75 {
			r := mm / 4
			x = append(x, fmt.Sprintf("\"%g mm\"", mm))
			b = append(b, fmt.Sprintf("\"%.9g T*m\"", scale*bl/(1+(1/0.82-1)*r*r)))
			c = append(c, fmt.Sprintf("\"%.9g m/N\"", scale*cms/(1+r*r/3)))
		}
		return "large {\nx = [" + strings.Join(x, ",") + "]\nbl = [" + strings.Join(b, ",") + "]\ncms = [" + strings.Join(c, ",") + "]\n}"
	}
	o := Options{Tones: []float64{35, 70}, Drives: []float64{3, 10, 25}}
	want, err := Predict(plain, o)
	if err != nil {
		t.Fatal(err)
	}
	got := ladder(t, strings.Replace(text, "%s", table(1), 1), o)
	for i := range want.Tones {
		for k, s := range want.Tones[i].Steps {
			g := got.Tones[i].Steps[k]
			if math.Abs(*g.Level-*s.Level) > 0.01 || math.Abs(*g.Harmonics[2]-*s.Harmonics[2]) > 0.3 {
				t.Errorf("%g Hz, %g V: %.3f and %.3f dB, want %.3f and %.3f", want.Tones[i].Frequency, s.Voltage, *g.Level, *g.Harmonics[2], *s.Level, *s.Harmonics[2])
			}
		}
	}
	if len(got.Warnings) != 0 {
		t.Errorf("%q", got.Warnings)
	}
	off := ladder(t, strings.Replace(text, "%s", table(1.2), 1), o)
	if text := strings.Join(off.Warnings, "\n"); !strings.Contains(text, "table of bl") || !strings.Contains(text, "table of cms") {
		t.Errorf("%q", text)
	}
	if math.Abs(*off.Tones[0].Steps[2].Level-*got.Tones[0].Steps[2].Level) > 1e-6 {
		t.Error("a table's scale changes the driver")
	}
}

// TestTipping: a symmetric driver that is driven above its resonance leaves its
// middle, from the drive on at which nothing holds it there.
func TestTipping(t *testing.T) {
	var text string
	for _, c := range transients {
		if c.name == "tipping over" {
			text = c.design
		}
	}
	l := ladder(t, text, Options{Tones: []float64{95}, Drives: []float64{5, 10, 20, 26, 32, 40}, Cold: true})
	for _, s := range l.Tones[0].Steps {
		v := s.Mounts["cone"]
		if tipped := s.Voltage > 28; s.Tipped != tipped || tipped != (math.Abs(v.Offset) > 0.5*v.Excursion) {
			t.Errorf("%g V: tipped %v, offset %.3f mm of %.3f", s.Voltage, s.Tipped, v.Offset, v.Excursion)
		}
	}
	if !strings.Contains(l.Tones[0].Reading, "Above 26.0 V the drive no longer leaves the cone its middle") {
		t.Errorf("%s", l.Tones[0].Reading)
	}
}

func TestMix(t *testing.T) {
	m := open(t, "testdata/dunlin.hcl")
	x, err := Mix(m, Pair{First: 144, Second: 700, Voltage: 6})
	if err != nil {
		t.Fatal(err)
	}
	if x.Products[0].First+x.Products[0].Second != 1 || len(x.Products) < 8 {
		t.Errorf("%+v", x.Products)
	}
	// Alone, the first tone does what the ladder says; the second shakes it little.
	l, err := Predict(m, Options{Tones: []float64{144}, Drives: []float64{3, 6}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range x.Products {
		if p.First == 1 && p.Second == 0 && math.Abs(p.Level-*l.Tones[0].Steps[1].Level) > 0.1 {
			t.Errorf("%.3f dB beside another tone, %.3f alone", p.Level, *l.Tones[0].Steps[1].Level)
		}
	}
	if !(x.ThirdOrder > x.SecondOrder) || !(x.ThirdOrder > 0.005) {
		t.Errorf("a symmetric driver modulates by %.4g in second and %.4g in third order", x.SecondOrder, x.ThirdOrder)
	}
	if _, err := json.Marshal(x); err != nil {
		t.Error(err)
	}
	// A small pair is the linear network's sum.
	small, err := Mix(m, Pair{First: 144, Second: 700, Voltage: 1e-4})
	if err != nil {
		t.Fatal(err)
	}
	b := response.NewBench(m)
	for _, p := range small.Products {
		f, volts := 144.0, 1e-4
		if p.Second == 1 {
			f, volts = 700, 0.25e-4
		}
		if p.First+p.Second != 1 || p.First*p.Second != 0 {
			t.Errorf("a small pair makes %+v", p)
			continue
		}
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		if want := response.Level(b.Pressure() * complex(volts/2.83, 0)); math.Abs(p.Level-want) > 1e-3 {
			t.Errorf("%+v, want %.4f dB", p, want)
		}
	}
	for _, bad := range []Pair{{First: 50, Second: 50, Voltage: 1}, {First: 50, Second: 60}, {First: 50, Second: 60, Voltage: 1, Order: 40}} {
		if _, err := Mix(m, bad); err == nil {
			t.Errorf("%+v: no error", bad)
		}
	}
}
