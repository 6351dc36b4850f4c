package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
)

// readTable reads a text table. head, if not empty, replaces its header line.
func (d *data) readTable(head string) error {
	form, width := d.dialect()
	if width == 0 {
		return d.fatal(0, -1, "rows with two numbers or more: frequency and impedance", "no rows of numbers")
	}
	start, named := d.start(form, width)
	columns, err := d.columns(head, form, width, start, named)
	if err != nil {
		return err
	}
	d.rows(form, columns, start)
	return nil
}

// numeric counts the numbers among cells.
func (f dialect) numeric(cells []cell) int {
	n := 0
	for _, c := range cells {
		if _, ok := f.number(c.text); ok {
			n++
		}
	}
	return n
}

// dialect finds how the numbers are set apart, by trying, and how many columns
// most rows have; zero columns if no line has two numbers.
func (d *data) dialect() (best dialect, width int) {
	const sample = 1000
	step := 1 + len(d.lines)/sample
	bestScore := 0
	var cells []cell
	for _, form := range dialects {
		score := 0
		widths := map[int]int{}
		for i := 0; i < len(d.lines); i += step {
			cells = form.split(d.lines[i], cells[:0])
			n := form.numeric(cells)
			if n < 2 {
				continue
			}
			widths[len(cells)]++
			score++
			if n == len(cells) {
				score++
			}
		}
		if score <= bestScore {
			continue
		}
		bestScore, best, width = score, form, 0
		for w, n := range widths {
			if n > widths[width] || n == widths[width] && w > width {
				width = w
			}
		}
	}
	return best, width
}

// start finds the first line of numbers, as an index, and the header before
// it, if there is one.
func (d *data) start(form dialect, width int) (start int, named []field) {
	var cells []cell
	isRow := func(line string) bool {
		cells = form.split(line, cells[:0])
		return len(cells) == width && form.numeric(cells) >= 2
	}
	for start < len(d.lines) && !isRow(d.lines[start]) {
		start++
	}
	// Free text may itself hold lines like rows; a header below them wins.
	for i := start; i < min(len(d.lines), start+50); i++ {
		if fs := header(d.lines[i], form); len(fs) == width && !isRow(d.lines[i]) {
			for start = i + 1; start < len(d.lines) && !isRow(d.lines[start]); {
				start++
			}
			return start, fs
		}
	}
	for i := start - 1; i >= max(0, start-100); i-- {
		fs := header(d.lines[i], form)
		if len(fs) != width {
			continue
		}
		if i > 0 { // names above, units here
			if up := header(d.lines[i-1], form); len(up) == width {
				for c := range up {
					if up[c].scale == 0 && !up[c].decibel && fs[c].role == up[c].role {
						up[c].scale, up[c].decibel = fs[c].scale, fs[c].decibel
					}
				}
				return start, up
			}
		}
		if i+1 < start { // names here, units below
			under := form.split(strings.TrimLeft(d.lines[i+1], "#!%*;/' \t"), nil)
			if len(under) == width {
				for c := range fs {
					if u := classify(under[c].text); fs[c].scale == 0 && len(under[c].text) > 0 {
						fs[c].scale, fs[c].decibel = u.scale, u.decibel
					}
				}
			}
		}
		return start, fs
	}
	return start, nil
}

// columns settles what each column holds: by the caller's word, by the header
// found, or by custom.
func (d *data) columns(head string, form dialect, width, start int, named []field) ([]field, error) {
	if head != "" {
		var fs []field
		for i, c := range strings.Split(head, ",") {
			f := classify(c)
			if f.role == unknown {
				return nil, whole(d.name, fmt.Sprintf("column %d is called %q", i+1, strings.TrimSpace(c)),
					`frequency, |Z|, phase, real, imaginary, coherence or a dash, perhaps with kHz, ohm, deg or rad`)
			}
			fs = append(fs, f)
		}
		if !complete(fs) {
			return nil, whole(d.name, fmt.Sprintf("the columns %q make no impedance", head),
				"frequency with |Z|, with |Z| and phase, or with real and imaginary, each once")
		}
		return fs, nil
	}
	if named != nil {
		for i, f := range named {
			if f.role == unknown {
				d.warn("column %d is passed over: its name is not a part of an impedance", i+1)
			}
		}
		return named, nil
	}
	switch width {
	case 2:
		named = []field{{role: frequency}, {role: magnitude}}
	case 3:
		named = []field{{role: frequency}, {role: magnitude}, {role: phase}}
	default:
		hint := ""
		if form.sep == ',' { // four numbers are often two with decimal commas
			hint = "; if the comma is also the decimal sign, part the columns by semicolons"
		}
		return nil, d.fatal(start+1, -1,
			"a header line such as frequency, |Z|, phase, or the columns named by the caller"+hint,
			"rows of %d numbers without a header that says what they are", width)
	}
	d.swap(form, named, start)
	return named, nil
}

