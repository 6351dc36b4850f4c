package plot

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"

	eastasian "golang.org/x/text/width"
)

// Terminal draws the panels one under another as plain text, width columns
// wide, the frame of each height rows high, without colour or control codes.
// With braille it draws in braille dots and other Unicode, else in ASCII alone. Several curves
// carry a letter each, told beside the panel's title; features carry a digit
// or small letter, told beneath; marks stand under the axis. Width is brought
// to 30 to 400 and height to 4 to 200. Curves on a right axis are left out,
// and said to be; so are features there.
func (s Sheet) Terminal(w io.Writer, width, height int, braille bool) error {
	if err := s.check(); err != nil {
		return err
	}
	s = s.cleaned()
	t := terminal{
		width: min(max(width, 30), 400), rows: min(max(height, 4), 200),
		unicode: braille, out: bufio.NewWriter(w),
	}
	x := s.xScale()
	plates := s.plates(x)
	for _, p := range plates {
		p.y.a, p.y.b = float64(4*t.rows), 0
		p.yTicks = nil
		if p.hasAnything || p.Range != nil || len(p.Limits) > 0 {
			p.yTicks = p.y.ticks(p.Unit, 4, func(string) float64 { return 4 })
		}
		for _, k := range p.yTicks {
			t.gutter = max(t.gutter, cells(k.label))
		}
	}
	t.gutter = min(t.gutter, 12)
	t.cols = t.width - t.gutter - 2
	x.a, x.b = 0, float64(2*t.cols)
	if s.Title != "" {
		t.line(strings.TrimSpace(s.Title + "  " + s.Subtitle))
	}
	for i, p := range plates {
		if i > 0 || s.Title != "" {
			t.line("")
		}
		t.panel(s, p, x)
	}
	if s.Note != "" {
		t.wrapped(s.Note)
	}
	return t.out.Flush()
}

type terminal struct {
	width, rows  int // of everything; of one frame
	gutter, cols int // of the tick labels; of one frame
	unicode      bool
	out          *bufio.Writer
}

// line writes one line, shortened to the width, in the letters the terminal
// has.
func (t *terminal) line(s string) {
	s = strings.TrimRight(t.letters(s), " ")
	if cells(s) > t.width {
		more := t.letters(ellipsis)
		s = crop(s, t.width-cells(more)) + more
	}
	// A write error stays in the buffer until Flush reports it.
	fmt.Fprintln(t.out, s)
}

// wrapped writes a text on as many lines as it takes.
func (t *terminal) wrapped(s string) {
	line := ""
	for _, w := range strings.Fields(s) {
		if line != "" && cells(line)+1+cells(w) > t.width {
			t.line(line)
			line = ""
		}
		line = strings.TrimSpace(line + " " + w)
	}
	if line != "" {
		t.line(line)
	}
}

var asciiFor = strings.NewReplacer("♪", "*", "−", "-", "–", "-", "—", "-", "·", "-", "×", "x", ellipsis, "...",
	"Ω", "ohm", "°", "deg", "µ", "u", "μ", "u", "²", "2", "³", "3", "½", "1/2", "±", "+/-")

// letters writes s in ASCII where the terminal knows no more.
func (t *terminal) letters(s string) string {
	if t.unicode {
		return s
	}
	return strings.Map(func(r rune) rune {
		if r > '~' {
			return '?'
		}
		return r
	}, asciiFor.Replace(s))
}

// cells returns how many columns s takes.
func cells(s string) int {
	n := 0
	for _, r := range s {
		n += runeCells(r)
	}
	return n
}

func runeCells(r rune) int {
	if unicode.In(r, unicode.Mn, unicode.Cf) {
		return 0
	}
	switch eastasian.LookupRune(r).Kind() {
	case eastasian.EastAsianWide, eastasian.EastAsianFullwidth:
		return 2
	}
	return 1
}

// crop returns the beginning of s that takes at most n columns.
func crop(s string, n int) string {
	for i, r := range s {
		if n -= runeCells(r); n < 0 {
			return s[:i]
		}
	}
	return s
}

// screen is the frame of one panel: a letter in a cell, or else dots.
type screen struct {
	*terminal
	dots  [][]uint8 // per cell: bit 4·column + row of its 2×4 dots
	glyph [][]rune
}

