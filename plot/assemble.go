package plot

import (
	"fmt"
	"slices"
	"strings"
)

// assemble stacks the plates and writes everything around them.
func (s Sheet) assemble(plates []*plate, x scale, xTicks []tick) *picture {
	pic := &picture{w: s.Width, title: s.Title, desc: s.describe()}
	pic.add(fill{ground: true, color: paper})
	y := s.heading(pic, margin)
	for i, p := range plates {
		if i == 0 {
			y = s.overFirst(pic, p, x, y)
		} else {
			y += panelGap
			p.head(pic, y+headRow-7)
			y = p.keyLines(pic, y+headRow)
		}
		for _, shape := range p.shapes {
			pic.add(lowered(shape, y))
		}
		p.tickLabels(pic, y)
		y += p.Height
	}
	y = s.xAxis(pic, x, xTicks, y)
	y = s.notes(pic, plates, x, y)
	pic.h = y + margin*0.7
	pic.shapes[0] = fill{box: box{0, 0, pic.w, pic.h}, ground: true, color: paper}
	return pic
}

// heading writes title and subtitle, side by side where both fit.
func (s Sheet) heading(pic *picture, y float64) float64 {
	room := s.Width - 2*margin
	title := titleType.fit(s.Title, room)
	used := 0.0
	if title != "" {
		y += titleType.size
		pic.add(words{at: point{margin, y}, text: title, color: ink, lettering: titleType})
		used = titleType.width(title)
	}
	if s.Subtitle != "" {
		if used > 0 && used+12+subType.width(s.Subtitle) <= room {
			pic.add(words{at: point{margin + used + 12, y}, text: s.Subtitle, color: pencil, lettering: subType})
		} else {
			for _, line := range subType.wrap(s.Subtitle, room, 3) {
				y += 16
				pic.add(words{at: point{margin, y}, text: line, color: pencil, lettering: subType})
			}
		}
	}
	if y > margin {
		y += 10
	}
	return y
}

// overFirst writes what stands above the topmost frame: its head, its key and
// the labels of the marks. It returns the frame's top.
func (s Sheet) overFirst(pic *picture, p *plate, x scale, y float64) float64 {
	rows, _ := s.markRows(x)
	l, r := p.headSpans()
	shared := len(rows) > 0 && len(p.key) == 0
	if shared {
		for _, m := range rows[0] {
			b := m.bounds()
			if b.x0 < l+8 || b.x1 > r-8 {
				shared = false
				break
			}
		}
	}
	top := y + headRow
	extra := len(rows)
	if shared {
		extra--
	}
	p.head(pic, y+headRow-7)
	if shared {
		top += float64(extra) * markRow
		// The head keeps to the frame, the marks' rows rise beside it.
		for i := range pic.shapes {
			if w, ok := pic.shapes[i].(words); ok && w.at.y == y+headRow-7 {
				w.at.y = top - 7
				pic.shapes[i] = w
			}
		}
	} else {
		top = p.keyLines(pic, top) + float64(extra)*markRow
	}
	for i, row := range rows {
		for _, m := range row {
			m.at.y = top - 6 - float64(i)*markRow
			pic.add(m)
		}
	}
	return top
}

// markRows sets the labels of the marks in rows, the first nearest the frame,
// and returns with them the labels that would need yet another row.
func (s Sheet) markRows(x scale) (rows [][]words, rest []string) {
	marks := slices.Clone(s.Marks)
	slices.SortStableFunc(marks, func(a, b Mark) int {
		switch {
		case a.X < b.X:
			return -1
		case a.X > b.X:
			return 1
		}
		return 0
	})
	for _, m := range marks {
		v, ok := x.place(m.X)
		if !ok || m.Label == "" {
			continue
		}
		text := tickType.fit(m.Label, min(120, 0.4*(x.b-x.a)))
		half := tickType.width(text) / 2
		v = min(max(v, x.a+half), x.b-half)
		t := words{at: point{x: v}, text: text, color: dotted, align: middle, lettering: tickType}
		i := 0
		for i < len(rows) && rows[i][len(rows[i])-1].bounds().x1+5 > v-half {
			i++
		}
		switch {
		case i < len(rows):
			rows[i] = append(rows[i], t)
		case i < markRows:
			rows = append(rows, []words{t})
		default:
			rest = append(rest, m.Label)
		}
	}
	return rows, rest
}

