package plot

import "math"

// ground is a panel's frame while labels look for a place on it: boxes already
// taken, which no label may overlap, and curves, which none should cross
// without need.
type ground struct {
	frame   box
	taken   []box
	leaders [][2]point
	curves  []skyline
	marks   []float64 // x of dotted verticals
}

// skyline is one drawn curve, as the interval of y it covers in every column
// of 1 px from the frame's left edge.
type skyline []struct{ top, bottom float64 }

func newSkyline(frame box, runs [][]point, dots []point) skyline {
	s := make(skyline, int(math.Ceil(frame.x1-frame.x0))+1)
	for i := range s {
		s[i].top, s[i].bottom = math.Inf(1), math.Inf(-1)
	}
	touch := func(x, y float64) {
		i := int(x - frame.x0)
		if i >= 0 && i < len(s) {
			s[i].top, s[i].bottom = min(s[i].top, y), max(s[i].bottom, y)
		}
	}
	for _, run := range runs {
		for k := 1; k < len(run); k++ {
			a, b := run[k-1], run[k]
			n := max(1, int(math.Abs(b.x-a.x)*2))
			for j := 0; j <= n; j++ {
				t := float64(j) / float64(n)
				touch(a.x+t*(b.x-a.x), a.y+t*(b.y-a.y))
			}
		}
	}
	for _, d := range dots {
		touch(d.x, d.y-2)
		touch(d.x, d.y+2)
	}
	return s
}

// columns returns the part of the skyline beneath or above b.
func (s skyline) columns(frame, b box) skyline {
	i := max(0, int(b.x0-frame.x0))
	j := min(len(s), int(math.Ceil(b.x1-frame.x0)))
	if i >= j {
		return nil
	}
	return s[i:j]
}

// crossed returns how many columns of b curve s passes through, and how often
// it enters.
func (g *ground) crossed(s skyline, b box) (columns, times int) {
	in := false
	for _, c := range s.columns(g.frame, b) {
		hit := c.top < b.y1 && c.bottom > b.y0
		if hit {
			columns++
			if !in {
				times++
			}
		}
		in = hit
	}
	return columns, times
}

// distance returns how near s comes to b above or below it.
func (g *ground) distance(s skyline, b box) float64 {
	d := math.Inf(1)
	for _, c := range s.columns(g.frame, b) {
		if c.top <= c.bottom {
			d = min(d, max(0, c.top-b.y1, b.y0-c.bottom))
		}
	}
	return d
}

// free says whether b lies within the frame and clear of what is taken.
func (g *ground) free(b box) bool {
	if !b.within(g.frame.grow(-1)) {
		return false
	}
	for _, t := range g.taken {
		if b.meets(t) {
			return false
		}
	}
	for _, l := range g.leaders {
		if _, _, hit := clip(l[0], l[1], b); hit {
			return false
		}
	}
	return true
}

// burden is what a label in b costs the reader: curves and dotted lines
// running through it.
func (g *ground) burden(b box) float64 {
	cost := 0.0
	for _, s := range g.curves {
		n, times := g.crossed(s, b)
		cost += 0.6*float64(n) + 8*float64(times)
	}
	for _, x := range g.marks {
		if x > b.x0-1 && x < b.x1+1 {
			cost += 3
		}
	}
	return cost
}

// spot is a place found for a label: its box, what it costs the reader and,
// where it stands off, the leader to what it names.
type spot struct {
	box
	cost   float64
	leader [2]point
	led    bool
}