func (t *terminal) screen() *screen {
	s := &screen{terminal: t}
	for range t.rows {
		s.dots = append(s.dots, make([]uint8, t.cols))
		s.glyph = append(s.glyph, make([]rune, t.cols))
	}
	return s
}

// cell returns the cell of a point in dots.
func (s *screen) cell(p point) (col, row int) {
	return min(max(int(p.x/2), 0), s.cols-1), min(max(int(p.y/4), 0), s.rows-1)
}

func (s *screen) dot(p point) {
	col, row := s.cell(p)
	x, y := min(max(int(p.x), 0), 2*s.cols-1), min(max(int(p.y), 0), 4*s.rows-1)
	s.dots[row][col] |= 1 << (4*(x%2) + y%4)
}

// put writes a letter into a cell unless one stands there.
func (s *screen) put(col, row int, r rune) bool {
	if col < 0 || col >= s.cols || row < 0 || row >= s.rows || s.glyph[row][col] != 0 {
		return false
	}
	s.glyph[row][col] = r
	return true
}

// empty says whether n cells from col on show nothing yet.
func (s *screen) empty(col, row, n int) bool {
	if col < 0 || row < 0 || row >= s.rows || col+n > s.cols {
		return false
	}
	for i := col; i < col+n; i++ {
		if s.glyph[row][i] != 0 || s.dots[row][i] != 0 {
			return false
		}
	}
	return true
}

// brailleBit is the bit of each dot, by 4·column + row, in the Unicode block
// "Braille Patterns" from U+2800.
var brailleBit = [8]rune{0x01, 0x02, 0x04, 0x40, 0x08, 0x10, 0x20, 0x80}

// show returns what stands in a cell.
func (s *screen) show(col, row int) rune {
	if r := s.glyph[row][col]; r != 0 {
		return r
	}
	d := s.dots[row][col]
	if d == 0 {
		return ' '
	}
	if s.unicode {
		r := rune(0x2800)
		for i, b := range brailleBit {
			if d&(1<<i) != 0 {
				r |= b
			}
		}
		return r
	}
	upper, lower := d&0x11 != 0, d&0x88 != 0
	switch inner := d&0x66 != 0; {
	case upper && lower:
		return '|'
	case upper && !inner:
		return '\''
	case lower && !inner:
		return '.'
	}
	return '-'
}

// panel draws one panel with everything around it.
func (t *terminal) panel(s Sheet, p *plate, x scale) {
	sc := t.screen()
	frame := box{0, 0, float64(2 * t.cols), float64(4 * t.rows)}
	var shown []int
	left := 0
	for i, c := range p.Curves {
		if c.Right {
			left++
			continue
		}
		shown = append(shown, i)
	}
	places := make([][]point, 0, len(shown))
	for _, i := range shown {
		runs, dots := p.Curves[i].trace(x, p.y, frame)
		places = append(places, sc.curve(runs, dots, p.Curves[i].Dash))
	}
	head := strings.TrimSpace(p.Title + " " + p.Unit)
	told := t.features(sc, p, x, s.XUnit)
	if len(shown) > 1 {
		sc.tags(places)
		for k, i := range shown {
			head += fmt.Sprintf(" · %c %s", curveLetter(k), p.Curves[i].Name)
		}
	}
	if left > 0 {
		head += fmt.Sprintf(" · right axis not drawn: %d", left)
	}
	if !p.hasAnything {
		for i, r := range "no data" {
			sc.put(t.cols/2-4+i, t.rows/2, r)
		}
	}
	sc.limits(p)
	sc.verticals(s.Marks, x)
	t.wrapped(head)
	t.frame(sc, p, x, s.XUnit)
	t.marks(s.Marks, x)
	for _, l := range told {
		t.line(l)
	}
}

func curveLetter(k int) rune {
	if k < 26 {
		return rune('A' + k)
	}
	return '+'
}

// curve draws lines and dots and returns the points drawn, left to right.
func (s *screen) curve(runs [][]point, dots []point, dash bool) []point {
	var all []point
	for _, run := range runs {
		gone := 0.0
		for i := 1; i < len(run); i++ {
			a, b := run[i-1], run[i]
			n := max(1, int(max(abs(b.x-a.x), abs(b.y-a.y))+0.5))
			for j := 0; j <= n; j++ {
				f := float64(j) / float64(n)
				q := point{a.x + f*(b.x-a.x), a.y + f*(b.y-a.y)}
				if j > 0 {
					gone++
				}
				if dash && int(gone/3)%2 == 1 {
					continue
				}
				s.dot(q)
				all = append(all, q)
			}
		}
	}
	for _, d := range dots {
		s.dot(d)
		all = append(all, d)
	}
	return all
}

