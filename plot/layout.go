package plot

import (
	"image/color"
	"math"
	"slices"
	"strconv"
)

// Letterings of a sheet, in px.
var (
	titleType = lettering{size: 17, bold: true}
	subType   = lettering{size: 12}
	headType  = lettering{size: 12, bold: true}
	unitType  = lettering{size: 11.5}
	tickType  = lettering{size: 10.5}
	nameType  = lettering{size: 11, bold: true}
	labelType = lettering{size: 11}
	noteType  = lettering{size: 10.5}
)

const (
	margin    = 18.0
	headRow   = 20.0
	markRow   = 13.0
	keyRow    = 15.0
	panelGap  = 14.0
	ringR     = 4.0
	keyRows   = 8  // at most
	markRows  = 4  // at most
	noteLines = 12 // at most
)

// plate is a panel on its way to the sheet. Its frame begins at y = 0 until
// the sheet knows what stands above it.
type plate struct {
	Panel
	paints      []paint
	frame       box
	y, right    scale
	yTicks      []tick
	rightTicks  []tick
	shapes      []shape
	key         []int    // curves whose name found no place on the panel
	afterwards  []string // feature labels that found none
	hasAnything bool
}

// compose lays the sheet out.
func (s Sheet) compose() (*picture, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	s = s.cleaned()
	if s.Width == 0 {
		s.Width = defaultWidth
	}
	x := s.xScale()
	plates := s.plates(x)
	x.a, x.b = s.gutters(plates)
	xTicks := x.ticks(s.XUnit, 14, tickType.width)
	for _, p := range plates {
		p.frame = box{x.a, 0, x.b, p.Height}
		p.draw(s, x, xTicks)
	}
	return s.assemble(plates, x, xTicks), nil
}

// cleaned returns the sheet with every text made fit to be drawn. The
// caller's slices stay as they are.
func (s Sheet) cleaned() Sheet {
	s.Title, s.Subtitle, s.Note = clean(s.Title), clean(s.Subtitle), clean(s.Note)
	s.XTitle, s.XUnit = clean(s.XTitle), clean(s.XUnit)
	s.Marks = slices.Clone(s.Marks)
	for i := range s.Marks {
		s.Marks[i].Label = clean(s.Marks[i].Label)
	}
	s.Panels = slices.Clone(s.Panels)
	for i := range s.Panels {
		p := &s.Panels[i]
		p.Title, p.Unit = clean(p.Title), clean(p.Unit)
		if p.Right != nil {
			r := *p.Right
			r.Title, r.Unit = clean(r.Title), clean(r.Unit)
			p.Right = &r
		}
		p.Curves, p.Limits, p.Features = slices.Clone(p.Curves), slices.Clone(p.Limits), slices.Clone(p.Features)
		for j := range p.Curves {
			p.Curves[j].Name = clean(p.Curves[j].Name)
		}
		for j := range p.Limits {
			p.Limits[j].Label = clean(p.Limits[j].Label)
		}
		for j := range p.Features {
			p.Features[j].Label = clean(p.Features[j].Label)
		}
	}
	return s
}

// xScale returns the shared x axis, still without its place.
func (s Sheet) xScale() scale {
	if s.XRange != nil {
		lo, _ := usable(s.XRange[0], s.LogX)
		hi, _ := usable(s.XRange[1], s.LogX)
		return scale{lo: lo, hi: hi, log: s.LogX}
	}
	var e extent
	for _, p := range s.Panels {
		for _, c := range p.Curves {
			for i, v := range c.X {
				if finite(c.Y[i]) {
					e.take(v, s.LogX)
				}
			}
		}
	}
	if !e.any {
		for _, m := range s.Marks {
			e.take(m.X, s.LogX)
		}
	}
	if e.any && (s.LogX && e.hi/e.lo > 1+1e-9 || !s.LogX && e.hi-e.lo > 1e-9*max(math.Abs(e.lo), math.Abs(e.hi), 1/extreme)) {
		return scale{lo: e.lo, hi: e.hi, log: s.LogX}
	}
	lo, hi := e.ends(s.LogX, 0, 0)
	return scale{lo: lo, hi: hi, log: s.LogX}
}

