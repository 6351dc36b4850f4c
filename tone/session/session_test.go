package session

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ocarina/design"
	"ocarina/tone"
	"ocarina/tone/signal"
)

func sample() *Session {
	return &Session{Title: "Knot", Wave: "knot.wav", Rate: 48000, Bits: 24, Hold: 1.5, Tones: []Tone{
		{Frequency: 40, Resonance: 31, Q: 8, Volts: []float64{1, 2, 4}, Levels: []float64{80, 86, 91.5}},
		{Frequency: 63, Volts: []float64{0.5}},
	}, Cautions: []string{"40 Hz goes up to 4 V."}}
}

func TestThereAndBack(t *testing.T) {
	raw, err := sample().Bytes()
	if err != nil {
		t.Fatal(err)
	}
	back, err := Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(sample(), back); d != "" {
		t.Error(d)
	}
	o := back.Known()
	if len(o.Drives) != 2 || o.Tones[1] != 63 || o.Drives[0].Levels[0] != 0 || o.Drives[0].Levels[1] < 6.02 || o.Drives[0].Levels[1] > 6.03 {
		t.Errorf("%+v", o)
	}
}

func TestNoSession(t *testing.T) {
	for want, text := range map[string]string{
		"no plan of a session":      `tones = 3`,
		"0 tones":                   `{}`,
		"tone 1: found 0 Hz":        `{"tones": [{"voltage_v": [1]}]}`,
		"step 2: found -1 V":        `{"tones": [{"frequency_hz": 40, "voltage_v": [1, -1]}]}`,
		"2 levels and 1 drives":     `{"tones": [{"frequency_hz": 40, "voltage_v": [1], "level_db": [1, 2]}]}`,
		"a frequency above zero an": `{"tones": [{"frequency_hz": 40}]}`,
		"a ramp of -1 s":            `{"ramp_s": -1, "tones": [{"frequency_hz": 40, "voltage_v": [1, 2]}]}`,
		"one drive for a ramp":      `{"ramp_s": 9, "tones": [{"frequency_hz": 40, "voltage_v": [1]}]}`,
	} {
		if _, err := Read([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
}

// FuzzRead: whatever a file holds, it is a session that lays out or an error.
func FuzzRead(f *testing.F) {
	raw, err := sample().Bytes()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Add([]byte(`{"tones": [{"frequency_hz": 1e308, "voltage_v": [1e-300]}]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		s, err := Read(raw)
		if err != nil {
			return
		}
		s.Plan()
		s.Known()
		if _, err := s.Bytes(); err != nil {
			t.Error(err)
		}
	})
}

const box = `
driver "unit" {
  re  = "6 ohm"
  fs  = "40 Hz"
  qms = 4
  qes = 0.4
  vas = "30 L"
  sd  = "150 cm2"
  %s
}
chamber "box" { volume = "20 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
tones = ["30 Hz", "50 Hz", "120 Hz"]
`

func predicted(t *testing.T, limits string) (*design.Model, *tone.Ladder) {
	t.Helper()
	d, diags := design.Parse([]byte(strings.Replace(box, "%s", limits, 1)), "box.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	l, err := tone.Predict(m, tone.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return m, l
}

// TestNothingUnsafeIsPlanned: each planned step is tried on the design.
func TestNothingUnsafeIsPlanned(t *testing.T) {
	for _, limits := range []string{"xmax = \"3 mm\"\npower = \"40 W\"", "xmax = \"5 mm\"", "power = \"5 W\"",
		"xmax = \"3 mm\"\npower = \"40 W\"\nlarge {\n bl_offset = \"0.6 mm\"\n cms_asymmetry = -0.2\n}"} {
		m, l := predicted(t, limits)
		s := &Session{Rate: 48000, Bits: 24}
		if err := s.Add(m, l, Choice{Steps: 5, Span: 12}); err != nil {
			t.Fatal(err)
		}
		for _, planned := range s.Tones {
			again, err := tone.Predict(m, tone.Options{Tones: []float64{planned.Frequency}, Drives: planned.Volts})
			if err != nil {
				t.Fatal(err)
			}
			for i, step := range again.Tones[0].Steps {
				v := step.Mounts["cone"]
				if x := max(v.Outward, v.Inward); !step.Safe || strings.Contains(limits, "3 mm") && x > 3 || strings.Contains(limits, "40 W") && v.Power > 20 || strings.Contains(limits, "5 W\"") && v.Power > 2.5 {
					t.Errorf("%q, %g Hz, step %d: %.4f mm, %.4f W", limits, planned.Frequency, i+1, x, v.Power)
				}
			}
			// And no timider than it must be.
			top := planned.Volts[len(planned.Volts)-1]
			louder, err := tone.Predict(m, tone.Options{Tones: []float64{planned.Frequency}, Drives: []float64{top, 1.05 * top}})
			if err != nil {
				t.Fatal(err)
			}
			if louder.Tones[0].Steps[1].Safe {
				t.Errorf("%q, %g Hz: half a decibel more than %.4g V is safe too", limits, planned.Frequency, top)
			}
		}
	}
}

func TestUnboundedIsRefused(t *testing.T) {
	m, l := predicted(t, "")
	if err := new(Session).Add(m, l, Choice{}); err == nil || !strings.Contains(err.Error(), "bounds the drive") {
		t.Errorf("%v", err)
	}
	s := new(Session)
	if err := s.Add(m, l, Choice{Top: 2}); err != nil || s.Tones[0].Volts[7] != 2 {
		t.Errorf("%v %+v", err, s.Tones)
	}
	if err := s.Add(m, l, Choice{Steps: 1}); err == nil {
		t.Error("one step was taken")
	}
}

// TestReference: the tone to set the amplifier by is none of the tones, half as
// strong as is safe, and comes first.
func TestReference(t *testing.T) {
	m, l := predicted(t, "xmax = \"3 mm\"\npower = \"40 W\"")
	s := &Session{Rate: 48000, Bits: 24}
	if err := s.Add(m, l, Choice{Reference: 12}); err != nil {
		t.Fatal(err)
	}
	r := s.Reference
	if r == nil || r.Seconds != 12 {
		t.Fatalf("%+v", r)
	}
	for _, planned := range s.Tones {
		if off := r.Frequency / planned.Frequency; off > 0.94 && off < 1.06 {
			t.Errorf("the reference of %g Hz is the tone of %g Hz", r.Frequency, planned.Frequency)
		}
	}
	again, err := tone.Predict(m, tone.Options{Tones: []float64{r.Frequency}, Drives: []float64{r.Voltage, 1.98 * r.Voltage}})
	if err != nil {
		t.Fatal(err)
	}
	steps := again.Tones[0].Steps
	if !steps[0].Safe || !steps[1].Safe || *steps[0].Level < r.Level-0.05 || *steps[0].Level > r.Level+0.05 {
		t.Errorf("%g V at %g Hz: safe %v, %.2f dB, told %.2f", r.Voltage, r.Frequency, steps[0].Safe, *steps[0].Level, r.Level)
	}
	laid, err := signal.Lay(s.Plan())
	if err != nil {
		t.Fatal(err)
	}
	if first := laid.Pieces[0]; first.Tone != -1 || first.Frequency != r.Frequency || first.Volts != r.Voltage {
		t.Errorf("%+v", first)
	}
	if sheet := laid.Sheet("x.wav"); !strings.Contains(sheet, "Play the first 12 s") {
		t.Error(sheet)
	}
}

// TestRampIsPlanned: a ramp goes from the softest drive to the loudest, as fast
// as a box can follow and as slow as a reader can tell.
func TestRampIsPlanned(t *testing.T) {
	m, l := predicted(t, "xmax = \"3 mm\"\npower = \"40 W\"")
	s := &Session{Rate: 48000, Bits: 24, Ramp: 20}
	if err := s.Add(m, l, Choice{Span: 18}); err != nil {
		t.Fatal(err)
	}
	for i, planned := range s.Plan().Tones {
		volts := s.Tones[i].Volts
		if planned.Glide != 20 || len(planned.Steps) != 2 || planned.Steps[0].Volts != volts[0] || planned.Steps[1].Volts != volts[len(volts)-1] {
			t.Errorf("%+v", planned)
		}
	}
	if d := s.Known().Drives[0]; d.Ramp != 20 || d.Fade != signal.Fade {
		t.Errorf("%+v", d)
	}
	for _, seconds := range []float64{60, 5, -3} {
		s := &Session{Ramp: seconds}
		if err := s.Add(m, l, Choice{Span: 18}); err == nil || !strings.Contains(err.Error(), "wanted 0.4 to 2 dB a second") {
			t.Errorf("%g s: %v", seconds, err)
		}
	}
}

// TestBeyondIsToldOff: what was asked for goes past the limits, and says so.
func TestBeyondIsToldOff(t *testing.T) {
	m, l := predicted(t, "xmax = \"3 mm\"\npower = \"40 W\"")
	safe, bold := new(Session), new(Session)
	if err := safe.Add(m, l, Choice{}); err != nil {
		t.Fatal(err)
	}
	if err := bold.Add(m, l, Choice{Beyond: 6}); err != nil {
		t.Fatal(err)
	}
	if r := bold.Tones[0].Volts[7] / safe.Tones[0].Volts[7]; r < 1.97 || r > 2.1 {
		t.Errorf("6 dB beyond is %.3f times", r)
	}
	if last := bold.Cautions[len(bold.Cautions)-1]; !strings.Contains(last, "may be lost") {
		t.Errorf("%q", last)
	}
}
