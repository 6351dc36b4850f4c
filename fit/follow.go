package fit

import (
	"math"

	"ocarina/response"
)

// path leads from the model as drawn (t = 0) to another one (t = 1).
type path func(t float64)

// walker follows features along a path.
type walker struct {
	bench    *response.Bench
	path     path
	from, to float64 // band, Hz
	scans    int     // so far
}

// mostScans is how often a walk looks at the whole band before it gives up being
// sure: only boxes that have nothing to do with each other need more.
const mostScans = 500

// shortest is the smallest step of a walk: where two features meet within it
// their order tells which goes on.
const shortest = 1.0 / 512

// steps is how many steps a walk begins with.
const steps = 8

// doubtful is by how much, in dB, two neighbours must stand from each other all
// the way for their identity to be certain. Any closer, and another way from the
// one box to the other would have merged them.
const doubtful = 0.2

// features returns the features at t.
func (w *walker) features(t float64) ([]response.Feature, error) {
	w.path(t)
	w.scans++
	return w.bench.Features(w.from, w.to)
}

// follow walks the path and returns the features at both ends and, for each at
// the start, its index at the end, or −1 if it met another on the way and vanished,
// or came so close that it may have.
func (w *walker) follow() (start, end []response.Feature, partner []int, err error) {
	if start, err = w.features(0); err != nil {
		return nil, nil, nil, err
	}
	partner = make([]int, len(start))
	for i := range partner {
		partner[i] = i
	}
	forget(start, partner)
	at := start
	for n := range steps {
		t, u := float64(n)/steps, float64(n+1)/steps
		next, err := w.features(u)
		if err != nil {
			return nil, nil, nil, err
		}
		step, err := w.step(at, next, t, u)
		if err != nil {
			return nil, nil, nil, err
		}
		compose(partner, step)
		forget(next, partner)
		at = next
	}
	return start, at, partner, nil
}

func compose(partner, step []int) {
	for i, p := range partner {
		if p >= 0 {
			partner[i] = step[p]
		}
	}
}

// step links the features at t and u, going by way of the middle where they moved
// too far to be sure.
func (w *walker) step(a, b []response.Feature, t, u float64) ([]int, error) {
	link, sure := linked(a, b)
	if sure || u-t <= shortest {
		return link, nil
	}
	if w.scans > mostScans {
		for i := range link {
			link[i] = -1
		}
		return link, nil
	}
	mid := (t + u) / 2
	m, err := w.features(mid)
	if err != nil {
		return nil, err
	}
	first, err := w.step(a, m, t, mid)
	if err != nil {
		return nil, err
	}
	second, err := w.step(m, b, mid, u)
	if err != nil {
		return nil, err
	}
	forget(m, first)
	compose(first, second)
	return first, nil
}

// forget lets go of features that hardly stand from a neighbour.
func forget(list []response.Feature, partner []int) {
	for i, p := range partner {
		if p >= 0 && stands(list, p) < doubtful {
			partner[i] = -1
		}
	}
}

// linked pairs the features before and after a small step. It is sure if none
// appeared or vanished and none moved by more than a quarter of the way to its
// neighbours.
func linked(a, b []response.Feature) (link []int, sure bool) {
	p, q := spots(a), spots(b)
	link = align(p, q, 0.03, func(i, j int) float64 { return math.Abs(math.Log(q[j].frequency / p[i].frequency)) })
	sure = len(a) == len(b)
	for i, j := range link {
		if j < 0 {
			return link, false
		}
		moved := math.Abs(math.Log(b[j].Frequency / a[i].Frequency))
		for _, k := range [2]int{i - 1, i + 1} {
			if k >= 0 && k < len(a) && moved > math.Abs(math.Log(a[k].Frequency/a[i].Frequency))/4 {
				sure = false
			}
		}
		if moved > 0.05 {
			sure = false
		}
	}
	return link, sure
}

// spot is a feature as far as pairing looks at it.
type spot struct {
	kind              string
	frequency, height float64
}

func spots(list []response.Feature) []spot {
	s := make([]spot, len(list))
	for i, f := range list {
		s[i] = spot{f.Kind, f.Frequency, f.Impedance}
	}
	return s
}

// align pairs two lists in order, peaks with peaks and dips with dips, at the
// least total cost; leaving one out costs skip. It returns for each of a the
// index in b, or −1.
func align(a, b []spot, skip float64, cost func(i, j int) float64) []int {
	n, m := len(a), len(b)
	best := make([]float64, (n+1)*(m+1))
	at := func(i, j int) *float64 { return &best[i*(m+1)+j] }
	for i := n; i >= 0; i-- {
		for j := m; j >= 0; j-- {
			if i == n || j == m {
				*at(i, j) = skip * float64(n-i+m-j)
				continue
			}
			c := math.Min(*at(i+1, j), *at(i, j+1)) + skip
			if a[i].kind == b[j].kind {
				c = math.Min(c, *at(i+1, j+1)+cost(i, j))
			}
			*at(i, j) = c
		}
	}
	link := make([]int, n)
	i, j := 0, 0
	for i < n {
		switch {
		case j < m && a[i].kind == b[j].kind && *at(i, j) == *at(i+1, j+1)+cost(i, j):
			link[i] = j
			i++
			j++
		case j < m && *at(i, j) == *at(i, j+1)+skip:
			j++
		default:
			link[i] = -1
			i++
		}
	}
	return link
}
