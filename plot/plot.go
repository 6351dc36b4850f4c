// Package plot draws curves: to SVG, PNG and PDF files and to a terminal.
//
// It knows nothing of where the numbers come from. A Sheet is a stack of
// Panels over one shared x axis; a Panel holds Curves, Limits and named
// Features. Names stand at the curves themselves, so there is no legend to
// decode; where they cannot stand free of each other they move to a line above
// the panel, and features whose label finds no room are numbered and named
// below the sheet. Nothing is dropped in silence.
//
// What is not finite is a gap: NaN, infinities, and on a logarithmic axis
// everything not above zero. Magnitudes beyond 1e100 are drawn as 1e100.
// Text given by users stays text: it is escaped, freed of control characters
// and shortened with "…" where it would not fit.
//
// The embedded font knows Latin, Greek, Cyrillic and Hebrew letters. Other
// scripts stay readable in SVG, where the viewer has its own fonts, and
// searchable in PDF, but show as empty boxes in PDF and PNG.
//
// What this package does not do: bars, pies, surfaces, maps, animation,
// interaction.
package plot

import (
	"errors"
	"fmt"
	"math"
)

// Curve is one line, or one set of dots, on a panel.
type Curve struct {
	// Name is written at the curve, in its colour. Curves of one name have one
	// colour on the whole sheet. An unnamed curve has no label.
	Name string
	// X and Y are of equal length, in the panel's units; X usually ascends.
	// NaN and infinities are gaps.
	X, Y []float64
	// Emphasis is negative for a faint curve (a spread, a background), zero
	// for a plain one and positive for a heavy one.
	Emphasis int
	// Dash draws the line dashed, for what is supposed rather than measured.
	Dash bool
	// Points draws a dot at every point and no line.
	Points bool
	// Color picks the palette's colour 1, 2, …; 0 leaves the choice to the
	// sheet: ink for a lone or heavy curve, else the next free colour.
	Color int
	// Right measures Y on the panel's right axis.
	Right bool
}

// Mark is a dotted vertical through all panels with its label on top.
type Mark struct {
	X     float64
	Label string
}

// Feature is a named peak, dip or other point: a small ring and a label.
type Feature struct {
	X, Y  float64
	Label string
	// Right measures Y on the panel's right axis.
	Right bool
}

// Limit is a dashed horizontal with a label.
type Limit struct {
	Y     float64
	Label string
}

// Axis describes a vertical axis.
type Axis struct {
	// Title and Unit are written above the axis: the first bold, the second
	// not. A unit of "deg" or "°" puts ticks at parts of a turn.
	Title, Unit string
	// Log makes the axis logarithmic: values not above zero are gaps.
	Log bool
	// Range fixes both ends; nil fits them to what is drawn.
	Range *[2]float64
	// Span, if above zero and Range is nil, is how far below its greatest
	// value the axis may reach: a difference, or on a logarithmic axis a
	// ratio. It keeps one deep notch from flattening the rest.
	Span float64
}

// Panel is one frame of curves with its vertical axis.
type Panel struct {
	Axis
	// Right, if not nil, is a second axis on the right-hand side.
	Right    *Axis
	Curves   []Curve
	Limits   []Limit
	Features []Feature
	// Height of the frame in px; 0 chooses one.
	Height float64
}

// Sheet is a whole picture: panels one above the other over one x axis.
type Sheet struct {
	Title, Subtitle string
	Panels          []Panel
	Marks           []Mark
	// XTitle and XUnit name the shared x axis.
	XTitle, XUnit string
	// LogX makes the x axis logarithmic: values not above zero are gaps.
	LogX bool
	// XRange fixes both ends; nil reaches from the first to the last point.
	XRange *[2]float64
	// Note is written small below everything, on as many lines as it takes.
	Note string
	// Width of the sheet in px (1/96 inch), 240 to 4000; 0 means 760. The
	// height follows from the panels.
	Width float64
}

const (
	defaultWidth = 760
	minWidth     = 240
	maxWidth     = 4000
	maxHeight    = 4000 // of one panel's frame
)

// check returns everything about the sheet that cannot be drawn, joined.
func (s Sheet) check() error {
	var errs []error
	bad := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("plot: "+format, args...))
	}
	if len(s.Panels) == 0 {
		bad("the sheet has no panel")
	}
	if s.Width != 0 && !(s.Width >= minWidth && s.Width <= maxWidth) {
		bad("sheet width %v px: want %d to %d", s.Width, minWidth, maxWidth)
	}
	if why := badRange(s.XRange, s.LogX); why != "" {
		bad("x range %v: %s", *s.XRange, why)
	}
	for i, p := range s.Panels {
		where := fmt.Sprintf("panel %d %q", i+1, p.Title)
		if !(p.Height >= 0 && p.Height <= maxHeight) {
			bad("%s: height %v px: want 0 to %d", where, p.Height, maxHeight)
		}
		if why := badRange(p.Range, p.Log); why != "" {
			bad("%s: range %v: %s", where, *p.Range, why)
		}
		if !(p.Span >= 0) {
			bad("%s: span %v: want 0 or more", where, p.Span)
		}
		if p.Right != nil {
			if why := badRange(p.Right.Range, p.Right.Log); why != "" {
				bad("%s: right range %v: %s", where, *p.Right.Range, why)
			}
			if !(p.Right.Span >= 0) {
				bad("%s: right span %v: want 0 or more", where, p.Right.Span)
			}
		}
		for j, c := range p.Curves {
			if len(c.X) != len(c.Y) {
				bad("%s: curve %d %q has %d x and %d y", where, j+1, c.Name, len(c.X), len(c.Y))
			}
			if c.Color < 0 {
				bad("%s: curve %d %q: colour %d: want 0 or more", where, j+1, c.Name, c.Color)
			}
			if c.Right && p.Right == nil {
				bad("%s: curve %d %q is on a right axis the panel lacks", where, j+1, c.Name)
			}
		}
		for j, f := range p.Features {
			if f.Right && p.Right == nil {
				bad("%s: feature %d %q is on a right axis the panel lacks", where, j+1, f.Label)
			}
		}
	}
	return errors.Join(errs...)
}

// badRange says what is wrong with a fixed range, or nothing.
func badRange(r *[2]float64, log bool) string {
	switch {
	case r == nil:
		return ""
	case !finite(r[0]) || !finite(r[1]):
		return "want two finite numbers"
	case r[0] >= r[1]:
		return "want the lower end first"
	case log && r[0] <= 0:
		return "a logarithmic axis begins above zero"
	case math.Abs(r[0]) > extreme || math.Abs(r[1]) > extreme || log && r[0] < 1/extreme:
		return "want magnitudes below 1e100"
	case r[1]-r[0] < 1e-9*max(math.Abs(r[0]), math.Abs(r[1])):
		return "the ends are too close together"
	}
	return ""
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
