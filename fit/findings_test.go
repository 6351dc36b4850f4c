package fit

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"

	"ocarina/sweep"
)

const twin = `
driver "d" {
  re  = "5.6 ohm"
  le  = "0.6 mH"
  fs  = "42 Hz"
  qms = 5
  qes = 0.5
  vas = "24 L"
  sd  = "140 cm2"
}
driver "other" {
  re  = "6.1 ohm"
  le  = "0.5 mH"
  fs  = "55 Hz"
  qms = 4
  qes = 0.6
  vas = "12 L"
  sd  = "110 cm2"
}
chamber "box" { volume = "30 L" }
mount "left" {
  driver = driver.d
  front  = outside
  rear   = chamber.box
}
mount "right" {
  driver = driver.other
  front  = outside
  rear   = chamber.box
}
port "vent" {
  from     = chamber.box
  to       = outside
  diameter = "70 mm"
  length   = "120 mm"
}
drive {
  voltage = "2.83 V"
}
`

const pair = `
driver "d" {
  re  = "5.6 ohm"
  le  = "0.6 mH"
  fs  = "42 Hz"
  qms = 5
  qes = 0.5
  vas = "24 L"
  sd  = "140 cm2"
}
chamber "box" { volume = "30 L" }
mount "cones" {
  driver = driver.d
  count  = 2
  front  = outside
  rear   = chamber.box
}
port "vent" {
  from     = chamber.box
  to       = outside
  diameter = "70 mm"
  length   = "120 mm"
}
`

// Each mistake on the bench is found and named, and nothing else is.
func TestFindings(t *testing.T) {
	for _, v := range []struct {
		name, text string
		edits      []edit
		spoil      func(s *sweep.Sweep)
		kind, part string // "" for no finding at all
		says       string
	}{
		{"nothing", linkedBox, []edit{{"inner", "length", "30.4 mm"}}, nil, "", "", ""},
		{"port long", linkedBox, []edit{{"inner", "length", "44 mm"}}, nil, PortLong, "inner", "longer than drawn"},
		{"port short", linkedBox, []edit{{"mouth", "length", "45 mm"}}, nil, PortShort, "mouth", "shorter than drawn"},
		{"port blocked", linkedBox, []edit{{"mouth", "size", "24 mm, 38 mm"}, {"mouth", "resistance", "9000 Pa*s/m3"}}, nil, PortBlocked, "mouth", "partly blocked"},
		{"volume", linkedBox, []edit{{"far", "volume", "1.75 L"}}, nil, Volume, "far", "less than drawn"},
		{"broken in", linkedBox, []edit{{"small", "fs", "76 Hz"}, {"small", "vas", "1.68 L"}, {"small", "qms", "3.63"}, {"small", "qes", "0.587"}}, nil, BreakIn, "small", "broken in"},
		{"warm coil", linkedBox, []edit{{"small", "re", "3.82 ohm"}, {"small", "qes", "0.787"}}, nil, Temperature, "small", "60 °C"},
		{"phase turned", linkedBox, nil, func(s *sweep.Sweep) {
			for i := range s.Phase {
				s.Phase[i] = -s.Phase[i]
			}
		}, Polarity, "", "opposite sign"},
		{"leads swapped", linkedBox, nil, func(s *sweep.Sweep) {
			for i := range s.Phase {
				s.Phase[i] = turn(s.Phase[i] + 3.141592653589793)
			}
		}, Polarity, "", "half a turn"},
		{"one reversed", twin, []edit{{"right", "reversed", "true"}}, nil, Polarity, "", "the other way round"},
		{"in series", twin, []edit{{"drive", "wiring", "series"}}, nil, Wiring, "drive", "in series"},
		{"a pair in series", pair, []edit{{"cones", "wiring", "series"}}, nil, Wiring, "cones", "in series"},
	} {
		t.Run(v.name, func(t *testing.T) {
			d := parse(t, v.text)
			for _, e := range v.edits {
				if err := d.SetText(e.part, e.key, e.text); err != nil {
					t.Fatal(err)
				}
			}
			s := measure(t, build(t, d), 15, 800, 300, 0.03, rand.New(rand.NewPCG(4, 4)))
			if v.spoil != nil {
				v.spoil(s)
			}
			check(t, v.text, s, v.kind, v.part, v.says)
		})
	}
}

