package plot

import "image/color"

// A picture is what a sheet comes to before it meets a file format: a list of
// shapes in px, y downwards, drawn in order. Every format draws the same list,
// so they cannot differ in anything but their own means.
type picture struct {
	w, h        float64
	title, desc string // plain words for those who do not see it
	shapes      []shape
}

// shape is one of stroke, fill, ring, words.
type shape interface{ isShape() }

type point struct{ x, y float64 }

// stroke is one or more open lines.
type stroke struct {
	runs  [][]point
	color color.RGBA
	width float64
	dash  []float64
}

// fill is a rectangle without an outline. Ground marks the paper itself, which
// a page already has.
type fill struct {
	box
	color  color.RGBA
	ground bool
}

// ring is a circle: outlined, filled, or both.
type ring struct {
	at     point
	r      float64
	width  float64 // of the outline; 0 for none
	line   color.RGBA
	inside color.RGBA
}

type align int

const (
	left align = iota
	middle
	right
)

// words is one line of text; at is on its base line.
type words struct {
	at    point
	text  string
	color color.RGBA
	align align
	lettering
}

func (stroke) isShape() {}
func (fill) isShape()   {}
func (ring) isShape()   {}
func (words) isShape()  {}

// box is a rectangle: x0 ≤ x1, y0 ≤ y1.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) grow(d float64) box { return box{b.x0 - d, b.y0 - d, b.x1 + d, b.y1 + d} }

func (b box) meets(o box) bool {
	return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1
}

func (b box) within(o box) bool {
	return b.x0 >= o.x0 && b.x1 <= o.x1 && b.y0 >= o.y0 && b.y1 <= o.y1
}

// bounds returns the box the words fill.
func (t words) bounds() box {
	w := t.width(t.text)
	x := t.at.x
	switch t.align {
	case middle:
		x -= w / 2
	case right:
		x -= w
	}
	return box{x, t.at.y - t.ascent(), x + w, t.at.y + t.descent()}
}

func (p *picture) add(s ...shape) { p.shapes = append(p.shapes, s...) }
