package network

import (
	"fmt"
	"math"
)

// Plan is a compiled network: where each element writes and in which order the
// unknowns are eliminated. It is immutable.
type Plan struct {
	net      *Net
	n        int
	parts    []part
	entries  int     // matrix entries incl. fill; one more slot takes what goes to ground
	original []entry // entries that elements write to, for the pivoted solve
	order    []Unknown
	position []int32 // of each unknown in the order
	pivots   []pivot
	targets  []int32
	lists    []int32
	keep     int
	widest   int
}

type part struct {
	element Element
	slots   []int32
	places  []Place
	keep    int // offset
	kept    int
}

type entry struct {
	row, column Unknown
	slot        int32
}

// pivot is one elimination step: the rows below and the columns to the right
// that it touches, as slots of the matrix and positions in the order.
type pivot struct {
	diagonal     int32
	below, right span // slots in lists; their positions follow at +count
	targets      int32
}

type span struct{ first, count int32 }

// Compile chooses an elimination order (least fill first, held and driven unknowns last)
// and lays out the matrix. It fails if an equation involves no unknown that
// could be eliminated, as happens when a part is joined to nothing.
func (n *Net) Compile() (*Plan, error) {
	p := &Plan{net: n, n: len(n.kinds)}
	rows := make([]map[Unknown]int32, p.n)
	for i := range rows {
		rows[i] = map[Unknown]int32{}
	}
	slot := func(r, c Unknown) int32 {
		s, ok := rows[r][c]
		if !ok {
			s = int32(p.entries)
			p.entries++
			rows[r][c] = s
		}
		return s
	}
	for _, e := range n.elements {
		places := e.Pattern()
		q := part{element: e, places: places, keep: p.keep, kept: e.Keep(), slots: make([]int32, len(places))}
		for i, at := range places {
			q.slots[i] = -1
			if at.Row == Ground || at.Column == Ground {
				continue
			}
			known := len(rows[at.Row])
			q.slots[i] = slot(at.Row, at.Column)
			if len(rows[at.Row]) > known {
				p.original = append(p.original, entry{at.Row, at.Column, q.slots[i]})
			}
		}
		p.keep += q.kept
		p.widest = max(p.widest, len(places))
		p.parts = append(p.parts, q)
	}
	if err := p.eliminate(rows, slot); err != nil {
		return nil, err
	}
	for i := range p.parts {
		for j, s := range p.parts[i].slots {
			if s < 0 {
				p.parts[i].slots[j] = int32(p.entries) // the slot nobody reads
			}
		}
	}
	return p, nil
}

func (p *Plan) eliminate(rows []map[Unknown]int32, slot func(r, c Unknown) int32) error {
	columns := make([]map[Unknown]bool, p.n)
	for i := range columns {
		columns[i] = map[Unknown]bool{}
	}
	for r := range rows {
		for c := range rows[r] {
			columns[c][Unknown(r)] = true
		}
	}
	p.position = make([]int32, p.n)
	done := make([]bool, p.n)
	for len(p.order) < p.n {
		best, cost := Ground, math.MaxInt
		for u := range rows {
			if done[u] {
				continue
			}
			if _, diagonal := rows[u][Unknown(u)]; !diagonal {
				continue
			}
			right, below := 0, 0
			for c := range rows[u] {
				if !done[c] {
					right++
				}
			}
			for r := range columns[u] {
				if !done[r] {
					below++
				}
			}
			c := (right - 1) * (below - 1)
			c += p.net.last[u] * p.n * p.n
			if c < cost {
				best, cost = Unknown(u), c
			}
		}
		if best == Ground {
			for u := range done {
				if !done[u] {
					return fmt.Errorf("network: nothing determines %s", p.net.names[u])
				}
			}
		}
		done[best] = true
		p.position[best] = int32(len(p.order))
		p.order = append(p.order, best)
		var right, below []Unknown
		for u := range done { // in index order, so that a plan is reproducible
			if done[u] {
				continue
			}
			if _, ok := rows[best][Unknown(u)]; ok {
				right = append(right, Unknown(u))
			}
			if columns[best][Unknown(u)] {
				below = append(below, Unknown(u))
			}
		}
		v := pivot{diagonal: rows[best][best], targets: int32(len(p.targets))}
		v.below = p.list(below, func(r Unknown) int32 { return rows[r][best] })
		v.right = p.list(right, func(c Unknown) int32 { return rows[best][c] })
		for _, r := range below {
			for _, c := range right {
				p.targets = append(p.targets, slot(r, c))
				columns[c][r] = true
			}
		}
		p.pivots = append(p.pivots, v)
	}
	// Positions are known only now: lists hold unknowns where positions go.
	for _, v := range p.pivots {
		for _, s := range []span{v.below, v.right} {
			at := p.lists[s.first+s.count : s.first+2*s.count]
			for i := range at {
				at[i] = p.position[at[i]]
			}
		}
	}
	return nil
}

func (p *Plan) list(us []Unknown, slot func(Unknown) int32) span {
	s := span{int32(len(p.lists)), int32(len(us))}
	for _, u := range us {
		p.lists = append(p.lists, slot(u))
	}
	for _, u := range us {
		p.lists = append(p.lists, int32(u))
	}
	return s
}

// Unknowns returns how many unknowns the network has.
func (p *Plan) Unknowns() int { return p.n }

// Name returns the name of an unknown.
func (p *Plan) Name(u Unknown) string { return p.net.names[u] }
