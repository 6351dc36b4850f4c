package plot

import (
	"math"
	"strconv"
	"strings"
)

// scale maps values to px along one direction: lo falls on a, hi on b.
type scale struct {
	lo, hi float64
	log    bool
	a, b   float64
}

const extreme = 1e100 // the largest magnitude drawn, and 1/extreme the smallest

// usable says whether v has a place on the scale and brings it within the
// magnitudes whose differences and ratios stay finite.
func usable(v float64, log bool) (float64, bool) {
	if !finite(v) || (log && v <= 0) {
		return 0, false
	}
	if log {
		return min(max(v, 1/extreme), extreme), true
	}
	return min(max(v, -extreme), extreme), true
}

// share returns where v lies between lo (0) and hi (1), cut off well outside.
func (s scale) share(v float64) float64 {
	var t float64
	if s.log {
		t = math.Log(v/s.lo) / math.Log(s.hi/s.lo)
	} else {
		t = (v - s.lo) / (s.hi - s.lo)
	}
	return min(max(t, -1e3), 1e3)
}

func (s scale) at(v float64) float64 { return s.a + (s.b-s.a)*s.share(v) }

// place returns where v falls, if it can be drawn within the scale at all.
func (s scale) place(v float64) (float64, bool) {
	v, ok := usable(v, s.log)
	if !ok {
		return 0, false
	}
	t := s.share(v)
	const slack = 1e-9 // rounding at the ends
	return s.at(v), t >= -slack && t <= 1+slack
}

// extent collects the least and greatest of what is drawn.
type extent struct {
	lo, hi float64
	any    bool
}

func (e *extent) take(v float64, log bool) {
	v, ok := usable(v, log)
	switch {
	case !ok:
	case !e.any:
		e.lo, e.hi, e.any = v, v, true
	default:
		e.lo, e.hi = min(e.lo, v), max(e.hi, v)
	}
}

// ends returns the two ends of an axis for what was collected, widened where
// they coincide: by room on each side of the span, and down to zero where a
// linear axis of one sign comes near it anyway.
func (e extent) ends(log bool, span, room float64) (lo, hi float64) {
	if !e.any {
		if log {
			return 1, 10
		}
		return 0, 1
	}
	lo, hi = e.lo, e.hi
	if log {
		cut := span > 1 && lo < hi/span
		if cut {
			lo = hi / span
		}
		if hi/lo < 1+1e-9 {
			return lo / 2, hi * 2
		}
		grow := math.Pow(hi/lo, room)
		if !cut {
			lo /= grow
		}
		return lo, hi * grow
	}
	cut := span > 0 && lo < hi-span
	if cut {
		lo = hi - span
	}
	size := max(math.Abs(lo), math.Abs(hi))
	if hi-lo <= 1e-9*size || hi-lo < 1/extreme {
		if size < 1/extreme {
			return -1, 1
		}
		return lo - 0.1*size, hi + 0.1*size
	}
	grow := room * (hi - lo)
	switch {
	case cut:
		return lo, hi + grow
	case lo >= 0 && lo < 0.4*hi:
		return 0, hi + grow
	case hi <= 0 && hi > 0.4*lo:
		return lo - grow, 0
	}
	return lo - grow, hi + grow
}

// tick is a place on an axis; one without a label is only a short stroke.
type tick struct {
	v     float64
	label string
}

// ticks returns the ticks of the scale: as many labels as keep a distance of
// gap px from each other, where extent is the length of a label along the
// axis.
func (s scale) ticks(unit string, gap float64, extent func(string) float64) []tick {
	var fallback []tick
	for _, ts := range s.tickings(unit) {
		n := 0
		fits := true
		last := math.Inf(-1)
		for _, t := range ts {
			if t.label == "" {
				continue
			}
			n++
			half := extent(t.label) / 2
			d := math.Abs(s.at(t.v) - s.a)
			if d-half < last+gap {
				fits = false
				break
			}
			last = d + half
		}
		if fits && n > 0 {
			return ts
		}
		if n > 0 && fallback == nil {
			fallback = ts[:1]
		}
	}
	return fallback
}

// tickings returns sets of ticks from dense to sparse.
func (s scale) tickings(unit string) [][]tick {
	if s.log && s.hi/s.lo > 2.2 {
		if sets := s.logTickings(); sets != nil {
			return sets
		}
	}
	return s.linearTickings(unit)
}

