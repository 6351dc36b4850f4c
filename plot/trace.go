package plot

import "math"

// trace turns a curve into lines within the frame: gaps split it, more points
// than a column of px can show are thinned to the column's first, least,
// greatest and last, so that peaks survive, and what leaves the frame is cut
// off at its edge. A point alone between gaps, which no line would show,
// comes back in dots; a curve of Points comes back in dots altogether.
func (c Curve) trace(x, y scale, frame box) (runs [][]point, dots []point) {
	const column, cell = 0.5, 1.5 // px
	inside := frame.grow(1e-6)
	if c.Points {
		seen := map[[2]int]bool{}
		for i := range c.X {
			if p, ok := locate(c.X[i], c.Y[i], x, y); ok && inside.holds(p) {
				at := [2]int{int(p.x / cell), int(p.y / cell)}
				if !seen[at] {
					seen[at] = true
					dots = append(dots, p)
				}
			}
		}
		return nil, dots
	}
	var run []point
	end := func() {
		switch {
		case len(run) == 1 && inside.holds(run[0]):
			dots = append(dots, run[0])
		case len(run) > 1:
			runs = append(runs, cut(thin(run, column), frame)...)
		}
		run = nil
	}
	for i := range c.X {
		p, ok := locate(c.X[i], c.Y[i], x, y)
		if !ok {
			end()
			continue
		}
		run = append(run, p)
	}
	end()
	return runs, dots
}

func locate(vx, vy float64, x, y scale) (point, bool) {
	vx, okx := usable(vx, x.log)
	vy, oky := usable(vy, y.log)
	if !okx || !oky {
		return point{}, false
	}
	return point{x.at(vx), y.at(vy)}, true
}

func (b box) holds(p point) bool {
	return p.x >= b.x0 && p.x <= b.x1 && p.y >= b.y0 && p.y <= b.y1
}

// thin keeps of neighbouring points in one column only those that show.
func thin(run []point, column float64) []point {
	out := make([]point, 0, min(len(run), 4096))
	for i := 0; i < len(run); {
		col := math.Floor(run[i].x / column)
		j, lo, hi := i, i, i
		for j+1 < len(run) && math.Floor(run[j+1].x/column) == col {
			j++
			if run[j].y < run[lo].y {
				lo = j
			}
			if run[j].y > run[hi].y {
				hi = j
			}
		}
		last := -1
		for _, k := range []int{i, min(lo, hi), max(lo, hi), j} {
			if k > last {
				out = append(out, run[k])
				last = k
			}
		}
		i = j + 1
	}
	return out
}

// cut returns the parts of a line within the frame.
func cut(run []point, frame box) [][]point {
	var runs [][]point
	var open []point
	for i := 1; i < len(run); i++ {
		a, b, ok := clip(run[i-1], run[i], frame)
		if !ok {
			if open != nil {
				runs, open = append(runs, open), nil
			}
			continue
		}
		if open == nil {
			open = []point{a}
		}
		open = append(open, b)
		if b != run[i] {
			runs, open = append(runs, open), nil
		}
	}
	if open != nil {
		runs = append(runs, open)
	}
	return runs
}

// clip shortens the segment a–b to the frame (Liang and Barsky, 1984).
func clip(a, b point, f box) (point, point, bool) {
	dx, dy := b.x-a.x, b.y-a.y
	t0, t1 := 0.0, 1.0
	for _, e := range [4][2]float64{{-dx, a.x - f.x0}, {dx, f.x1 - a.x}, {-dy, a.y - f.y0}, {dy, f.y1 - a.y}} {
		p, q := e[0], e[1]
		switch {
		case p == 0:
			if q < 0 {
				return a, b, false
			}
		case p < 0:
			t0 = max(t0, q/p)
		default:
			t1 = min(t1, q/p)
		}
	}
	if t0 > t1 {
		return a, b, false
	}
	from, to := a, b
	if t0 > 0 {
		from = point{a.x + t0*dx, a.y + t0*dy}
	}
	if t1 < 1 {
		to = point{a.x + t1*dx, a.y + t1*dy}
	}
	return from, to, true
}