// plates fits every panel's vertical axes to what falls between the x ends.
func (s Sheet) plates(x scale) []*plate {
	paints := s.paints()
	var plates []*plate
	for i, panel := range s.Panels {
		p := &plate{Panel: panel, paints: paints[i]}
		if p.Height == 0 {
			switch {
			case len(s.Panels) == 1:
				p.Height = 300
			case len(p.Features) > 0:
				p.Height = 200
			default:
				p.Height = 120
			}
		}
		p.y = p.vertical(p.Axis, false, x)
		if p.hasAnything || p.Range != nil || len(p.Limits) > 0 {
			p.yTicks = p.y.ticks(p.Unit, 12, func(string) float64 { return tickType.height() })
		}
		if p.Right != nil {
			p.right = p.vertical(*p.Right, true, x)
			p.rightTicks = p.right.ticks(p.Right.Unit, 12, func(string) float64 { return tickType.height() })
		}
		plates = append(plates, p)
	}
	return plates
}

// vertical fits one vertical axis of the panel.
func (p *plate) vertical(a Axis, isRight bool, x scale) scale {
	y := scale{log: a.Log, a: p.Height, b: 0}
	var e extent
	for _, c := range p.Curves {
		if c.Right != isRight {
			continue
		}
		for i, v := range c.Y {
			if vx, ok := usable(c.X[i], x.log); ok {
				if t := x.share(vx); t >= 0 && t <= 1 {
					e.take(v, a.Log)
				}
			}
		}
	}
	if e.any {
		p.hasAnything = true
	}
	if a.Range != nil {
		y.lo, _ = usable(a.Range[0], a.Log)
		y.hi, _ = usable(a.Range[1], a.Log)
		return y
	}
	data := e
	if !isRight {
		for _, l := range p.Limits {
			if !data.any || near(l.Y, data, a.Log) {
				e.take(l.Y, a.Log)
			}
		}
	}
	room := 0.07
	if len(p.Features) > 0 {
		room = 0.15
	}
	y.lo, y.hi = e.ends(a.Log, a.Span, room)
	return y
}

// near says whether a limit is close enough to the curves to be shown at its
// place; one far away would flatten them.
func near(v float64, e extent, log bool) bool {
	v, ok := usable(v, log)
	if !ok {
		return false
	}
	if log {
		return v <= 4*e.hi && v >= e.lo/4
	}
	size := max(math.Abs(e.lo), math.Abs(e.hi))
	return v <= e.hi+1.5*size && v >= e.lo-1.5*size
}

// gutters returns where the frames begin and end, leaving room for the widest
// tick labels.
func (s Sheet) gutters(plates []*plate) (x0, x1 float64) {
	l, r := 14.0, 6.0
	for _, p := range plates {
		for _, t := range p.yTicks {
			l = max(l, tickType.width(t.label)+8)
		}
		for _, t := range p.rightTicks {
			r = max(r, tickType.width(t.label)+8)
		}
	}
	return math.Round(margin + l), math.Round(s.Width - margin - r)
}