// swap exchanges columns that custom, not a header, gave their meaning, where
// the numbers show that they stand the other way round.
func (d *data) swap(form dialect, fs []field, start int) {
	var cells []cell
	var cols [3][]float64
	for _, line := range d.lines[start:] {
		cells = form.split(line, cells[:0])
		if len(cells) != len(fs) || form.numeric(cells) != len(fs) {
			continue
		}
		for i, c := range cells {
			v, _ := form.number(c.text)
			cols[i] = append(cols[i], v)
		}
	}
	n := len(cols[0])
	if n < 3 {
		return
	}
	steady := func(x []float64) bool {
		up, down := 0, 0
		for i := 1; i < n; i++ {
			if x[i] > x[i-1] {
				up++
			} else if x[i] < x[i-1] {
				down++
			}
		}
		return up >= n-1-n/50 || down >= n-1-n/50
	}
	below := func(x []float64) bool {
		for _, v := range x {
			if v < 0 {
				return true
			}
		}
		return false
	}
	for i := 1; i < len(fs); i++ {
		if !steady(cols[0]) && steady(cols[i]) && !below(cols[i]) {
			fs[0], fs[i] = fs[i], fs[0]
			cols[0], cols[i] = cols[i], cols[0]
			d.warn("column %d, not column 1, rises steadily: taken as the frequency (%s)", i+1, order(fs))
			break
		}
	}
	if len(fs) == 3 {
		m, p := roleAt(fs, magnitude), roleAt(fs, phase)
		if below(cols[m]) && !below(cols[p]) {
			fs[m], fs[p] = fs[p], fs[m]
			d.warn("column %d goes below zero, which |Z| cannot: taken as the phase (%s)", m+1, order(fs))
		}
	}
}

func order(fs []field) string {
	s := "columns read as "
	for i, f := range fs {
		if i > 0 {
			s += ", "
		}
		s += f.role.String()
	}
	return s
}

func roleAt(fs []field, r role) int {
	for i, f := range fs {
		if f.role == r {
			return i
		}
	}
	return -1
}

