package plot

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestTicks(t *testing.T) {
	digits := func(s string) float64 { return 6 * float64(len([]rune(s))) }
	for _, c := range []struct {
		lo, hi float64
		log    bool
		px     float64
		unit   string
		want   string
	}{
		{10, 1000, true, 700, "Hz", "10 20 50 100 200 500 1000"},
		{40, 500, true, 700, "Hz", "40 50 70 100 200 300 400 500"},
		{10, 1000, true, 120, "Hz", "10 100 1000"},
		{20, 20000, true, 600, "Hz", "20 50 100 200 500 1000 2000 5000 10000 20000"},
		{60, 95, true, 400, "Hz", "60 65 70 75 80 85 90 95"},
		{0.5, 11, true, 400, "V", "0.5 0.7 1 2 3 4 5 7 10"},
		{1e-6, 1e9, true, 400, "", "1e−6 1e−4 1e−2 1 1e2 1e4 1e6 1e8"},
		{0, 1, false, 200, "", "0.0 0.2 0.4 0.6 0.8 1.0"},
		{-3, 12.4, false, 300, "", "−2 0 2 4 6 8 10 12"},
		{57.2, 101.3, false, 150, "dB", "60 70 80 90 100"},
		{-97, 88, false, 160, "deg", "−90 −45 0 45"},
		{0, 4e6, false, 300, "", "0 1e6 2e6 3e6 4e6"},
	} {
		s := scale{lo: c.lo, hi: c.hi, log: c.log, a: 0, b: c.px}
		var got []string
		for _, k := range s.ticks(c.unit, 14, digits) {
			if k.label != "" {
				got = append(got, k.label)
			}
		}
		if d := cmp.Diff(c.want, strings.Join(got, " ")); d != "" {
			t.Errorf("%v to %v over %v px: %s", c.lo, c.hi, c.px, d)
		}
	}
}

// Ticks of any axis lie on it, ascend, never touch, and say different things.
func TestTicksOfAnyAxis(t *testing.T) {
	const seed = 11
	r := rand.New(rand.NewPCG(seed, 0))
	for range 3000 {
		s := scale{log: r.IntN(2) == 0, a: 0, b: 30 + 800*r.Float64()}
		if s.log {
			s.lo = math.Pow(10, r.Float64()*40-20)
			s.hi = s.lo * math.Pow(10, r.Float64()*r.Float64()*30+1e-6)
		} else {
			s.lo = (r.Float64() - 0.5) * math.Pow(10, r.Float64()*20-10)
			s.hi = s.lo + math.Pow(10, r.Float64()*20-10)
		}
		if s.hi-s.lo < 1e-9*math.Abs(s.hi) {
			continue
		}
		ts := s.ticks("", 8, tickType.width)
		end, last := math.Inf(-1), ""
		for i, k := range ts {
			if at := s.share(k.v); at < -1e-6 || at > 1+1e-6 {
				t.Errorf("seed %d: %+v: tick %v lies outside", seed, s, k)
			}
			if i > 0 && k.v <= ts[i-1].v {
				t.Errorf("seed %d: %+v: ticks do not ascend at %v", seed, s, k)
			}
			if k.label == "" {
				continue
			}
			w := tickType.width(k.label)
			if at := s.at(k.v); at-w/2 < end+8-1e-6 {
				t.Errorf("seed %d: %+v: %q stands %.1f px from %q", seed, s, k.label, at-w/2-end, last)
			} else {
				end = at + w/2
			}
			if k.label == last {
				t.Errorf("seed %d: %+v: two labels %q", seed, s, last)
			}
			last = k.label
		}
		if last == "" {
			t.Errorf("seed %d: %+v has no labelled tick", seed, s)
		}
	}
}

// 200 000 points come down to a few a column, and the one point that sticks
// out is still there.
func TestThinKeepsPeaks(t *testing.T) {
	const n = 200000
	c := Curve{X: logSpace(40, 500, n), Y: spike(n)}
	frame := box{50, 0, 750, 200}
	x, y := scale{lo: 40, hi: 500, log: true, a: 50, b: 750}, scale{lo: -2, hi: 14, a: 200, b: 0}
	runs, _ := c.trace(x, y, frame)
	total, highest := 0, math.Inf(1)
	for _, r := range runs {
		total += len(r)
		for _, p := range r {
			highest = min(highest, p.y)
		}
	}
	if total > 4*2*701 {
		t.Errorf("%d points remain", total)
	}
	if want := y.at(12); math.Abs(highest-want) > 1e-9 {
		t.Errorf("the peak is drawn at %v, want %v", highest, want)
	}
}