// draw fills the panel's frame: grid, marks, limits, curves and their labels.
func (p *plate) draw(s Sheet, x scale, xTicks []tick) {
	f := p.frame
	p.add(fill{box: f, color: card})
	var grid [][]point
	for _, t := range xTicks {
		if t.label != "" {
			v := x.at(t.v)
			grid = append(grid, []point{{v, f.y0}, {v, f.y1}})
		}
	}
	for _, t := range p.yTicks {
		if v := p.y.at(t.v); t.label != "" && v > f.y0+1 && v < f.y1-1 {
			grid = append(grid, []point{{f.x0, v}, {f.x1, v}})
		}
	}
	p.add(stroke{runs: grid, color: hair, width: 0.7})
	g := &ground{frame: f}
	for _, m := range s.Marks {
		if v, ok := x.place(m.X); ok {
			g.marks = append(g.marks, v)
			p.add(stroke{runs: [][]point{{{v, f.y0}, {v, f.y1}}}, color: dotted, width: 1, dash: []float64{1.2, 4}})
		}
	}
	for _, l := range p.Limits {
		if v, ok := p.y.place(l.Y); ok {
			p.add(stroke{runs: [][]point{{{f.x0, v}, {f.x1, v}}}, color: accent, width: 1, dash: []float64{5, 3.5}})
		}
	}
	p.curves(g, x)
	p.add(stroke{runs: [][]point{{{f.x0, f.y0}, {f.x1, f.y0}, {f.x1, f.y1}, {f.x0, f.y1}, {f.x0, f.y0}}}, color: edge, width: 0.8})
	rings := p.rings(g, x, s.XUnit)
	p.limitLabels(g)
	p.features(g, rings, s.XUnit)
	p.names(g)
	none := words{at: point{(f.x0 + f.x1) / 2, (f.y0+f.y1)/2 + 4}, text: "no data", color: pencil, align: middle, lettering: labelType}
	if !p.hasAnything && g.free(none.bounds().grow(1)) {
		p.add(none)
	}
}

func (p *plate) add(s ...shape) { p.shapes = append(p.shapes, s...) }

// curves draws the lines and dots and notes where they run.
func (p *plate) curves(g *ground, x scale) {
	order := make([]int, len(p.Curves))
	g.curves = make([]skyline, len(p.Curves))
	for i := range order {
		order[i] = i
	}
	// Faint ones lie beneath, heavy ones on top.
	slices.SortStableFunc(order, func(a, b int) int { return p.Curves[a].Emphasis - p.Curves[b].Emphasis })
	for _, i := range order {
		c, look := p.Curves[i], p.paints[i]
		y := p.y
		if c.Right {
			y = p.right
		}
		runs, dots := c.trace(x, y, p.frame)
		g.curves[i] = newSkyline(p.frame, runs, dots)
		if c.Points {
			// A name may stand anywhere along a row of dots.
			g.curves[i] = newSkyline(p.frame, [][]point{dots}, dots)
		}
		if len(runs) > 0 {
			p.add(stroke{runs: runs, color: look.line, width: look.width, dash: look.dash})
		}
		for _, d := range dots {
			p.add(ring{at: d, r: look.width + 0.6, inside: look.line})
		}
	}
}

// ringAt is a feature's ring on the panel.
type ringAt struct {
	point
	feature int
}

// rings takes the place of every feature's ring before any label looks for
// its own.
func (p *plate) rings(g *ground, x scale, unit string) []ringAt {
	var rings []ringAt
	for i, f := range p.Features {
		y := p.y
		if f.Right {
			y = p.right
		}
		px, okx := x.place(f.X)
		py, oky := y.place(f.Y)
		if okx && oky {
			rings = append(rings, ringAt{point{px, py}, i})
			g.taken = append(g.taken, box{px, py, px, py}.grow(ringR+1))
		} else if okx && f.Label != "" {
			p.afterwards = append(p.afterwards, f.Label+" at "+reading(f.X)+" "+unit)
		}
	}
	return rings
}

func (p *plate) features(g *ground, rings []ringAt, unit string) {
	room := p.frame.x1 - p.frame.x0
	var labels []shape
	for _, r := range rings {
		f := p.Features[r.feature]
		p.add(ring{at: r.point, r: ringR, width: 1.3, line: ink, inside: card})
		if f.Label == "" {
			continue
		}
		lines, s := g.best(r.point, f.Label, room)
		if lines == nil {
			p.afterwards = append(p.afterwards, f.Label+" at "+reading(f.X)+" "+unit)
			continue
		}
		g.taken = append(g.taken, s.box.grow(1))
		if s.led {
			g.leaders = append(g.leaders, s.leader)
			p.add(stroke{runs: [][]point{s.leader[:]}, color: pencil, width: 0.7})
		}
		labels = append(labels, written(s.box, lines, ink, labelType)...)
	}
	p.add(labels...)
}