// rows reads the lines from index start on.
func (d *data) rows(form dialect, fs []field, start int) {
	at := func(r role) int { return roleAt(fs, r) }
	fAt, mAt, pAt, reAt, imAt, cAt := at(frequency), at(magnitude), at(phase), at(realPart), at(imaginary), at(coherence)
	polar := mAt >= 0
	d.hasPhase = !polar || pAt >= 0 || reAt >= 0
	d.hasCoh = cAt >= 0
	fScale, scale := fs[fAt].scale, 1.0
	if fScale == 0 {
		fScale = 1
	}
	scaleOf := func(i int, usual float64) float64 {
		if i < 0 || fs[i].scale == 0 {
			return usual
		}
		return fs[i].scale
	}
	pScale := scaleOf(pAt, math.Pi/180)
	d.degrees = pAt >= 0 && pScale != 1
	if polar {
		scale = scaleOf(mAt, 1)
		if fs[mAt].decibel {
			d.warn("|Z| is named in dB: read as 20·log10(|Z| / 1 ohm)")
		}
	}

	var cells []cell
	value := make([]float64, len(fs))
row:
	for i := start; i < len(d.lines); i++ {
		line := d.lines[i]
		t := strings.TrimFunc(line, isSpace)
		if t == "" || strings.ContainsAny(t[:1], "#!%*/'") || t[0] == ';' && form.sep != ';' {
			continue
		}
		cells = form.split(line, cells[:0])
		for c, f := range fs {
			if f.role <= passed {
				continue
			}
			if c >= len(cells) || cells[c].text == "" {
				pos := -1
				if c < len(cells) {
					pos = cells[c].at
				}
				d.fault(i+1, pos, fmt.Sprintf("%d columns: %s in column %d", len(fs), f.role, c+1),
					"no %s", f.role)
				continue row
			}
			v, ok := form.number(cells[c].text)
			if !ok {
				d.fault(i+1, cells[c].at, fmt.Sprintf("%s as a number", f.role), "%q is not a number", shorten(cells[c].text, 30))
				continue row
			}
			value[c] = v
		}
		if len(cells) > len(fs) {
			d.fault(i+1, cells[len(fs)].at, fmt.Sprintf("%d", len(fs)), "a row of %d columns", len(cells))
			continue
		}
		p := point{line: i + 1, f: value[fAt] * fScale}
		zAt := mAt
		if polar {
			p.mag = value[mAt] * scale
			if fs[mAt].decibel {
				p.mag = math.Pow(10, value[mAt]/20)
			}
			if pAt >= 0 {
				p.phase = value[pAt] * pScale
			}
		}
		if polar && pAt < 0 && reAt >= 0 {
			p.phase = math.Atan2(value[imAt]*scaleOf(imAt, 1), value[reAt]*scaleOf(reAt, 1))
		}
		if !polar {
			zAt = reAt
			p.mag, p.phase = cmplx.Polar(complex(value[reAt]*scaleOf(reAt, 1), value[imAt]*scaleOf(imAt, 1)))
		}
		if d.hasCoh {
			if p.coh = value[cAt]; p.coh < 0 || p.coh > 1 {
				d.fault(i+1, cells[cAt].at, "0 to 1", "a coherence of %s", cells[cAt].text)
				continue
			}
		}
		if d.check(p, cells[fAt].at, cells[zAt].at, cells[fAt].text, cells[zAt].text) {
			d.points = append(d.points, p)
		}
	}
	if fs[fAt].scale == 0 && len(d.points) > 0 {
		lo, hi := math.Inf(1), 0.0
		for _, p := range d.points {
			if p.f > 0 {
				lo, hi = math.Min(lo, p.f), math.Max(hi, p.f)
			}
		}
		if lo < 1 && hi <= 50 {
			d.warn("the frequencies run from %.3g to %.3g and no unit is named: read as Hz; name the column \"frequency kHz\" if they are kHz", lo, hi)
		}
	}
}

// Bounds of what is taken for a reading at all.
const (
	maxFrequency = 1e12 // Hz
	minMagnitude = 1e-9 // ohm
	maxMagnitude = 1e12 // ohm
)

// check notes a fault if the point cannot be an impedance. fAt and zAt are
// where its frequency and impedance stand in the line, fText and zText what
// stands there.
func (d *data) check(p point, fAt, zAt int, fText, zText string) bool {
	switch {
	case p.f < 0:
		d.fault(p.line, fAt, "a frequency above zero", "a frequency of %s", fText)
	case p.f > maxFrequency:
		d.fault(p.line, fAt, fmt.Sprintf("at most %g Hz", maxFrequency), "a frequency of %g Hz", p.f)
	case p.mag == 0:
		d.fault(p.line, zAt, "|Z| above zero", "an impedance of zero")
	case p.mag < 0:
		d.fault(p.line, zAt, "|Z| above zero; are the columns in another order?", "|Z| of %s, below zero", zText)
	case !(p.mag >= minMagnitude && p.mag <= maxMagnitude) || !finite(p.phase):
		d.fault(p.line, zAt, fmt.Sprintf("%g to %g ohm", minMagnitude, maxMagnitude), "|Z| of %.3g ohm", p.mag)
	case math.Abs(p.phase) > 1e6:
		d.fault(p.line, -1, "a phase in degrees or radians", "a phase of %.3g rad", p.phase)
	default:
		return true
	}
	return false
}
