package beside

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/tone"
	"ocarina/tone/recording"
	"ocarina/tone/rehearse"
	"ocarina/tone/session"
	"ocarina/tone/signal"
	"ocarina/wav"
)

// box is an invented box; the built one differs from the drawn one.
const box = `
title = "Whimbrel"
driver "unit" {
  re    = "3.4 ohm"
  le    = "0.25 mH"
  fs    = "70 Hz"
  qms   = 4
  qes   = 0.6
  vas   = "2.2 L"
  sd    = "56 cm2"
  xmax  = "%s"
  power = "30 W"
  large {
    bl_offset     = "%s"
    cms_asymmetry = %g
  }
}
chamber "box" { volume = "3 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
port "vent" {
  from = chamber.box
  to = outside
  diameter = "34 mm"
  length = "%s"
}
tones = ["75 Hz", "110 Hz"]
`

func model(t *testing.T, text string) *design.Model {
	t.Helper()
	d, diags := design.Parse([]byte(text), "box.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	return m
}

func plan(t *testing.T, m *design.Model) *session.Session {
	t.Helper()
	l, err := tone.Predict(m, tone.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s := &session.Session{Title: "Whimbrel", Wave: "whimbrel.wav", Rate: 16000, Bits: 24, Hold: 1}
	if err := s.Add(m, l, session.Choice{Steps: 6, Span: 20}); err != nil {
		t.Fatal(err)
	}
	return s
}

// record plays a session on a design and reads the file back.
func record(t *testing.T, m *design.Model, s *session.Session) *recording.Report {
	t.Helper()
	ladder, err := signal.Lay(s.Plan())
	if err != nil {
		t.Fatal(err)
	}
	x, sensitivity, err := rehearse.Record(m, ladder, rehearse.Options{Calibrator: 94, Noise: 42, Hum: 30, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range x {
		if math.Abs(v) > 1 {
			t.Fatalf("sample %d is %g", i, v)
		}
	}
	path := filepath.Join(t.TempDir(), s.Wave)
	if err := wav.WriteFile(path, wav.Format{Rate: s.Rate, Bits: s.Bits}, [][]float64{x}); err != nil {
		t.Fatal(err)
	}
	rec, err := wav.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := recording.Analyse(rec, s.Known())
	if err != nil {
		t.Fatal(err)
	}
	if r.Calibration == nil {
		t.Fatal("the calibrator was not found")
	}
	if e := 20 * math.Log10(r.Calibration.Sensitivity/sensitivity); math.Abs(e) > 0.02 {
		t.Errorf("sensitivity is off by %.4f dB", e)
	}
	return r
}

// TestBuiltAsDrawn: a box that is what was drawn agrees with its prediction
// within what the recording can tell.
func TestBuiltAsDrawn(t *testing.T) {
	m := model(t, fmt.Sprintf(box, "2.5 mm", "0.2 mm", 0.1, "80 mm"))
	c, err := Compare(m, record(t, m, plan(t, m)), tone.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Tones) != 2 {
		t.Fatalf("%d tones", len(c.Tones))
	}
	for _, one := range c.Tones {
		if len(one.Steps) != 6 {
			t.Errorf("%g Hz: %d steps", one.Frequency, len(one.Steps))
		}
		for _, s := range one.Steps {
			if d := *s.Level.Recorded - s.Level.Predicted; math.Abs(d) > 0.03 {
				t.Errorf("%g Hz, %.3g V: level off by %.3f dB", one.Frequency, s.Voltage, d)
			}
			if d := *s.THD.Recorded - s.THD.Predicted; math.Abs(d) > 4*s.THD.Error+2e-3*s.THD.Predicted {
				t.Errorf("%g Hz, %.3g V: distortion %.6f, predicted %.6f ± %.6f", one.Frequency, s.Voltage, *s.THD.Recorded, s.THD.Predicted, s.THD.Error)
			}
			if d := *s.Compression.Recorded - s.Compression.Predicted; math.Abs(d) > 0.05 {
				t.Errorf("%g Hz, %.3g V: compression off by %.3f dB", one.Frequency, s.Voltage, d)
			}
			for k, h := range s.Harmonics {
				if h.Predicted < s.Told+20 {
					continue
				}
				if d := *h.Recorded - h.Predicted; math.Abs(d) > 0.05+4*h.Error {
					t.Errorf("%g Hz, %.3g V: harmonic %d off by %.3f dB", one.Frequency, s.Voltage, k+2, d)
				}
			}
			if d := *s.Asymmetry.Recorded - s.Asymmetry.Predicted; math.Abs(d) > 0.002+5*s.Asymmetry.Error {
				t.Errorf("%g Hz, %.3g V: asymmetry %.5f, predicted %.5f", one.Frequency, s.Voltage, *s.Asymmetry.Recorded, s.Asymmetry.Predicted)
			}
		}
	}
	if !strings.Contains(c.Tones[0].Reading, "as predicted") {
		t.Errorf("%s", c.Tones[0].Reading)
	}
}

// TestBuiltOtherwise: what was built differs from what was drawn, and the
// comparison tells it.
func TestBuiltOtherwise(t *testing.T) {
	drawn := model(t, fmt.Sprintf(box, "2.5 mm", "0 mm", 0.0, "80 mm"))
	built := model(t, fmt.Sprintf(box, "1.6 mm", "0.4 mm", 0.2, "70 mm"))
	s := plan(t, drawn)
	c, err := Compare(drawn, record(t, built, s), tone.Options{})
	if err != nil {
		t.Fatal(err)
	}
	truth, err := tone.Predict(built, tone.Options{Tones: []float64{75}, Drives: s.Tones[0].Volts})
	if err != nil {
		t.Fatal(err)
	}
	top := c.Tones[0].Steps[5]
	want := truth.Tones[0].Steps[5]
	if d := *top.Level.Recorded - *want.Level; math.Abs(d) > 0.03 {
		t.Errorf("level off by %.3f dB from what was built", d)
	}
	if math.Abs(*top.THD.Recorded/want.THD-1) > 0.02 {
		t.Errorf("distortion %.5f, built %.5f", *top.THD.Recorded, want.THD)
	}
	if !(*top.THD.Recorded > 1.5*top.THD.Predicted) {
		t.Errorf("distortion %.4f beside %.4f: the built one should be worse", *top.THD.Recorded, top.THD.Predicted)
	}
	if text := c.Tones[0].Reading; !strings.Contains(text, "harmonic 2 is") {
		t.Errorf("%s", text)
	}
}

func TestNothingToCompare(t *testing.T) {
	m := model(t, fmt.Sprintf(box, "2.5 mm", "0 mm", 0.0, "80 mm"))
	s := plan(t, m)
	r := record(t, m, s)
	for i := range r.Tones {
		for k := range r.Tones[i].Steps {
			r.Tones[i].Steps[k].Drive = nil
		}
	}
	if _, err := Compare(m, r, tone.Options{}); err == nil || !strings.Contains(err.Error(), "drives") {
		t.Errorf("%v", err)
	}
}
