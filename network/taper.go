package network

import (
	"math"

	"ocarina/acoustic"
)

// A tapered duct is solved in short pieces by the fourth-order Magnus method:
// with the air at the two Gauss points of a piece, its chain matrix is the
// exponential of
//
//	N = [−k b; c k],  b = h(X1+X2)/2,  c = h(C1+C2)/2,  k = √3h²/12·(X2C1 − X1C2),
//
// which is exact where the area is constant, and keeps the power exactly where
// there is no loss (Iserles & Nørsett, Phil. Trans. R. Soc. A 357, 1999).

var magnusNodes = [2]float64{0.5 - math.Sqrt(3)/6, 0.5 + math.Sqrt(3)/6}

// piece is one step of length h that starts at x from the From end.
type piece struct {
	x, h  float64
	l     [2]local
	k     complex128
	b, c  complex128
	ch, s complex128
	ds    complex128
}

// profile returns the area at a fraction t of the length and its derivatives
// with respect to both end areas.
func (d *Duct) profile(p *Point, t float64) (s, perFrom, perTo float64) {
	from, to := p.Values[d.Area], p.Values[d.ToArea]
	if d.Taper == Exponential {
		s = from * math.Pow(to/from, t)
		return s, s * (1 - t) / from, s * t / to
	}
	a, b := math.Sqrt(from), math.Sqrt(to)
	r := a + (b-a)*t
	return r * r, r * (1 - t) / a, r * t / b
}

func (d *Duct) localAt(p *Point, t float64, slopes bool) local {
	s, _, _ := d.profile(p, t)
	return d.at(p, d.wall(), s, math.Sqrt(s/math.Pi), slopes)
}

func (d *Duct) piece(p *Point, x, h float64, slopes bool) (q piece) {
	q.x, q.h = x, h
	length := p.Values[d.Length]
	for i, at := range magnusNodes {
		q.l[i] = d.localAt(p, (x+h*at)/length, slopes)
	}
	q.b = complex(h/2, 0) * (q.l[0].x + q.l[1].x)
	q.c = complex(h/2, 0) * (q.l[0].c + q.l[1].c)
	q.k = complex(math.Sqrt(3)*h*h/12, 0) * (q.l[1].x*q.l[0].c - q.l[0].x*q.l[1].c)
	u := q.k*q.k + q.b*q.c
	if slopes {
		q.ch, q.s, q.ds = acoustic.Propagation(u)
	} else {
		q.ch, q.s = acoustic.PropagationOnly(u)
	}
	return q
}

func (q *piece) chain() chain {
	return chain{q.ch - q.s*q.k, q.s * q.b, q.s * q.c, q.ch + q.s*q.k}
}

func (d *Duct) taper(p *Point, keep []complex128) chain {
	h := p.Values[d.Length] / float64(d.Pieces)
	m := chain{1, 0, 0, 1}
	for i := range d.Pieces {
		q := d.piece(p, h*float64(i), h, false)
		n := q.chain()
		copy(keep[4*(i+1):], []complex128{n.a, n.b, n.c, n.d})
		m = m.times(n)
	}
	return m
}

// taperSlopes carries the weights g of the body's entries to each piece's and
// on to the duct's values.
func (d *Duct) taperSlopes(p *Point, keep []complex128, g chain, grad []complex128) (omega complex128) {
	n := d.Pieces
	length := p.Values[d.Length]
	h := length / float64(n)
	before := chain{1, 0, 0, 1}
	after := chain{keep[0], keep[1], keep[2], keep[3]}
	for i := range n {
		m := kept(keep, i)
		after = chain{m.d, -m.b, -m.c, m.a}.times(after) // less this piece: det m = 1
		// whole = before·piece·after: weights of the piece are beforeᵀ·g·afterᵀ.
		bg := chain{before.a*g.a + before.c*g.c, before.a*g.b + before.c*g.d, before.b*g.a + before.d*g.c, before.b*g.b + before.d*g.d}
		w := chain{bg.a*after.a + bg.b*after.b, bg.a*after.c + bg.b*after.d, bg.c*after.a + bg.d*after.b, bg.c*after.c + bg.d*after.d}
		omega += d.pieceSlopes(p, h*float64(i), h, w, grad)
		before = before.times(m)
	}
	return omega
}

func kept(keep []complex128, i int) chain {
	k := keep[4*(i+1):]
	return chain{k[0], k[1], k[2], k[3]}
}

func (d *Duct) pieceSlopes(p *Point, x, h float64, g chain, grad []complex128) (omega complex128) {
	q := d.piece(p, x, h, true)
	gu := (g.a+g.d)*q.s/2 + ((g.d-g.a)*q.k+g.b*q.b+g.c*q.c)*q.ds
	gk := 2*q.k*gu + q.s*(g.d-g.a)
	gb := q.c*gu + q.s*g.b
	gc := q.b*gu + q.s*g.c
	half, r := complex(h/2, 0), complex(math.Sqrt(3)*h*h/12, 0)
	// The piece's own length grows with the duct's: h = L/n.
	grad[d.Length] += (gb*q.b + gc*q.c + 2*gk*q.k) / complex(p.Values[d.Length], 0)
	l := &q.l
	gx := [2]complex128{half*gb - r*gk*l[1].c, half*gb + r*gk*l[0].c}
	gy := [2]complex128{half*gc + r*gk*l[1].x, half*gc - r*gk*l[0].x}
	for i, at := range magnusNodes {
		s, perFrom, perTo := d.profile(p, (x+h*at)/p.Values[d.Length])
		radius := math.Sqrt(s / math.Pi)
		perArea := gx[i]*l[i].xs + gy[i]*l[i].cs
		perArea += (gx[i]*l[i].dx + gy[i]*l[i].dc) * complex(1/(2*math.Pi*radius), 0)
		grad[d.Area] += perArea * complex(perFrom, 0)
		grad[d.ToArea] += perArea * complex(perTo, 0)
		d.fillSlopes(&l[i], gx[i], gy[i], grad)
		omega += gx[i]*l[i].xo + gy[i]*l[i].co
	}
	return omega
}

// part is the chain matrix of the fraction t of the piece next to its far end.
func (q *piece) part(t float64) chain {
	c, s := acoustic.PropagationOnly((q.k*q.k + q.b*q.c) * complex(t*t, 0))
	s *= complex(t, 0)
	return chain{c - s*q.k, s * q.b, s * q.c, c + s*q.k}
}

// walkTaper visits the pieces as they are solved, so that what they lose is
// what enters them and does not leave.
func (d *Duct) walkTaper(p *Point, pressure, flow complex128, visit func(weight float64, s *slice, pressure, flow complex128)) {
	h := p.Values[d.Length] / float64(d.Pieces)
	per := complex(1/h, 0)
	for i := d.Pieces - 1; i >= 0; i-- {
		q := d.piece(p, h*float64(i), h, false)
		air := slice{q.b * per, q.c * per, q.k * per}
		for j, at := range gaussNodes {
			a, b := q.part(at).apply(pressure, flow)
			visit(h*gaussWeights[j], &air, a, b)
		}
		pressure, flow = q.chain().apply(pressure, flow)
	}
}
