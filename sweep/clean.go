package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
)

// data is what a text file gave, before it is put in order.
type data struct {
	name     string
	lines    []string
	leaveOut bool

	points   []point
	hasPhase bool
	hasCoh   bool
	degrees  bool // phase was read as degrees
	faults   Faults
	warnings []string
}

// A point is one row of a file.
type point struct {
	line  int // from 1
	f     float64
	mag   float64
	phase float64
	coh   float64
}

func (d *data) warn(format string, args ...any) {
	d.warnings = append(d.warnings, fmt.Sprintf(format, args...))
}

// fault notes a faulty row: line from 1, at a byte offset or -1 for the line.
func (d *data) fault(line, at int, wanted, format string, args ...any) {
	f := &Fault{Name: d.name, Line: line, Found: fmt.Sprintf(format, args...), Wanted: wanted}
	if line > 0 {
		f.Source = d.lines[line-1]
		if at >= 0 {
			f.Column = column(f.Source, at)
		}
	}
	d.faults = append(d.faults, f)
}

// fatal is a fault that no leaving out mends.
func (d *data) fatal(line, at int, wanted, format string, args ...any) error {
	d.faults = nil
	d.fault(line, at, wanted, format, args...)
	return d.faults
}

// sweep puts the points in order and looks them over.
func (d *data) sweep() (*Sweep, error) {
	if len(d.faults) > 0 && !d.leaveOut {
		return nil, d.faults
	}
	s := &Sweep{Name: d.name, Warnings: d.warnings, Skipped: len(d.faults)}
	if n := len(d.faults); n > 0 {
		f := d.faults[0]
		s.warn("left out %s, the first at line %d: %s", count(n, "faulty row"), f.Line, f.Found)
	}

	p := d.points
	if n := slices.IndexFunc(p, func(p point) bool { return p.f == 0 }); n >= 0 {
		s.warn("line %d: the row at 0 Hz is dropped", p[n].line)
		p = slices.DeleteFunc(p, func(p point) bool { return p.f == 0 })
	}
	switch len(p) {
	case 0:
		if len(d.faults) > 0 {
			return nil, d.faults
		}
		return nil, whole(d.name, "no rows of numbers", "two rows or more of frequency and impedance")
	case 1:
		d.faults = nil
		d.fault(p[0].line, -1, "two rows or more of frequency and impedance", "one row of numbers is not a sweep")
		return nil, d.faults
	}
	p = s.order(p)
	p = s.merge(p, d.hasPhase)
	if len(p) < 2 {
		return nil, whole(d.name, fmt.Sprintf("all rows are at %g Hz", p[0].f), "two frequencies or more")
	}

	for _, q := range p {
		s.Frequency = append(s.Frequency, q.f)
		s.Magnitude = append(s.Magnitude, q.mag)
		if d.hasPhase {
			s.Phase = append(s.Phase, wrap(q.phase))
		}
		if d.hasCoh {
			s.Coherence = append(s.Coherence, q.coh)
		}
	}
	s.doubt(d.degrees)
	return s, nil
}

// order sorts by frequency and says so.
func (s *Sweep) order(p []point) []point {
	up, down, first := 0, 0, 0
	for i := 1; i < len(p); i++ {
		if p[i].f > p[i-1].f {
			up++
		} else if p[i].f < p[i-1].f {
			if down == 0 {
				first = p[i].line
			}
			down++
		}
	}
	if down == 0 {
		return p
	}
	if up == 0 {
		s.warn("the frequencies descend: put in ascending order")
	} else {
		s.warn("the frequencies are out of order at %s, first at line %d: put in order", count(down, "place"), first)
	}
	slices.SortStableFunc(p, func(a, b point) int {
		if a.f < b.f {
			return -1
		}
		if a.f > b.f {
			return 1
		}
		return 0
	})
	return p
}

// merge makes one point, the mean, of points at one frequency.
func (s *Sweep) merge(p []point, phase bool) []point {
	out := p[:0]
	repeated, first := 0, 0
	for i := 0; i < len(p); {
		j := i + 1
		for j < len(p) && p[j].f == p[i].f {
			j++
		}
		q := p[i]
		if n := j - i; n > 1 {
			if repeated == 0 {
				first = p[i+1].line
			}
			repeated += n - 1
			var z complex128
			var mag, coh float64
			for _, r := range p[i:j] {
				z += cmplx.Rect(r.mag/float64(n), r.phase)
				mag += r.mag / float64(n)
				coh += r.coh / float64(n)
			}
			q.mag, q.coh = mag, coh
			if a := cmplx.Abs(z); phase && a > 0 {
				q.mag, q.phase = a, cmplx.Phase(z)
			}
		}
		out = append(out, q)
		i = j
	}
	if repeated > 0 {
		s.warn("%s a frequency, first at line %d: each frequency keeps the mean of its rows", count(repeated, "row repeats", "rows repeat"), first)
	}
	return out
}

// doubt looks for readings that are finite and positive but unlikely.
func (s *Sweep) doubt(degrees bool) {
	if s.Phase == nil {
		return
	}
	beyond := 0
	for _, ph := range s.Phase {
		if math.Abs(ph) > 95*math.Pi/180 {
			beyond++
		}
	}
	n := len(s.Frequency)
	if beyond > 0 {
		s.warn("the phase passes ±90° at %d of %d points: a passive load cannot; are the columns right, or a lead reversed?", beyond, n)
	}

	// By Bode's relation the phase of an impedance follows the slope of its
	// magnitude, φ ≈ (π/2)·d ln|Z|/d ln f. The best factor between the two
	// tells a wrong unit or a wrong sign.
	var sp, ss, pp float64
	for i := 1; i < n-1; i++ {
		slope := math.Pi / 2 * math.Log(s.Magnitude[i+1]/s.Magnitude[i-1]) / math.Log(s.Frequency[i+1]/s.Frequency[i-1])
		slope = math.Max(-1.5, math.Min(1.5, slope))
		sp += slope * s.Phase[i]
		ss += slope * slope
		pp += s.Phase[i] * s.Phase[i]
	}
	if n < 8 || ss < 0.05*0.05*float64(n) {
		return // nearly a resistor: nothing to compare with
	}
	factor, like := sp/ss, sp/math.Sqrt(ss*pp)
	switch {
	case like > 0.4 && factor < 0.13 && degrees:
		s.warn("the phase is too small for the slope of |Z|, as radians read as degrees would be: name the column \"phase rad\" if so")
	case like < -0.5:
		s.warn("the phase runs against the slope of |Z|: its sign seems reversed")
	}
}

// wrap brings an angle into (−π, π].
func wrap(a float64) float64 {
	if a > -math.Pi && a <= math.Pi {
		return a
	}
	a = math.Remainder(a, 2*math.Pi)
	if a <= -math.Pi {
		a = math.Pi
	}
	return a
}

// count is "1 row", "2 rows"; a second word replaces the added s.
func count(n int, words ...string) string {
	w := words[0]
	if n != 1 {
		w += "s"
		if len(words) > 1 {
			w = words[1]
		}
	}
	return fmt.Sprintf("%d %s", n, w)
}
