package plot

import (
	"bytes"
	"encoding/xml"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"ocarina/internal/need"
)

func composed(t testing.TB, s Sheet) *picture {
	t.Helper()
	p, err := s.compose()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Everything written on a sheet keeps clear of everything else written, of
// rings, of leaders and of the sheet's edge.
func TestWordsStandApart(t *testing.T) {
	for name, s := range samples() {
		for _, w := range []float64{240, 340, 520, 760, 1400} {
			s.Width = w
			apart(t, name+" at "+num(w), composed(t, s))
		}
	}
}

func apart(t *testing.T, name string, p *picture) {
	t.Helper()
	sheet := box{0, 0, p.w, p.h}
	var seen []words
	var rings []ring
	for _, s := range p.shapes {
		switch s := s.(type) {
		case words:
			b := s.bounds()
			if !b.within(sheet) {
				t.Errorf("%s: %q at %.0f leaves the sheet %.0f", name, s.text, b, sheet)
			}
			for _, o := range seen {
				if b.grow(-0.5).meets(o.bounds().grow(-0.5)) {
					t.Errorf("%s: %q at %.0f overlaps %q at %.0f", name, s.text, b, o.text, o.bounds())
				}
			}
			seen = append(seen, s)
		case ring:
			if s.width > 0 {
				rings = append(rings, s)
			}
		}
	}
	for _, s := range p.shapes {
		l, ok := s.(stroke)
		if !ok || l.color != pencil { // only leaders are drawn in pencil
			continue
		}
		for _, w := range seen {
			if _, _, hit := clip(l.runs[0][0], l.runs[0][1], w.bounds()); hit {
				t.Errorf("%s: a leader runs through %q", name, w.text)
			}
		}
	}
	for _, r := range rings {
		c := box{r.at.x, r.at.y, r.at.x, r.at.y}.grow(r.r)
		for _, w := range seen {
			if c.meets(w.bounds()) {
				t.Errorf("%s: %q covers a ring at %.0f", name, w.text, r.at)
			}
		}
	}
}

// A name on a panel stands nearer to its own curve than to any other.
func TestNamesStandAtTheirCurves(t *testing.T) {
	const seed = 23
	r := rand.New(rand.NewPCG(seed, 0))
	x := logSpace(20, 2000, 300)
	beside := 0
	for i := range 60 {
		var p Panel
		for k := range 2 + r.IntN(5) {
			a, f0, q, b := r.Float64()*10, 30*math.Pow(40, r.Float64()), 0.5+4*r.Float64(), r.Float64()*5
			p.Curves = append(p.Curves, Curve{Name: "curve " + string(rune('a'+k)), X: x, Y: over(x, func(f float64) float64 { return b + a*bump(f, f0, q) })})
		}
		s := Sheet{LogX: true, Panels: []Panel{p}}
		paints := s.paints()[0]
		pic := composed(t, s)
		distance := map[color.RGBA]func(box) float64{}
		for _, sh := range pic.shapes {
			if l, ok := sh.(stroke); ok && len(l.runs[0]) > 2 {
				distance[l.color] = func(b box) float64 {
					d := math.Inf(1)
					for _, run := range l.runs {
						for _, q := range run {
							if q.x >= b.x0 && q.x <= b.x1 {
								d = min(d, max(0, b.y0-q.y, q.y-b.y1))
							}
						}
					}
					return d
				}
			}
		}
		for k, c := range p.Curves {
			for _, sh := range pic.shapes {
				w, ok := sh.(words)
				if !ok || w.text != c.Name || w.align != middle {
					continue // the key's names are not centred
				}
				beside++
				own := distance[paints[k].color](w.bounds())
				for o := range p.Curves {
					if d := distance[paints[o].color](w.bounds()); o != k && d <= own {
						t.Errorf("seed %d, sheet %d: %q is %.1f px from its curve and %.1f px from %q", seed, i, c.Name, own, d, p.Curves[o].Name)
					}
				}
			}
		}
	}
	if beside < 100 {
		t.Errorf("only %d names stand at their curves", beside)
	}
}

// Every curve's name, feature, limit, mark and title is on the sheet whole, on
// one line or on two, where there is room for it.
func TestLabelsArePresent(t *testing.T) {
	for _, name := range []string{"whole", "compare", "ladder", "crowded"} {
		s := samples()[name]
		var all strings.Builder
		for _, sh := range composed(t, s).shapes {
			if w, ok := sh.(words); ok {
				all.WriteString(w.text + " ")
			}
		}
		text := all.String()
		want := []string{s.Title, s.Subtitle, s.XTitle, s.XUnit, s.Note}
		for _, m := range s.Marks {
			want = append(want, m.Label)
		}
		for _, p := range s.Panels {
			want = append(want, p.Title, p.Unit)
			for _, c := range p.Curves {
				want = append(want, c.Name)
			}
			for _, f := range p.Features {
				want = append(want, f.Label)
			}
			for _, l := range p.Limits {
				want = append(want, l.Label)
			}
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q is missing", name, w)
			}
		}
	}
}