// logTickings keeps to 1-2-5 over more than a decade, to every digit below.
func (s scale) logTickings() [][]tick {
	decades := math.Log10(s.hi / s.lo)
	var sets [][]tick
	digits := [][]int{{1, 2, 5}, {1, 3}, {1}}
	if decades <= 1.05 {
		digits = append([][]int{{1, 2, 3, 4, 5, 6, 7, 8, 9}, {1, 2, 3, 4, 5, 6, 8}, {1, 2, 3, 5, 7}, {1, 2, 3, 5}}, digits...)
	} else if decades <= 1.75 {
		digits = append([][]int{{1, 2, 3, 4, 5, 7}, {1, 2, 3, 5}}, digits...)
	}
	if decades <= 6 {
		for _, d := range digits {
			if ts := s.digitTicks(d, 1); labelled(ts) >= 2 {
				sets = append(sets, ts)
			}
		}
	}
	for _, every := range []int{1, 2, 3, 5, 10, 20, 50, 100} {
		if ts := s.digitTicks([]int{1}, every); labelled(ts) >= 1 {
			sets = append(sets, ts)
		}
	}
	return sets
}

func labelled(ts []tick) int {
	n := 0
	for _, t := range ts {
		if t.label != "" {
			n++
		}
	}
	return n
}

// digitTicks labels the given digits of every so-many-th decade.
func (s scale) digitTicks(digits []int, every int) []tick {
	var ts []tick
	first, last := int(math.Floor(math.Log10(s.lo))), int(math.Floor(math.Log10(s.hi)))
	powers := first < -5 || last > 6 // all labels in one style
	for e := first; e <= last+1; e++ {
		if every > 1 && e%every != 0 {
			continue
		}
		for d := 1; d <= 9; d++ {
			v, _ := strconv.ParseFloat(strconv.Itoa(d)+"e"+strconv.Itoa(e), 64)
			if v < s.lo*(1-1e-9) || v > s.hi*(1+1e-9) {
				continue
			}
			t := tick{v: v}
			for _, l := range digits {
				if l == d {
					t.label = number(v, max(0, -e))
					if powers && e != 0 {
						t.label = strings.ReplaceAll(strconv.Itoa(d)+"e"+strconv.Itoa(e), "-", "−")
					}
				}
			}
			if t.label != "" || last-first <= 3 {
				ts = append(ts, t)
			}
		}
	}
	return ts
}

// linearTickings uses steps of 1, 2 and 5, or parts of a turn.
func (s scale) linearTickings(unit string) [][]tick {
	span := s.hi - s.lo
	var sets [][]tick
	add := func(step float64, places int) {
		if n := span / step; n > 60 || step == 0 {
			return
		}
		var ts []tick
		for k := math.Ceil(s.lo/step - 1e-6); k*step <= s.hi+1e-6*step; k++ {
			v := k * step
			if v == 0 {
				v = 0 // no negative zero
			}
			ts = append(ts, tick{v, number(v, places)})
			if len(ts) > 100 {
				return
			}
		}
		if len(ts) > 0 && distinct(ts) {
			sets = append(sets, ts)
		}
	}
	if unit == "deg" || unit == "°" {
		for _, step := range []float64{15, 30, 45, 90, 180, 360} {
			if span >= step {
				add(step, 0)
			}
		}
		if sets != nil {
			return sets
		}
	}
	e0 := int(math.Floor(math.Log10(span))) - 1
	for e := e0; e <= e0+2; e++ {
		for _, m := range []float64{1, 2, 5} {
			add(m*math.Pow(10, float64(e)), max(0, -e))
		}
	}
	if sets == nil { // a span too fine against its place for round steps
		sets = append(sets, []tick{{s.lo, number(s.lo, 0)}})
	}
	return sets
}

// distinct says whether neighbouring labels differ, as they do not where the
// axis is finer than the digits shown.
func distinct(ts []tick) bool {
	for i := 1; i < len(ts); i++ {
		if ts[i].label == ts[i-1].label {
			return false
		}
	}
	return true
}

// number writes v with the given decimal places, or with an exponent where
// that would be long.
func number(v float64, places int) string {
	var s string
	if a := math.Abs(v); a != 0 && (a >= 1e6 || a < 1e-4 || places > 5) {
		s = strconv.FormatFloat(v, 'g', 6, 64)
		s = strings.Replace(s, "e+0", "e", 1)
		s = strings.Replace(s, "e+", "e", 1)
		s = strings.Replace(s, "e-0", "e-", 1)
	} else {
		s = strconv.FormatFloat(v, 'f', places, 64)
	}
	return strings.ReplaceAll(s, "-", "−")
}