// What is drawn of a wild curve covers, in every column, what the whole curve
// covers there.
func TestThinCoversTheSame(t *testing.T) {
	const seed = 5
	r := rand.New(rand.NewPCG(seed, 0))
	frame := box{0, 0, 100, 100}
	var run []point
	for i := range 5000 {
		run = append(run, point{float64(i) / 50, 100 * r.Float64()})
	}
	whole, thinned := newSkyline(frame, [][]point{run}, nil), newSkyline(frame, [][]point{thin(run, 0.5)}, nil)
	for i := range whole {
		a, b := whole[i], thinned[i]
		if math.Abs(a.top-b.top) > 1e-9 || math.Abs(a.bottom-b.bottom) > 1e-9 {
			t.Fatalf("seed %d: column %d covers %v, thinned %v", seed, i, whole[i], thinned[i])
		}
	}
}

func TestClip(t *testing.T) {
	const seed = 3
	r := rand.New(rand.NewPCG(seed, 0))
	f := box{10, 20, 110, 70}
	for range 20000 {
		a := point{200*r.Float64() - 40, 160*r.Float64() - 40}
		b := point{200*r.Float64() - 40, 160*r.Float64() - 40}
		p, q, ok := clip(a, b, f)
		// Walk the segment: some of it is inside exactly if clip says so.
		inside, steps := 0, 400
		for i := 0; i <= steps; i++ {
			u := float64(i) / float64(steps)
			if f.holds(point{a.x + u*(b.x-a.x), a.y + u*(b.y-a.y)}) {
				inside++
			}
		}
		length := math.Hypot(b.x-a.x, b.y-a.y)
		got := 0.0
		if ok {
			got = math.Hypot(q.x-p.x, q.y-p.y)
			if !f.grow(1e-9).holds(p) || !f.grow(1e-9).holds(q) {
				t.Fatalf("seed %d: %v–%v is cut to %v–%v", seed, a, b, p, q)
			}
		}
		if want := length * float64(inside) / float64(steps+1); math.Abs(got-want) > 2.5*length/float64(steps) {
			t.Fatalf("seed %d: %v–%v: %.2f px are left, want %.2f", seed, a, b, got, want)
		}
	}
}

func TestGapsAndLonePoints(t *testing.T) {
	nan := math.NaN()
	c := Curve{
		X: []float64{1, 2, 3, 4, 5, 6, 7, 8, 9},
		Y: []float64{1, 1, nan, 1, math.Inf(1), 1, 1, nan, 40},
	}
	s := scale{lo: 0, hi: 10, a: 0, b: 100}
	runs, dots := c.trace(s, s, box{0, 0, 100, 100})
	if len(runs) != 2 || len(dots) != 1 || dots[0].x != 40 {
		t.Errorf("runs %v, dots %v", runs, dots)
	}
	c.Y = []float64{1, 0, -1, 1, 1, 1, 1, 1, 1}
	runs, dots = c.trace(s, scale{lo: 0.1, hi: 10, log: true, a: 100, b: 0}, box{0, 0, 100, 100})
	if len(runs) != 1 || len(runs[0]) != 6 || len(dots) != 1 {
		t.Errorf("on a logarithmic axis: runs %v, dots %v", runs, dots)
	}
}