// svgText parses an SVG document and returns its texts, after checking that
// every number in it is one.
func svgText(t testing.TB, doc []byte) []string {
	t.Helper()
	var texts []string
	d := xml.NewDecoder(bytes.NewReader(doc))
	d.Strict = true
	inText := false
	numbers := regexp.MustCompile(`[^MLZ ,]+`)
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return texts
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			inText = tok.Name.Local == "text"
			switch tok.Name.Local {
			case "svg", "title", "desc", "rect", "path", "circle", "text":
			default:
				t.Fatalf("element %q", tok.Name.Local)
			}
			for _, a := range tok.Attr {
				switch a.Name.Local {
				case "x", "y", "width", "height", "cx", "cy", "r", "d", "stroke-width", "stroke-dasharray", "font-size", "viewBox":
					for _, n := range numbers.FindAllString(a.Value, -1) {
						v, err := strconv.ParseFloat(n, 64)
						if err != nil || !finite(v) || math.Abs(v) > 1e5 {
							t.Fatalf("%s %s has the number %q", tok.Name.Local, a.Name.Local, n)
						}
					}
				}
			}
		case xml.CharData:
			if inText {
				texts = append(texts, string(tok))
			}
		case xml.EndElement:
			inText = false
		}
	}
}

func TestSVG(t *testing.T) {
	for name, s := range samples() {
		var b bytes.Buffer
		if err := s.SVG(&b); err != nil {
			t.Fatal(err)
		}
		texts := svgText(t, b.Bytes())
		n := 0
		for _, sh := range composed(t, s).shapes {
			if w, ok := sh.(words); ok && w.text != "" {
				if n >= len(texts) || texts[n] != w.text {
					t.Fatalf("%s: text %d is not %q", name, n, w.text)
				}
				n++
			}
		}
		if n != len(texts) || n < 10 {
			t.Errorf("%s: %d texts in the document, %d on the sheet", name, len(texts), n)
		}
	}
}

func TestTextStaysText(t *testing.T) {
	s := samples()["odd"]
	var b bytes.Buffer
	if err := s.SVG(&b); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"<script", "\x1b", "\x00", "\u202e"} {
		if bytes.Contains(b.Bytes(), []byte(bad)) {
			t.Errorf("%q is in the document", bad)
		}
	}
	text := strings.Join(svgText(t, b.Bytes()), "\n")
	for _, want := range []string{`<script>alert("ἄνεμος & ветер")</script>`, "Дюна, λάρος, 磯鷸, שלום", "[31mred.", "a very long name"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
}

func TestPDF(t *testing.T) {
	pdftotext := need.Program(t, "pdftotext")
	for name, s := range samples() {
		var b bytes.Buffer
		if err := s.PDF(&b); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(pdftotext, "-raw", "-enc", "UTF-8", "-", "-")
		cmd.Stdin = &b
		var out, warn bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &warn
		if err := cmd.Run(); err != nil || warn.Len() > 0 {
			t.Fatalf("%s: pdftotext: %v %s", name, err, &warn)
		}
		squeeze := func(s string) string { return strings.Join(strings.Fields(s), "") }
		text := squeeze(out.String())
		for _, sh := range composed(t, s).shapes {
			if w, ok := sh.(words); ok && !strings.ContainsAny(w.text, "אבגדהוזחטיכלמנסעפצקרשת") && !strings.Contains(text, squeeze(w.text)) {
				t.Errorf("%s: %q is missing in the PDF's text", name, w.text)
			}
		}
	}
}

