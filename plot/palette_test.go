package plot

import (
	"image/color"
	"math"
	"testing"
)

type vec [3]float64

type mat [3]vec

func (m mat) mul(v vec) (r vec) {
	for i := range r {
		for j := range v {
			r[i] += m[i][j] * v[j]
		}
	}
	return r
}

// linear undoes the sRGB transfer curve (IEC 61966-2-1).
func linear(c color.RGBA) vec {
	f := func(v uint8) float64 {
		u := float64(v) / 255
		if u <= 0.04045 {
			return u / 12.92
		}
		return math.Pow((u+0.055)/1.055, 2.4)
	}
	return vec{f(c.R), f(c.G), f(c.B)}
}

// toXYZ is the sRGB matrix for white D65 (IEC 61966-2-1).
var toXYZ = mat{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}

// lab returns CIE 1976 L*a*b* of linear sRGB.
func lab(rgb vec) vec {
	for i := range rgb {
		rgb[i] = min(max(rgb[i], 0), 1)
	}
	xyz, white := toXYZ.mul(rgb), toXYZ.mul(vec{1, 1, 1})
	var f vec
	for i := range f {
		if t := xyz[i] / white[i]; t > 216./24389 {
			f[i] = math.Cbrt(t)
		} else {
			f[i] = (24389./27*t + 16) / 116
		}
	}
	return vec{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// eyes are the full forms of colour blindness after Machado, Oliveira and
// Fernandes, "A physiologically-based model for simulation of color vision
// deficiency", IEEE TVCG 15 (2009), as matrices on linear sRGB; quoted from
// memory, each row adding to one as it must.
var eyes = map[string]mat{
	"all cones":       {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"without L cones": {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"without M cones": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"without S cones": {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	"in a grey print": {{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}},
}

func TestPaletteStaysApart(t *testing.T) {
	// Known: sRGB red is L*a*b* (53.24, 80.09, 67.20).
	if got := lab(linear(hex(0xff0000))); math.Abs(got[0]-53.24) > 0.05 || math.Abs(got[1]-80.09) > 0.1 || math.Abs(got[2]-67.20) > 0.1 {
		t.Fatalf("red is %.2f", got)
	}
	all := append([]color.RGBA{ink}, palette...)
	for eye, m := range eyes {
		for _, row := range m {
			if s := row[0] + row[1] + row[2]; math.Abs(s-1) > 1e-5 {
				t.Errorf("%s: row %v adds to %v", eye, row, s)
			}
		}
		// A difference of 2.3 is just noticeable side by side; thin lines
		// named by colour need some ten times that, in grey less because
		// names and dashes carry them.
		want := 24.0
		if eye == "in a grey print" {
			want = 6
		}
		for i := range all {
			for j := range i {
				a, b := lab(m.mul(linear(all[i]))), lab(m.mul(linear(all[j])))
				if d := math.Sqrt(sq(a[0]-b[0]) + sq(a[1]-b[1]) + sq(a[2]-b[2])); d < want {
					t.Errorf("%s: %s and %s are only %.1f apart", eye, web(all[i]), web(all[j]), d)
				}
			}
		}
	}
}

func sq(v float64) float64 { return v * v }

// WCAG 2 asks for a contrast of 3 for lines and of 4.5 for small text.
func TestContrast(t *testing.T) {
	luminance := func(c color.RGBA) float64 { return toXYZ.mul(linear(c))[1] }
	contrast := func(a, b color.RGBA) float64 {
		x, y := luminance(a), luminance(b)
		return (max(x, y) + 0.05) / (min(x, y) + 0.05)
	}
	for _, c := range palette {
		if k := contrast(c, card); k < 3 {
			t.Errorf("%s on paper has a contrast of %.2f", web(c), k)
		}
	}
	for _, c := range []color.RGBA{ink, pencil, dotted, accent} {
		for _, g := range []color.RGBA{paper, card} {
			if k := contrast(c, g); k < 4.5 {
				t.Errorf("%s on %s has a contrast of %.2f", web(c), web(g), k)
			}
		}
	}
}

func TestOneNameOneColour(t *testing.T) {
	two := []float64{1, 2}
	c := func(name string) Curve { return Curve{Name: name, X: two, Y: two} }
	s := Sheet{Panels: []Panel{
		{Curves: []Curve{c("cone")}},
		{Curves: []Curve{c("mouth"), c("inner"), {Name: "drawn", X: two, Y: two, Emphasis: 1}}},
		{Curves: []Curve{c("inner")}},
		{Curves: []Curve{c("leak"), c("mouth"), {Name: "fixed", X: two, Y: two, Color: 1}}},
	}}
	p := s.paints()
	if p[0][0].color != ink || p[1][2].color != ink {
		t.Error("a lone or heavy curve is not ink")
	}
	if p[1][1].color != p[2][0].color || p[1][0].color != p[3][1].color {
		t.Error("one name has two colours")
	}
	seen := map[color.RGBA]string{}
	for name, q := range map[string]paint{"mouth": p[1][0], "inner": p[1][1], "leak": p[3][0], "fixed": p[3][2]} {
		if o, ok := seen[q.color]; ok {
			t.Errorf("%s and %s share a colour", name, o)
		}
		seen[q.color] = name
	}
	if p[3][2].color != palette[0] {
		t.Error("a chosen colour is not kept")
	}
}