// Whatever numbers come, every format is drawn, and no number in it is odd.
func TestWildNumbers(t *testing.T) {
	wild := []float64{0, 1, -1, 1e-320, 5e-324, math.MaxFloat64, -math.MaxFloat64, math.Inf(1), math.Inf(-1), math.NaN(), 1e9, 1e-9, 3, 3.0000000001, -40}
	const seed = 17
	r := rand.New(rand.NewPCG(seed, 0))
	pick := func() float64 { return wild[r.IntN(len(wild))] }
	for i := range 400 {
		var s Sheet
		s.LogX = r.IntN(2) == 0
		s.Width = 240 + float64(r.IntN(500))
		for range 1 + r.IntN(3) {
			p := Panel{Axis: Axis{Title: "Impedance", Unit: "ohm", Log: r.IntN(2) == 0, Span: float64(r.IntN(3) * 20)}, Right: &Axis{Unit: "deg"}}
			for range r.IntN(4) {
				c := Curve{Name: fmt.Sprint("curve ", r.IntN(9)), Points: r.IntN(3) == 0, Right: r.IntN(3) == 0, Dash: r.IntN(2) == 0}
				few := r.IntN(8)
				for range few {
					c.X, c.Y = append(c.X, pick()), append(c.Y, pick())
				}
				p.Curves = append(p.Curves, c)
			}
			for range r.IntN(3) {
				p.Features = append(p.Features, Feature{X: pick(), Y: pick(), Label: "peak", Right: r.IntN(2) == 0})
				p.Limits = append(p.Limits, Limit{pick(), "limit"})
			}
			s.Panels = append(s.Panels, p)
		}
		s.Marks = []Mark{{pick(), "mark"}, {pick(), "mark"}}
		var b bytes.Buffer
		if err := s.SVG(&b); err != nil {
			t.Fatalf("seed %d, sheet %d: %v", seed, i, err)
		}
		if bytes.Contains(b.Bytes(), []byte("NaN")) {
			t.Fatalf("seed %d: %+v", seed, s)
		}
		svgText(t, b.Bytes())
		apart(t, fmt.Sprintf("seed %d, sheet %d", seed, i), composed(t, s))
		b.Reset()
		if err := s.Terminal(&b, 60, 8, true); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), "Inf") {
			t.Fatalf("seed %d, sheet %d:\n%s", seed, i, &b)
		}
		if i%20 == 0 {
			if err := s.PNG(io.Discard, 1); err != nil {
				t.Fatal(err)
			}
			if err := s.PDF(io.Discard); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestSpanAndRange(t *testing.T) {
	x := []float64{1, 2, 3, 4}
	for _, c := range []struct {
		axis   Axis
		y      []float64
		lo, hi float64
	}{
		{Axis{Span: 40}, []float64{100, 60, -200, 90}, 60, 102.8},
		{Axis{Range: &[2]float64{-1, 5}}, []float64{100, 60, -200, 90}, -1, 5},
		{Axis{Log: true, Span: 100}, []float64{1e4, 1e-8, 5, 0}, 1e2, 1e4 * math.Pow(100, 0.07)},
		{Axis{}, []float64{0.1, 2, 1, 1}, 0, 2.133},
		{Axis{}, []float64{7, 7, 7, 7}, 6.3, 7.7},
		{Axis{}, []float64{0, 0, 0, 0}, -1, 1},
		{Axis{Log: true}, []float64{4, 4, 4, 4}, 2, 8},
	} {
		s := Sheet{Panels: []Panel{{Axis: c.axis, Curves: []Curve{{X: x, Y: c.y}}}}}
		y := s.plates(s.xScale())[0].y
		if math.Abs(y.lo-c.lo) > 1e-6*math.Abs(c.hi) || math.Abs(y.hi-c.hi) > 1e-6*math.Abs(c.hi) {
			t.Errorf("%+v with %v reaches from %v to %v, want %v to %v", c.axis, c.y, y.lo, y.hi, c.lo, c.hi)
		}
	}
}

func TestCheck(t *testing.T) {
	s := Sheet{Width: 3, LogX: true, XRange: &[2]float64{0, 5}, Panels: []Panel{
		{Axis: Axis{Title: "Level", Range: &[2]float64{5, 5}}, Height: -1,
			Curves: []Curve{{Name: "mouth", X: []float64{1}}, {Name: "inner", Right: true, Color: -2}}, Features: []Feature{{Label: "peak", Right: true}}},
		{Axis: Axis{Span: math.NaN()}, Right: &Axis{Range: &[2]float64{0, math.Inf(1)}}},
	}}
	want := `plot: sheet width 3 px: want 240 to 4000
plot: x range [0 5]: a logarithmic axis begins above zero
plot: panel 1 "Level": height -1 px: want 0 to 4000
plot: panel 1 "Level": range [5 5]: want the lower end first
plot: panel 1 "Level": curve 1 "mouth" has 1 x and 0 y
plot: panel 1 "Level": curve 2 "inner": colour -2: want 0 or more
plot: panel 1 "Level": curve 2 "inner" is on a right axis the panel lacks
plot: panel 1 "Level": feature 1 "peak" is on a right axis the panel lacks
plot: panel 2 "": span NaN: want 0 or more
plot: panel 2 "": right range [0 +Inf]: want two finite numbers`
	for name, err := range map[string]error{
		"svg": s.SVG(io.Discard), "png": s.PNG(io.Discard, 1), "pdf": s.PDF(io.Discard), "terminal": s.Terminal(io.Discard, 80, 10, true),
	} {
		if err == nil {
			t.Fatalf("%s: no error", name)
		}
		if d := cmp.Diff(want, err.Error()); d != "" {
			t.Errorf("%s: %s", name, d)
		}
	}
	for _, r := range [][2]float64{{1, 1 + 1e-12}, {1e200, 1e201}, {1e-200, 1}, {math.NaN(), 1}, {-1, 1}} {
		one := Sheet{XRange: &r, LogX: true, Panels: []Panel{{}}}
		if err := one.SVG(io.Discard); err == nil {
			t.Errorf("range %v was taken", r)
		}
	}
	if err := (Sheet{}).SVG(io.Discard); err == nil || err.Error() != "plot: the sheet has no panel" {
		t.Errorf("an empty sheet: %v", err)
	}
	if err := samples()["whole"].PNG(io.Discard, 99); err == nil || err.Error() != "plot: image scale 99: want 0.5 to 8" {
		t.Errorf("a scale of 99: %v", err)
	}
}

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	s := samples()["ladder"]
	for _, name := range []string{"a.svg", "b.PNG", "c.pdf"} {
		if err := s.WriteFile(filepath.Join(dir, name)); err != nil {
			t.Error(err)
		}
	}
	for name, begin := range map[string]string{"a.svg": "<svg", "b.PNG": "\x89PNG", "c.pdf": "%PDF"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !strings.HasPrefix(string(data), begin) {
			t.Errorf("%s begins with %.8q, %v", name, data, err)
		}
	}

	for name, want := range map[string]string{
		"a.jpeg": `plot: "a.jpeg": unknown picture format ".jpeg": want .svg, .png or .pdf`,
		"plain":  `plot: "plain": unknown picture format: the name has no ending; want .svg, .png or .pdf`,
	} {
		err := s.WriteFile(name)
		if !errors.Is(err, ErrFormat) || err.Error() != want {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := s.WriteFile(filepath.Join(dir, "none", "a.svg")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("into a missing folder: %v", err)
	}
	if err := os.Mkdir(filepath.Join(dir, "d.svg"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := s.WriteFile(filepath.Join(dir, "d.svg")); err == nil {
		t.Error("a folder was overwritten")
	}

	// A sheet that cannot be drawn leaves the old file; one that can replaces
	// what a link points to and keeps its mode.
	target := filepath.Join(dir, "a.svg")
	before, _ := os.ReadFile(target)
	if err := (Sheet{}).WriteFile(target); err == nil {
		t.Error("an empty sheet was written")
	}
	if after, _ := os.ReadFile(target); !bytes.Equal(before, after) {
		t.Error("a failed write changed the file")
	}
	if err := os.Chmod(target, 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link.svg")
	if err := os.Symlink(target, link); err != nil {
		t.Fatal(err)
	}
	s.Title = "Another"
	if err := s.WriteFile(link); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link is gone")
	}
	if info, err := os.Stat(target); err != nil || info.Mode().Perm() != 0o600 {
		t.Error("the file's mode has changed")
	}
	if after, _ := os.ReadFile(target); !bytes.Contains(after, []byte("Another")) {
		t.Error("the link's target was not replaced")
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}

func FuzzText(f *testing.F) {
	f.Add("Dunlin", "♪112")
	f.Add("<script>", "]]>&\"'")
	f.Add("\xff\xfe\x00\x1b[2J", "\u202e\u2066\ufffe\U000e0001")
	f.Add("磯鷸🐦", strings.Repeat("long ", 400))
	f.Fuzz(func(t *testing.T, a, b string) {
		one := []float64{1, 2, 3}
		s := Sheet{Title: a, Subtitle: b, XTitle: a, XUnit: b, Note: a + b, Marks: []Mark{{2, b}, {2.1, a}}, Width: 300,
			Panels: []Panel{{Axis: Axis{Title: b, Unit: a}, Right: &Axis{Title: a, Unit: b}, Limits: []Limit{{2, a}},
				Curves: []Curve{{Name: a, X: one, Y: one}, {Name: b, X: one, Y: []float64{3, 1, 2}}}, Features: []Feature{{X: 2, Y: 2, Label: b}}}}}
		var out bytes.Buffer
		if err := s.SVG(&out); err != nil {
			t.Fatal(err)
		}
		svgText(t, out.Bytes())
		apart(t, "sheet", composed(t, s))
		for _, braille := range []bool{true, false} {
			out.Reset()
			if err := s.Terminal(&out, 50, 6, braille); err != nil {
				t.Fatal(err)
			}
			plain(t, out.String(), 50, !braille)
		}
		if err := s.PDF(io.Discard); err != nil {
			t.Fatal(err)
		}
	})
}

func BenchmarkSVG200000Points(b *testing.B) {
	const n = 200000
	s := Sheet{LogX: true, Panels: []Panel{{Curves: []Curve{{Name: "noise", X: logSpace(10, 1000, n), Y: spike(n)}}}}}
	for b.Loop() {
		if err := s.SVG(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