func check(t *testing.T, text string, s *sweep.Sweep, kind, part, says string) {
	t.Helper()
	res, err := Match(context.Background(), parse(t, text), s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, w := range res.Findings {
		t.Logf("%s (%s): %s", w.Kind, w.Part, w.Reading)
		found = found || w.Kind == kind && (w.Part == part || part == "") && strings.Contains(w.Reading, says)
	}
	switch {
	case kind == "" && len(res.Findings) > 0:
		t.Errorf("%d findings where nothing is wrong", len(res.Findings))
	case kind != "" && !found:
		t.Errorf("no %s at %s saying %q; residual %.3g to %.3g dB", kind, part, says, res.Residual.Drawn, res.Residual.Fitted)
	case kind != "" && len(res.Findings) > 2:
		t.Errorf("%d findings for one thing wrong", len(res.Findings))
	}
}

// A box swept with a panel off.
func TestBoxLeftOpen(t *testing.T) {
	d := parse(t, linkedBox)
	d.Chambers[1].Volume.SI = 500
	s := measure(t, build(t, d), 15, 800, 300, 0.03, rand.New(rand.NewPCG(4, 4)))
	check(t, linkedBox, s, Open, "far", "open")
}

// A chamber 900 mm long, drawn as a chamber, measured as the line it is.
func TestChamberThatIsALine(t *testing.T) {
	const head = `
driver "d" {
  re  = "5.6 ohm"
  le  = "0.3 mH"
  fs  = "42 Hz"
  qms = 5
  qes = 0.5
  vas = "24 L"
  sd  = "140 cm2"
}
`
	line := head + `
junction "throat" {}
mount "cone" {
  driver = driver.d
  front  = outside
  rear   = junction.throat
}
line "box" {
  from = closed
  to   = junction.throat
  section {
    length = "900 mm"
    area   = "300 cm2"
  }
}
`
	drawn := head + `
chamber "box" { size = ["900 mm", "200 mm", "150 mm"] }
mount "cone" {
  driver = driver.d
  front  = outside
  rear   = chamber.box
}
`
	s := measure(t, build(t, parse(t, line)), 15, 400, 300, 0.03, rand.New(rand.NewPCG(4, 4)))
	check(t, drawn, s, Line, "box", "is a line")
}

// With no phase the magnitude does it alone.
func TestMagnitudeAlone(t *testing.T) {
	d := parse(t, linkedBox)
	if err := d.SetText("inner", "length", "44 mm"); err != nil {
		t.Fatal(err)
	}
	s := measure(t, build(t, d), 15, 800, 300, 0.03, rand.New(rand.NewPCG(4, 4)))
	s.Phase = nil
	check(t, linkedBox, s, PortLong, "inner", "longer")
}

// Outlying points, one in thirty by up to 6 dB, do not lead astray.
func TestOutlyingPoints(t *testing.T) {
	d := parse(t, linkedBox)
	if err := d.SetText("inner", "length", "44 mm"); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(4, 4))
	s := measure(t, build(t, d), 15, 800, 300, 0.03, rng)
	for i := range s.Magnitude {
		if rng.IntN(30) == 0 {
			s.Magnitude[i] *= 0.5 + 1.5*rng.Float64()
		}
	}
	check(t, linkedBox, s, PortLong, "inner", "longer")
}

func TestMatchIsCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	d := parse(t, linkedBox)
	s := measure(t, build(t, d), 15, 800, 300, 0.03, rand.New(rand.NewPCG(4, 4)))
	steps := 0
	_, err := Match(ctx, d, s, Options{Progress: func(p Progress) {
		if steps++; steps == 2 {
			cancel()
		}
		if len(p.Frequency) != len(p.Impedance) || len(p.Parameters) == 0 || !(p.Residual >= 0) {
			t.Errorf("step %d tells %d frequencies, %d impedances, %d parameters, residual %g", steps, len(p.Frequency), len(p.Impedance), len(p.Parameters), p.Residual)
		}
	}})
	if err == nil || ctx.Err() == nil {
		t.Errorf("cancelled after %d steps: %v", steps, err)
	}
}