// head writes the axis titles on base line y.
func (p *plate) head(pic *picture, y float64) {
	room := p.frame.x1 - p.frame.x0
	if p.Right != nil {
		room = room/2 - 8
	}
	title, unit := axisTitle(p.Axis, room)
	x := p.frame.x0
	if title != "" {
		pic.add(words{at: point{x, y}, text: title, color: ink, lettering: headType})
		x += headType.width(title) + 5
	}
	if unit != "" {
		pic.add(words{at: point{x, y}, text: unit, color: pencil, lettering: unitType})
	}
	if p.Right == nil {
		return
	}
	title, unit = axisTitle(*p.Right, room)
	x = p.frame.x1
	if unit != "" {
		pic.add(words{at: point{x, y}, text: unit, color: pencil, align: right, lettering: unitType})
		x -= unitType.width(unit) + 5
	}
	if title != "" {
		pic.add(words{at: point{x, y}, text: title, color: ink, align: right, lettering: headType})
	}
}

func axisTitle(a Axis, room float64) (title, unit string) {
	unit = unitType.fit(a.Unit, room*0.5)
	return headType.fit(a.Title, room-5-unitType.width(unit)), unit
}

// headSpans returns where the head's text on the left ends and that on the
// right begins.
func (p *plate) headSpans() (l, r float64) {
	var pic picture
	p.head(&pic, 0)
	l, r = p.frame.x0, p.frame.x1+1e3
	for _, s := range pic.shapes {
		b := s.(words).bounds()
		if s.(words).align == right {
			r = min(r, b.x0)
		} else {
			l = max(l, b.x1)
		}
	}
	return l, r
}

// keyLines writes the names that found no place at their curves, each after a
// piece of its line, and returns where the frame may begin.
func (p *plate) keyLines(pic *picture, y float64) float64 {
	if len(p.key) == 0 {
		return y
	}
	const sample, gap = 16.0, 14.0
	f := p.frame
	x, row := f.x0, 0
	base := y + 8
	for n, i := range p.key {
		look := p.paints[i]
		text := nameType.fit(p.Curves[i].Name, min(220, f.x1-f.x0-sample-4))
		w := sample + 4 + nameType.width(text)
		if x > f.x0 && x+w > f.x1 {
			x, row, base = f.x0, row+1, base+keyRow
		}
		if row == keyRows-1 && n < len(p.key)-1 && x+w+gap+60 > f.x1 {
			pic.add(words{at: point{x, base}, text: fmt.Sprintf("and %d more", len(p.key)-n), color: pencil, lettering: labelType})
			break
		}
		mid := base - 3.8
		if p.Curves[i].Points {
			pic.add(ring{at: point{x + sample/2, mid}, r: look.width + 0.6, inside: look.line})
		} else {
			pic.add(stroke{runs: [][]point{{{x, mid}, {x + sample, mid}}}, color: look.line, width: look.width, dash: look.dash})
		}
		pic.add(words{at: point{x + sample + 4, base}, text: text, color: look.color, lettering: nameType})
		x += w + gap
	}
	return base + 10
}