// tags writes each curve's letter onto it where it is farthest from the
// others, a few times over the width.
func (s *screen) tags(places [][]point) {
	const times = 3
	lane := func(ps []point) [][2]float64 { // least and greatest y per column
		l := make([][2]float64, s.cols)
		for i := range l {
			l[i] = [2]float64{1, 0}
		}
		for _, p := range ps {
			c, _ := s.cell(p)
			if l[c][0] > l[c][1] {
				l[c] = [2]float64{p.y, p.y}
			}
			l[c] = [2]float64{min(l[c][0], p.y), max(l[c][1], p.y)}
		}
		return l
	}
	lanes := make([][][2]float64, len(places))
	for k := range places {
		lanes[k] = lane(places[k])
	}
	for k, ps := range places {
		for part := range times {
			best, room := -1, -1.0
			for i, p := range ps {
				c, row := s.cell(p)
				if c*times/s.cols != part || s.glyph[row][c] != 0 {
					continue
				}
				d := 1e9
				for o, l := range lanes {
					if o != k && l[c][0] <= l[c][1] {
						d = min(d, max(l[c][0]-p.y, p.y-l[c][1]))
					}
				}
				// Flat parts before steep ones, the middle of the part before its ends.
				d = min(d, 12) - 0.3*(lanes[k][c][1]-lanes[k][c][0]) - 0.05*abs(float64(c-(2*part+1)*s.cols/(2*times)))
				if d > room || best < 0 {
					best, room = i, d
				}
			}
			if best >= 0 {
				c, row := s.cell(ps[best])
				s.put(c, row, curveLetter(k))
			}
		}
	}
}

// features puts a digit at every feature and returns the lines that tell them.
func (t *terminal) features(sc *screen, p *plate, x scale, unit string) []string {
	var told []string
	order := make([]int, len(p.Features))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch fa, fb := p.Features[a].X, p.Features[b].X; {
		case fa < fb:
			return -1
		case fa > fb:
			return 1
		}
		return 0
	})
	const signs = "123456789abcdefghijklmnopqrstuvwxyz"
	n := 0
	for _, i := range order {
		f := p.Features[i]
		px, ok := x.place(f.X)
		if !ok || f.Right || !finite(f.Y) {
			continue
		}
		sign := '+'
		if n < len(signs) {
			sign = rune(signs[n])
		}
		n++
		if py, ok := p.y.place(f.Y); ok {
			c, r := sc.cell(point{px, py})
			// Beside its place rather than nowhere.
			for _, d := range [][2]int{{0, 0}, {0, -1}, {0, 1}, {1, 0}, {-1, 0}} {
				if sc.put(c+d[0], r+d[1], sign) {
					break
				}
			}
		}
		told = append(told, fmt.Sprintf("%s%c  %7s %s  %7s %s  %s", strings.Repeat(" ", t.gutter+2), sign, reading(f.X), unit, reading(f.Y), p.Unit, f.Label))
	}
	return told
}

// limits draws dashed lines with their label where there is room.
func (s *screen) limits(p *plate) {
	dash := '-'
	if s.unicode {
		dash = '╌'
	}
	for _, l := range p.Limits {
		v, ok := p.y.place(l.Y)
		_, row := s.cell(point{0, v})
		label := []rune(s.letters(l.Label))
		n := cells(string(label))
		if ok {
			for c := range s.cols {
				if s.dots[row][c] == 0 && (s.unicode || c%2 == 0) {
					s.put(c, row, dash)
				}
			}
		} else if u, usableY := usable(l.Y, p.y.log); usableY && p.y.share(u) > 1 {
			label, row = append(label, []rune(s.letters(" (above)"))...), 0
			n += 8
		} else {
			label, row = append(label, []rune(s.letters(" (below)"))...), s.rows-1
			n += 8
		}
		if n == 0 || n != len(label) || n > s.cols-2 {
			continue // a label of wide letters would shift the row
		}
		for _, r := range []int{row + 1, row - 1, row + 2, row - 2} {
			if at := s.cols - n - 1; s.empty(at, r, n) {
				for i, g := range label {
					s.put(at+i, r, g)
				}
				break
			}
		}
	}
}