// best weighs the ways to write a feature's label, on one line, on two, or
// shortened, by the place each finds. It returns no lines if none finds any.
func (g *ground) best(p point, label string, room float64) (lines []string, s spot) {
	s.cost = math.Inf(1)
	try := func(dislike float64, ls ...string) {
		w := 0.0
		for _, l := range ls {
			w = max(w, labelType.width(l))
		}
		if c, ok := g.around(p, ringR, w+4, labelType.height()+1+float64(len(ls)-1)*labelType.line()); ok && c.cost+dislike < s.cost {
			lines, s = ls, c
			s.cost += dislike
		}
	}
	whole := labelType.fit(label, min(room-16, 240))
	try(0, whole)
	if s.cost < 6 {
		return lines, s
	}
	if a, b := labelType.halves(label); b != "" && labelType.width(label) > 60 && max(labelType.width(a), labelType.width(b)) < room-16 {
		try(5, a, b)
	}
	if short := labelType.fit(label, 0.4*room); short != whole {
		try(25, short)
	}
	return lines, s
}

// written returns lines on their own patch of paper, so that what runs beneath
// does not run through them. The lines are centred in the box.
func written(b box, lines []string, c color.RGBA, l lettering) []shape {
	shapes := []shape{fill{box: b, color: card}}
	base := (b.y0+b.y1)/2 + (l.ascent()-l.descent())/2 - float64(len(lines)-1)*l.line()/2
	for i, s := range lines {
		shapes = append(shapes, words{at: point{(b.x0 + b.x1) / 2, base + float64(i)*l.line()}, text: s, color: c, align: middle, lettering: l})
	}
	return shapes
}

// limitLabels writes limits at the right end of their line, or in the corner
// if the line lies outside.
func (p *plate) limitLabels(g *ground) {
	f := p.frame
	for _, l := range p.Limits {
		if l.Label == "" || !finite(l.Y) {
			continue
		}
		text := l.Label
		v, shown := p.y.place(l.Y)
		if !shown {
			if u, ok := usable(l.Y, p.Log); ok && p.y.share(u) > 1 {
				text, v = text+" ↑", f.y0+2
			} else {
				text, v = text+" ↓", f.y1-2
			}
		}
		text = labelType.fit(text, 0.5*(f.x1-f.x0))
		w, h := labelType.width(text)+4, labelType.height()+1
		best, found, least := box{}, false, math.Inf(1)
		for x := f.x1 - 5 - w; x > f.x0+4; x -= 8 {
			for i, y := range []float64{v - h - 1.5, v + 1.5} {
				b := box{x, y, x + w, y + h}
				if !g.free(b.grow(1)) {
					continue
				}
				cost := 0.02*(f.x1-b.x1) + float64(i) + g.burden(b)
				if cost < least {
					best, found, least = b, true, cost
				}
			}
		}
		if !found {
			p.afterwards = append(p.afterwards, l.Label)
			continue
		}
		g.taken = append(g.taken, best.grow(1))
		p.add(written(best, []string{text}, accent, labelType)...)
	}
}

// names writes the curves' names beside them; those that find no clear place
// go to the key above the panel.
func (p *plate) names(g *ground) {
	widest := min(0.4*(p.frame.x1-p.frame.x0), 200)
	for i, c := range p.Curves {
		if c.Name == "" {
			continue
		}
		text := nameType.fit(c.Name, widest)
		b, ok := g.along(i, nameType.width(text)+4, nameType.height()+1)
		if !ok {
			p.key = append(p.key, i)
			continue
		}
		p.add(written(b, []string{text}, p.paints[i].color, nameType)...)
	}
}

// reading writes a value for people: three digits.
func reading(v float64) string {
	a := math.Abs(v)
	switch {
	case a != 0 && (a >= 1e6 || a < 1e-4):
		return number(v, 0)
	case a >= 100:
		return number(v, 0)
	case a >= 10:
		return number(v, 1)
	case a >= 1:
		return number(v, 2)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}