// Where poppler finds the words of a PDF is where the layout put them: the
// widths it reckons with are the font's.
func TestWidthsAgreeWithPoppler(t *testing.T) {
	pdftotext := need.Program(t, "pdftotext")
	s := Sheet{Title: "Wagtail", Panels: []Panel{{Axis: Axis{Title: "Impedance", Unit: "ohmic"}}}}
	var b bytes.Buffer
	if err := s.PDF(&b); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(pdftotext, "-bbox", "-", "-")
	cmd.Stdin = &b
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, sh := range composed(t, s).shapes {
		w, ok := sh.(words)
		if !ok || strings.Contains(w.text, " ") {
			continue
		}
		m := regexp.MustCompile(`xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)" yMax="[\d.]+">` + regexp.QuoteMeta(w.text) + `<`).FindSubmatch(out)
		if m == nil {
			t.Errorf("%q is not among poppler's words", w.text)
			continue
		}
		found++
		x0, _ := strconv.ParseFloat(string(m[1]), 64)
		x1, _ := strconv.ParseFloat(string(m[2]), 64)
		// Positions in the file are rounded to 0.01 pt, advances to 1/1000 em.
		if got := w.bounds(); math.Abs(got.x0*0.75-x0) > 0.02 || math.Abs(got.x1*0.75-x1) > 0.1 {
			t.Errorf("%q: laid out from %.2f to %.2f pt, poppler finds %.2f to %.2f", w.text, got.x0*0.75, got.x1*0.75, x0, x1)
		}
	}
	if found < 3 {
		t.Errorf("only %d words compared", found)
	}
}

func TestPNG(t *testing.T) {
	for name, s := range samples() {
		for _, scale := range []float64{1, 2} {
			var b bytes.Buffer
			if err := s.PNG(&b, scale); err != nil {
				t.Fatal(err)
			}
			img, err := png.Decode(&b)
			if err != nil {
				t.Fatal(err)
			}
			p := composed(t, s)
			size := img.Bounds().Size()
			if math.Abs(float64(size.X)-p.w*scale) > 1 || math.Abs(float64(size.Y)-p.h*scale) > 1 {
				t.Errorf("%s: %v dots for %.1f×%.1f px at scale %v", name, size, p.w, p.h, scale)
			}
			for _, sh := range p.shapes {
				switch sh := sh.(type) {
				case words:
					if w := sh.bounds(); inked(img, w, scale, sh.color) < 0.02 {
						t.Errorf("%s: no ink where %q should stand", name, sh.text)
					}
				case ring:
					if sh.width > 0 && inked(img, box{sh.at.x, sh.at.y, sh.at.x, sh.at.y}.grow(sh.r+1), scale, sh.line) < 0.05 {
						t.Errorf("%s: no ring at %.0f", name, sh.at)
					}
				}
			}
			if share := inked(img, box{0, 0, p.w, p.h}, scale, ink); share < 0.003 || share > 0.2 {
				t.Errorf("%s: %.3f of the sheet is ink", name, share)
			}
		}
	}
}

// inked returns the share of dots in a box that are at least half way from
// paper to the given colour.
func inked(img image.Image, b box, scale float64, c color.RGBA) float64 {
	n, hit := 0, 0
	r := image.Rect(int(b.x0*scale), int(b.y0*scale), int(math.Ceil(b.x1*scale)), int(math.Ceil(b.y1*scale))).Intersect(img.Bounds())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			n++
			d := color.RGBAModel.Convert(img.At(x, y)).(color.RGBA)
			off := func(a, b uint8) float64 { return math.Abs(float64(a) - float64(b)) }
			toInk := off(d.R, c.R) + off(d.G, c.G) + off(d.B, c.B)
			toPaper := off(d.R, card.R) + off(d.G, card.G) + off(d.B, card.B)
			if toInk < toPaper {
				hit++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return float64(hit) / float64(n)
}

func TestSameSheetSameBytes(t *testing.T) {
	for name, s := range samples() {
		write := map[string]func(io.Writer) error{
			"svg": s.SVG, "pdf": s.PDF, "png": func(w io.Writer) error { return s.PNG(w, 1) },
		}
		for format, f := range write {
			var a, b bytes.Buffer
			if err := f(&a); err != nil {
				t.Fatal(err)
			}
			if err := f(&b); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(a.Bytes(), b.Bytes()) {
				t.Errorf("%s.%s differs from run to run", name, format)
			}
		}
	}
}

// Helvetica's advances in 1/1000 em, which Liberation Sans keeps by design;
// from Adobe's metric files for the standard fonts, quoted from memory.
func TestAdvancesAreHelveticas(t *testing.T) {
	for _, c := range []struct {
		text          string
		regular, bold float64
	}{
		{"A", 667, 722}, {"W", 944, 944}, {"i", 222, 278}, {"m", 833, 889},
		{"0", 556, 556}, {"9", 556, 556}, {" ", 278, 278}, {".", 278, 278}, {"−", 584, 584},
	} {
		if got := (lettering{size: 1000}).width(c.text); math.Abs(got-c.regular) > 1 {
			t.Errorf("%q is %.1f wide, want %v", c.text, got, c.regular)
		}
		if got := (lettering{size: 1000, bold: true}).width(c.text); math.Abs(got-c.bold) > 1 {
			t.Errorf("bold %q is %.1f wide, want %v", c.text, got, c.bold)
		}
	}
}
