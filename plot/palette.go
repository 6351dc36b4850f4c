package plot

import "image/color"

func hex(v uint32) color.RGBA {
	return color.RGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 0xff}
}

var (
	paper  = hex(0xfaf9f5)
	card   = hex(0xffffff)
	ink    = hex(0x1b2530)
	pencil = hex(0x5a6570) // units, tick labels, notes
	hair   = hex(0xe3dfd3) // grid
	edge   = hex(0xcdc8ba) // frames
	dotted = hex(0x54677d) // marks
	accent = hex(0xb0460e) // limits
)

// palette holds the curves' colours in the order they are given out. They
// differ in lightness as well as in hue, so that they stay apart for
// colour-blind eyes and in grey print; palette_test.go holds them to it.
var palette = []color.RGBA{
	hex(0x1350da), // blue
	hex(0xbb6f09), // ochre
	hex(0x00591b), // green
	hex(0xd02275), // rose
	hex(0x590670), // violet
	hex(0x35a1b1), // lagoon
}

// paint is how one curve is drawn.
type paint struct {
	color color.RGBA // of the name
	line  color.RGBA // of the line: paler if faint
	width float64
	dash  []float64
}

// dashes tell curves apart once the colours have gone round.
var dashes = [][]float64{nil, {7, 3}, {2, 2.5}, {9, 3, 2, 3}}

// paints decides how every curve of the sheet is drawn: result[panel][curve].
// A name keeps its colour over the whole sheet; a panel's lone curve and its
// heavy ones are ink unless their name has a colour elsewhere.
func (s Sheet) paints() [][]paint {
	given := map[string]int{} // name → colour from 1
	used := map[int]bool{}
	for _, p := range s.Panels {
		for _, c := range p.Curves {
			if c.Color > 0 {
				used[c.Color] = true
				if _, ok := given[c.Name]; !ok && c.Name != "" {
					given[c.Name] = c.Color
				}
			}
		}
	}
	next := 1
	fresh := func() int {
		for used[next] {
			next++
		}
		used[next] = true
		return next
	}
	for _, p := range s.Panels {
		if len(p.Curves) < 2 {
			continue
		}
		for _, c := range p.Curves {
			if _, ok := given[c.Name]; !ok && c.Color == 0 && c.Name != "" && c.Emphasis <= 0 {
				given[c.Name] = fresh()
			}
		}
	}
	all := make([][]paint, len(s.Panels))
	for i, p := range s.Panels {
		for _, c := range p.Curves {
			k := c.Color
			if k == 0 {
				k = given[c.Name]
			}
			all[i] = append(all[i], painted(c, k))
		}
	}
	return all
}

// painted returns the look of c in colour k: 0 is ink.
func painted(c Curve, k int) paint {
	p := paint{color: ink, width: 1.6}
	if k > 0 {
		p.color = palette[(k-1)%len(palette)]
		p.dash = dashes[(k-1)/len(palette)%len(dashes)]
	}
	p.line = p.color
	switch {
	case c.Emphasis < 0:
		p.line, p.width = blend(p.color, card, 0.55), 1
	case c.Emphasis > 0:
		p.width = 2.4
	}
	if c.Dash {
		p.dash = []float64{5, 3.5}
	}
	return p
}

// blend mixes a share t of b into a.
func blend(a, b color.RGBA, t float64) color.RGBA {
	mix := func(x, y uint8) uint8 { return uint8(float64(x)*(1-t) + float64(y)*t + 0.5) }
	return color.RGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 0xff}
}