// around finds the best place for a w×h label near the ring of radius r at p.
// Above comes before below, near before far, clear before crossed. The place
// is not yet taken.
func (g *ground) around(p point, r, w, h float64) (spot, bool) {
	const pad = 3
	type way struct{ dx, dy, dislike float64 }
	ways := []way{
		{0, -1, 0}, {0, 1, 1}, {1, 0, 2}, {-1, 0, 3},
		{1, -1, 3}, {-1, -1, 4}, {1, 1, 4}, {-1, 1, 5},
	}
	best, found := spot{cost: math.Inf(1)}, false
	for _, d := range []float64{0, 8, 16, 26, 38, 52, 68, 86, 106, 130, 160, 200} {
		for _, v := range ways {
			off := r + pad + d
			if v.dx != 0 && v.dy != 0 {
				off = r*0.7 + 1 + d*0.8
			}
			c := point{p.x + v.dx*(off+w/2), p.y + v.dy*(off+h/2)}
			if v.dx == 0 {
				// Slide sideways to stay within the frame.
				c.x = min(max(c.x, g.frame.x0+w/2+2), g.frame.x1-w/2-2)
				if math.Abs(c.x-p.x) > w/2 {
					continue
				}
			}
			b := box{c.x - w/2, c.y - h/2, c.x + w/2, c.y + h/2}
			if !g.free(b.grow(1)) {
				continue
			}
			s := spot{box: b}
			s.cost = v.dislike + 0.35*d + g.burden(b)
			if d > 8 {
				to := point{min(max(p.x, b.x0), b.x1), min(max(p.y, b.y0), b.y1)}
				n := math.Hypot(to.x-p.x, to.y-p.y)
				from := point{p.x + (to.x-p.x)/n*(r+0.5), p.y + (to.y-p.y)/n*(r+0.5)}
				if g.blocked(from, to) {
					continue
				}
				s.led, s.leader = true, [2]point{from, to}
				s.cost += 4
			}
			if s.cost < best.cost {
				best, found = s, true
			}
		}
		if best.cost < 0.35*d {
			break
		}
	}
	return best, found
}

// blocked says whether a leader would run through something taken or another
// leader.
func (g *ground) blocked(a, b point) bool {
	for _, t := range g.taken {
		if t.holds(a) {
			continue // the ring it starts from
		}
		if _, _, hit := clip(a, b, t); hit {
			return true
		}
	}
	side := func(p, q, r point) bool { return (q.x-p.x)*(r.y-p.y) > (q.y-p.y)*(r.x-p.x) }
	for _, l := range g.leaders {
		c, d := l[0], l[1]
		if side(a, b, c) != side(a, b, d) && side(c, d, a) != side(c, d, b) {
			return true
		}
	}
	return false
}

// along finds a place for the name of curve own beside it: clear of all
// curves, nearest its own, and farther from any other.
func (g *ground) along(own int, w, h float64) (box, bool) {
	const gap = 3
	s := g.curves[own]
	best, found, least := box{}, false, math.Inf(1)
	span := g.frame.x1 - g.frame.x0
	for x := g.frame.x0 + 4; x+w <= g.frame.x1-4; x += 6 {
		cols := s.columns(g.frame, box{x0: x, x1: x + w})
		top, bottom, seen := math.Inf(1), math.Inf(-1), 0
		for _, c := range cols {
			if c.top <= c.bottom {
				top, bottom, seen = min(top, c.top), max(bottom, c.bottom), seen+1
			}
		}
		if seen < (len(cols)+1)/2 {
			continue
		}
		for _, y := range []float64{top - gap - h, bottom + gap} {
			b := box{x, y, x + w, y + h}
			if !g.free(b.grow(1)) {
				continue
			}
			// Right of the middle reads best; a steep curve leaves its name
			// far from most of it.
			cost := 0.5*(bottom-top) + 12*math.Abs((x+w/2-g.frame.x0)/span-0.72)
			if y > top {
				cost++
			}
			clear := true
			for k, o := range g.curves {
				if k == own {
					continue
				}
				// A name nearer to another curve would not say whose it is.
				d := g.distance(o, b)
				if d < gap+2.5 {
					clear = false
					break
				}
				cost += 30 / d
			}
			for _, m := range g.marks {
				if m > b.x0-1 && m < b.x1+1 {
					cost += 3
				}
			}
			if clear && cost < least {
				best, found, least = b, true, cost
			}
		}
	}
	if found {
		g.taken = append(g.taken, best.grow(1))
	}
	return best, found
}