// verticals draws the marks where nothing else stands.
func (s *screen) verticals(marks []Mark, x scale) {
	sign := ':'
	if s.unicode {
		sign = '┊'
	}
	for _, m := range marks {
		if v, ok := x.place(m.X); ok {
			c, _ := s.cell(point{v, 0})
			for r := range s.rows {
				if s.dots[r][c] == 0 {
					s.put(c, r, sign)
				}
			}
		}
	}
}

// frame writes the panel's rows with their tick labels, and the x axis.
func (t *terminal) frame(sc *screen, p *plate, x scale, unit string) {
	side, tickSide, corner, floor, tickFloor := '│', '┤', '└', '─', '┴'
	if !t.unicode {
		side, tickSide, corner, floor, tickFloor = '|', '+', '+', '-', '+'
	}
	labels := map[int]string{}
	for _, k := range p.yTicks {
		if k.label != "" {
			_, row := sc.cell(point{0, p.y.at(k.v)})
			if _, ok := labels[row]; !ok {
				labels[row] = crop(k.label, t.gutter)
			}
		}
	}
	for r := range t.rows {
		var b strings.Builder
		label, bar := labels[r], side
		if label != "" {
			bar = tickSide
		}
		b.WriteString(strings.Repeat(" ", t.gutter-cells(label)) + label + " " + string(bar))
		for c := range t.cols {
			b.WriteRune(sc.show(c, r))
		}
		t.line(b.String())
	}
	var ticks []tick
	for _, k := range x.ticks(unit, 4, func(s string) float64 { return float64(2 * cells(s)) }) {
		if k.label != "" {
			ticks = append(ticks, k)
		}
	}
	axis := []rune(strings.Repeat(string(floor), t.cols))
	names := new(row)
	for _, k := range ticks {
		c, _ := sc.cell(point{x.at(k.v), 0})
		axis[c] = tickFloor
		names.write(min(c-cells(k.label)/2, t.cols-cells(k.label)), k.label)
	}
	t.line(strings.Repeat(" ", t.gutter+1) + string(corner) + string(axis))
	under := strings.Repeat(" ", t.gutter+2)
	switch n := cells(unit); {
	case names.end()+1+n <= t.cols:
		names.write(names.end()+1, unit)
	case n <= t.gutter+1:
		under = strings.Repeat(" ", t.gutter+1-n) + unit + " "
	default:
		t.line(under + names.String())
		names = new(row)
		names.write(t.cols-n, unit)
	}
	t.line(under + names.String())
}

// row is one line of text written piece by piece.
type row struct{ runes []rune }

// write puts s at column at, or as far to the right as what stands there
// demands.
func (r *row) write(at int, s string) {
	if s == "" {
		return
	}
	at = max(at, 0)
	for len(r.runes) < at {
		r.runes = append(r.runes, ' ')
	}
	r.runes = append(r.runes[:max(at, r.end())], []rune(s)...)
}

func (r *row) end() int { return len([]rune(strings.TrimRight(string(r.runes), " "))) }

func (r *row) String() string { return string(r.runes) }

// marks writes the marks' labels under the axis, on as many rows as they
// need.
func (t *terminal) marks(marks []Mark, x scale) {
	marks = slices.Clone(marks)
	slices.SortStableFunc(marks, func(a, b Mark) int {
		switch {
		case a.X < b.X:
			return -1
		case a.X > b.X:
			return 1
		}
		return 0
	})
	var rows []*row
	for _, m := range marks {
		v, ok := x.place(m.X)
		if !ok || m.Label == "" {
			continue
		}
		label := crop(t.letters(m.Label), t.cols)
		at := min(max(int(v/2)-cells(label)/2, 0), t.cols-cells(label))
		i := 0
		for i < len(rows) && rows[i].end() >= at && rows[i].end() > 0 {
			i++
		}
		if i == len(rows) {
			rows = append(rows, new(row))
		}
		rows[i].write(at, label)
	}
	for _, r := range rows {
		t.line(strings.Repeat(" ", t.gutter+2) + r.String())
	}
}

func abs(v float64) float64 { return max(v, -v) }
