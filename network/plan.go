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
	entries  int // matrix entries incl. fill; one more slot takes what goes to ground
	order    []Unknown
	position []int32 // of each unknown in the order
	pivots   []pivot
	targets  []int32
	links    []link
	keep     int
	widest   int
	ducts    map[*Duct]int // which part each is
}

type part struct {
	element Element
	slots   []int32
	places  []Place
	keep    int // offset
	kept    int
}

// pivot is one elimination step: the rows below and the columns to the right
// that it touches, and where their products go, row by row.
type pivot struct {
	diagonal     int32
	below, right span // of links
	targets      span // of targets
}

// link is an entry of the matrix in a pivot's column or row: its slot, and the
// position in the order of its row or column.
type link struct{ slot, position int32 }

type span struct{ first, after int32 }

// Compile chooses an elimination order (least fill first, held and driven unknowns last)
// and lays out the matrix. It fails if an equation involves no unknown that
// could be eliminated, as happens when a part is joined to nothing.
func (n *Net) Compile() (*Plan, error) {
	p := &Plan{net: n, n: len(n.kinds), ducts: map[*Duct]int{}}
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
			q.slots[i] = slot(at.Row, at.Column)
		}
		p.keep += q.kept
		p.widest = max(p.widest, len(places))
		if d, ok := e.(*Duct); ok {
			p.ducts[d] = len(p.parts)
		}
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
		v := pivot{diagonal: rows[best][best]}
		v.below = p.list(below, func(r Unknown) int32 { return rows[r][best] })
		v.right = p.list(right, func(c Unknown) int32 { return rows[best][c] })
		v.targets.first = int32(len(p.targets))
		for _, r := range below {
			for _, c := range right {
				p.targets = append(p.targets, slot(r, c))
				columns[c][r] = true
			}
		}
		v.targets.after = int32(len(p.targets))
		p.pivots = append(p.pivots, v)
	}
	for i := range p.links { // positions are known only now
		p.links[i].position = p.position[p.links[i].position]
	}
	return nil
}

// list enters links to unknowns, with unknowns where their positions will go.
func (p *Plan) list(us []Unknown, slot func(Unknown) int32) span {
	s := span{first: int32(len(p.links))}
	for _, u := range us {
		p.links = append(p.links, link{slot(u), int32(u)})
	}
	s.after = int32(len(p.links))
	return s
}

// Unknowns returns how many unknowns the network has.
func (p *Plan) Unknowns() int { return p.n }

// Name returns the name of an unknown.
func (p *Plan) Name(u Unknown) string { return p.net.names[u] }
