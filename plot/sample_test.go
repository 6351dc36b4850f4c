package plot

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var pictures = flag.String("pictures", "", "write the sample sheets to this folder, to be looked at")

// logSpace returns n frequencies from lo to hi, evenly spaced in octaves.
func logSpace(lo, hi float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = lo * math.Pow(hi/lo, float64(i)/float64(n-1))
	}
	return x
}

func over(x []float64, f func(float64) float64) []float64 {
	y := make([]float64, len(x))
	for i := range x {
		y[i] = f(x[i])
	}
	return y
}

// bump is an invented resonance: 1 at f0, falling on both sides.
func bump(f, f0, q float64) float64 {
	d := q * (f/f0 - f0/f)
	return 1 / (1 + d*d)
}

// samples are sheets with invented smooth curves, shaped like what the
// package is used for.
func samples() map[string]Sheet {
	x := logSpace(40, 500, 600)
	impedance := func(f float64) float64 {
		return 3.4 + 19*bump(f, 69, 4.2) + 18.3*bump(f, 132, 7) + 9.8*bump(f, 323, 50) + 0.0015*f
	}
	level := func(f float64) float64 {
		rise := 96 - 10*math.Log10(1+math.Pow(95/f, 8))
		return rise + 4*bump(f, 112, 2) - 7*(1-bump(f, 112, 0.4)) + 7*bump(f, 318, 40) - 40*bump(f, 331, 120)
	}
	travel := func(f float64) float64 {
		return 2.1/(1+math.Pow(f/115, 3))*math.Abs(1-bump(f, 106.5, 6)*0.97) + 0.5*bump(f, 140, 2)
	}
	mouth := func(f float64) float64 { return 12*bump(f, 109, 2.2) + 4*bump(f, 322, 40) + 0.2 }
	inner := func(f float64) float64 { return 5.5*bump(f, 100, 0.9) + 16*bump(f, 318, 14) + 0.1 }
	phase := func(f float64) float64 {
		return 55*math.Sin(2*math.Pi*math.Log(f/69)/math.Log(132/69.))*math.Exp(-math.Pow(math.Log(f/100), 2)) + 12*math.Log10(f/40)
	}
	marks := []Mark{{112, "♪112"}, {144, "♪144"}, {192, "♪192"}, {252, "♪252"}}
	lowest := func(lo, hi float64) float64 {
		best := lo
		for _, f := range logSpace(lo, hi, 2000) {
			if impedance(f) < impedance(best) {
				best = f
			}
		}
		return best
	}
	dip1, dip2 := lowest(80, 120), lowest(200, 310)
	peaks := []Feature{
		{X: 69, Y: impedance(69), Label: "cone on its own spring"},
		{X: dip1, Y: impedance(dip1), Label: "mouth against both"},
		{X: 132, Y: impedance(132), Label: "far against cone and mouth"},
		{X: dip2, Y: impedance(dip2), Label: "inner between near and far"},
		{X: 323, Y: impedance(323), Label: "near against inner"},
	}
	whole := Sheet{
		Title: "Dunlin", Subtitle: "two chambers in series · model 1:4 · drive 2.83 V · half space, 1 m",
		XTitle: "Frequency", XUnit: "Hz", LogX: true, Marks: marks,
		Note: "Invented curves. Level in half space at 1 m, drive 2.83 V.",
		Panels: []Panel{
			{Axis: Axis{Title: "Impedance", Unit: "ohm", Log: true}, Curves: []Curve{{X: x, Y: over(x, impedance)}}, Features: peaks},
			{Axis: Axis{Title: "Level", Unit: "dB at 1 m", Span: 40}, Curves: []Curve{{X: x, Y: over(x, level)}}},
			{Axis: Axis{Title: "Cone travel", Unit: "mm, one way"}, Curves: []Curve{{Name: "cone", X: x, Y: over(x, travel)}}, Limits: []Limit{{2.6, "Xmax 2.6"}}},
			{Axis: Axis{Title: "Air speed", Unit: "m/s"}, Curves: []Curve{{Name: "mouth", X: x, Y: over(x, mouth)}, {Name: "inner", X: x, Y: over(x, inner)}}, Limits: []Limit{{17, "caution 17"}}},
		},
	}
	narrow := whole
	narrow.Width = 340
	narrow.Panels = append([]Panel(nil), whole.Panels...)
	narrow.Panels[0].Right = &Axis{Title: "Phase", Unit: "deg", Range: &[2]float64{-90, 90}}
	narrow.Panels[0].Curves = append(narrow.Panels[0].Curves, Curve{Name: "phase", X: x, Y: over(x, phase), Right: true, Emphasis: -1, Color: 1})

	var sweeps []Curve
	for i, name := range []string{"empty box", "with 20 g of wool", "with 40 g of wool", "port shut", "repeat after an hour", "next day", "other amplifier"} {
		k := float64(i)
		sweeps = append(sweeps, Curve{Name: name, X: x, Y: over(x, func(f float64) float64 {
			return 3.4 + (19-1.5*k)*bump(f, 69+2*k, 4.2) + (18-2*k)*bump(f, 132+3*k, 7-0.4*k) + 0.1*k
		})})
	}
	model := Curve{Name: "drawn", X: x, Y: over(x, impedance), Emphasis: 1, Dash: true}
	compare := Sheet{
		Title: "Seven sweeps over the drawn curve", XTitle: "Frequency", XUnit: "Hz", LogX: true, Marks: marks,
		Panels: []Panel{{Axis: Axis{Title: "Impedance", Unit: "ohm", Log: true}, Right: &Axis{Title: "Phase", Unit: "deg"},
			Curves: append(append([]Curve{model}, sweeps...), Curve{Name: "phase", X: x, Y: over(x, phase), Right: true, Emphasis: -1})}},
	}
	volts := []float64{0.5, 1, 2, 2.83, 4, 5.6, 8, 11.2}
	ladder := Sheet{
		Title: "Tone 112 Hz up the ladder", Subtitle: "level against what small signals would give",
		XTitle: "Drive", XUnit: "V", LogX: true, Width: 520,
		Panels: []Panel{
			{Axis: Axis{Title: "Level", Unit: "dB"}, Curves: []Curve{
				{Name: "small signal", X: volts, Y: over(volts, func(v float64) float64 { return 88 + 20*math.Log10(v) }), Dash: true, Emphasis: -1, Color: 2},
				{Name: "predicted", X: volts, Y: over(volts, func(v float64) float64 { return 88 + 20*math.Log10(v) - 0.03*v*v }), Color: 1},
				{Name: "recorded", X: volts, Y: over(volts, func(v float64) float64 { return 87.7 + 20*math.Log10(v) - 0.034*v*v }), Points: true, Color: 4},
			}},
			{Axis: Axis{Title: "Distortion", Unit: "%", Log: true}, Curves: []Curve{
				{Name: "second", X: volts, Y: over(volts, func(v float64) float64 { return 0.2 * v })},
				{Name: "third", X: volts, Y: over(volts, func(v float64) float64 { return 0.02 * v * v })},
				{Name: "fifth", X: volts, Y: over(volts, func(v float64) float64 { return 0.0003 * v * v * v * v })},
			}},
		},
	}
	var crowd []Feature
	for i := range 14 {
		f := 120 + float64(i)
		crowd = append(crowd, Feature{X: f, Y: impedance(f), Label: "feature number " + string(rune('a'+i))})
	}
	crowded := Sheet{Title: "Fourteen features at one place", XTitle: "Frequency", XUnit: "Hz", LogX: true, Width: 420,
		Marks:  []Mark{{110, "♪110"}, {112, "♪112"}, {114, "♪114"}, {116, "♪116"}, {118, "♪118"}, {124, "♪124"}},
		Panels: []Panel{{Axis: Axis{Title: "Impedance", Unit: "ohm"}, Curves: []Curve{{X: x, Y: over(x, impedance)}}, Features: crowd}}}

	gap := over(x, level)
	for i := 200; i < 240; i++ {
		gap[i] = math.NaN()
	}
	gap[220] = gap[241]
	long := "a very long name that no panel of this width has any room for, however it is turned"
	odd := Sheet{
		Title: `<script>alert("ἄνεμος & ветер")</script> ` + long, Subtitle: long + " " + long + " " + long,
		XTitle: "Frequency", XUnit: "Hz", LogX: true, Width: 420, Note: "Дюна, λάρος, 磯鷸, שלום, \x00\x1b[31mred\u202e.",
		Panels: []Panel{
			{Axis: Axis{Title: "Gaps and one lone point", Unit: "dB"}, Curves: []Curve{{Name: long, X: x, Y: gap}, {Name: "ветер", X: x, Y: over(x, func(f float64) float64 { return 70 })}}},
			{Axis: Axis{Title: "Empty"}},
			{Axis: Axis{Title: "One point"}, Curves: []Curve{{Name: "磯鷸", X: []float64{100}, Y: []float64{3}}}},
			{Axis: Axis{Title: "All equal"}, Curves: []Curve{{Name: "level", X: x, Y: over(x, func(float64) float64 { return 4 })}}},
			{Axis: Axis{Title: "Many decades", Log: true}, Curves: []Curve{{Name: "steep", X: x, Y: over(x, func(f float64) float64 { return math.Pow(f, 20) * 1e-40 })}}},
			{Axis: Axis{Title: "Spike in 200 000"}, Curves: []Curve{{Name: "noise", X: logSpace(40, 500, 200000), Y: spike(200000)}}},
		},
	}
	return map[string]Sheet{"whole": whole, "narrow": narrow, "compare": compare, "ladder": ladder, "crowded": crowded, "odd": odd}
}

// spike is a fast small wave with one point far above it.
func spike(n int) []float64 {
	y := make([]float64, n)
	for i := range y {
		y[i] = math.Sin(float64(i) * 0.7)
	}
	y[n*2/3] = 12
	return y
}

// TestPictures: every sample is written as every kind of file, which begins as
// that kind does; into a folder to be looked at if one is given.
func TestPictures(t *testing.T) {
	folder := *pictures
	if folder == "" {
		folder = t.TempDir()
	}
	for name, s := range samples() {
		for ext, begins := range map[string]string{".svg": "<", ".png": "\x89PNG", ".pdf": "%PDF-"} {
			path := filepath.Join(folder, name+ext)
			if err := s.WriteFile(path); err != nil {
				t.Error(err)
				continue
			}
			if raw, err := os.ReadFile(path); err != nil || !strings.HasPrefix(string(raw), begins) || len(raw) < 1000 {
				t.Errorf("%s: %v, %d bytes", path, err, len(raw))
			}
		}
	}
}