// tickLabels writes the numbers beside the frame that begins at y.
func (p *plate) tickLabels(pic *picture, y float64) {
	drop := (tickType.ascent() - tickType.descent()) / 2
	for _, t := range p.yTicks {
		if t.label != "" {
			pic.add(words{at: point{p.frame.x0 - 7, y + p.y.at(t.v) + drop}, text: t.label, color: pencil, align: right, lettering: tickType})
		}
	}
	for _, t := range p.rightTicks {
		v := y + p.right.at(t.v)
		if t.label != "" {
			pic.add(words{at: point{p.frame.x1 + 7, v + drop}, text: t.label, color: pencil, lettering: tickType})
		}
		pic.add(stroke{runs: [][]point{{{p.frame.x1, v}, {p.frame.x1 + 4, v}}}, color: edge, width: 0.8})
	}
}

// xAxis writes the shared axis under the last frame.
func (s Sheet) xAxis(pic *picture, x scale, xTicks []tick, y float64) float64 {
	var short [][]point
	for _, t := range xTicks {
		v := x.at(t.v)
		n := 3.0
		if t.label != "" {
			n = 5
			half := tickType.width(t.label) / 2
			at := min(max(v, half+2), s.Width-half-2)
			pic.add(words{at: point{at, y + 17}, text: t.label, color: pencil, align: middle, lettering: tickType})
		}
		short = append(short, []point{{v, y}, {v, y + n}})
	}
	pic.add(stroke{runs: short, color: edge, width: 0.8})
	y += 20
	title, unit := axisTitle(Axis{Title: s.XTitle, Unit: s.XUnit}, x.b-x.a)
	if title == "" && unit == "" {
		return y
	}
	y += 14
	at := x.b
	if unit != "" {
		pic.add(words{at: point{at, y}, text: unit, color: pencil, align: right, lettering: unitType})
		at -= unitType.width(unit) + 5
	}
	if title != "" {
		pic.add(words{at: point{at, y}, text: title, color: ink, align: right, lettering: headType})
	}
	return y + 4
}

// notes writes the labels that found no room, and the note.
func (s Sheet) notes(pic *picture, plates []*plate, x scale, y float64) float64 {
	var all []string
	if _, rest := s.markRows(x); len(rest) > 0 {
		all = append(all, "Dotted also: "+strings.Join(rest, " · "))
	}
	for _, p := range plates {
		if len(p.afterwards) > 0 {
			name := p.Title
			if name == "" {
				name = "Curves"
			}
			all = append(all, name+" also: "+strings.Join(p.afterwards, " · "))
		}
	}
	if s.Note != "" {
		all = append(all, s.Note)
	}
	if len(all) > 0 {
		y += 6
	}
	for _, n := range all {
		for _, line := range noteType.wrap(n, s.Width-2*margin, noteLines) {
			y += 14
			pic.add(words{at: point{margin, y}, text: line, color: pencil, lettering: noteType})
		}
	}
	return y
}

// lowered returns the shape d px further down.
func lowered(s shape, d float64) shape {
	switch s := s.(type) {
	case stroke:
		runs := make([][]point, len(s.runs))
		for i, r := range s.runs {
			runs[i] = make([]point, len(r))
			for j, p := range r {
				runs[i][j] = point{p.x, p.y + d}
			}
		}
		s.runs = runs
		return s
	case fill:
		s.y0, s.y1 = s.y0+d, s.y1+d
		return s
	case ring:
		s.at.y += d
		return s
	case words:
		s.at.y += d
		return s
	}
	return s
}

// describe tells in words what the sheet shows.
func (s Sheet) describe() string {
	var b strings.Builder
	for _, p := range s.Panels {
		fmt.Fprintf(&b, "%s", strings.TrimSpace(p.Title+" "+p.Unit))
		var names []string
		for _, c := range p.Curves {
			if c.Name != "" {
				names = append(names, c.Name)
			}
		}
		if len(names) > 0 {
			fmt.Fprintf(&b, ", curves: %s", strings.Join(names, ", "))
		}
		for _, f := range p.Features {
			if f.Label != "" && finite(f.X) && finite(f.Y) {
				fmt.Fprintf(&b, "; %s at %s %s", f.Label, reading(f.X), s.XUnit)
			}
		}
		b.WriteString(". ")
	}
	return strings.TrimSpace(b.String())
}
