package network

import (
	"math"

	"ocarina/acoustic"
)

// A tapered duct is solved in short pieces by the sixth-order Magnus method:
// going back from the far end of a piece, d[p; ξ]/ds = A·[p; ξ] with
// A = [0 X; C 0], and from A at the three Gauss points of the piece
//
//	α1 = h·A2,  α2 = √15·h/3·(A3 − A1),  α3 = 10h/3·(A3 − 2A2 + A1),
//	N = α1 + α3/12 + [−20α1 − α3 + C1, α2 + C2]/240,
//	C1 = [α1, α2],  C2 = −[α1, 2α3 + C1]/60,
//
// its chain matrix is the exponential of N: exact where the area is constant,
// and keeping the power exactly where there is no loss (Iserles & Nørsett, Phil.
// Trans. R. Soc. A 357, 1999; this form: Blanes, Casas & Ros, BIT 40, 2000).

// swing is a matrix [−k b; c k]: what a piece's air does to pressure and
// displacement.
type swing struct{ k, b, c complex128 }

func (m swing) plus(f float64, n swing) swing {
	z := complex(f, 0)
	return swing{m.k + z*n.k, m.b + z*n.b, m.c + z*n.c}
}

func (m swing) times(f float64) swing { return swing{}.plus(f, m) }

// bracket is the commutator m·n − n·m.
func bracket(m, n swing) swing {
	return swing{m.c*n.b - m.b*n.c, 2 * (m.b*n.k - m.k*n.b), 2 * (m.k*n.c - m.c*n.k)}
}

// unbracket turns the weights g of bracket(m, n) into those of m and n.
func unbracket(m, n, g swing) (gm, gn swing) {
	gm = swing{2 * (g.c*n.c - g.b*n.b), 2*g.b*n.k - g.k*n.c, g.k*n.b - 2*g.c*n.k}
	gn = swing{2 * (g.b*m.b - g.c*m.c), g.k*m.c - 2*g.b*m.k, 2*g.c*m.k - g.k*m.b}
	return gm, gn
}

// magnusNodes are the Gauss points of a piece, from its far end.
var magnusNodes = [3]float64{0.5 - math.Sqrt(15)/10, 0.5, 0.5 + math.Sqrt(15)/10}

// reach is a stretch of a duct between two fractions of its length.
type reach struct{ from, to float64 }

// step is the nth of all pieces.
func step(n, all int) reach { return reach{float64(n) / float64(all), float64(n+1) / float64(all)} }

// node is where Gauss point i of a stretch lies.
func (r reach) node(i int) float64 { return r.to - magnusNodes[i]*(r.to-r.from) }

// within is the nth of all pieces of a stretch.
func (r reach) within(n, all int) reach {
	s := step(n, all)
	return reach{r.from + s.from*(r.to-r.from), r.from + s.to*(r.to-r.from)}
}

// piece is one step of the solution over a stretch.
type piece struct {
	at     reach
	area   [3]float64 // at the nodes
	l      [3]local
	alpha  [3]swing
	c1, c2 swing
	n      swing
	ch, s  complex128 // cosh √u and sinh √u/√u with u = k² + bc of n
	ds     complex128
}

// contour is how a tapered duct's area goes.
type contour struct {
	from, to float64 // at the ends
	a, b     float64 // of a cone: their square roots
	rate     float64 // of an exponential: the logarithm of their ratio
}

func (d *Duct) contour(p *Point) contour {
	c := contour{from: p.Values[d.Area], to: p.Values[d.ToArea]}
	if d.Taper == Exponential {
		c.rate = math.Log(c.to / c.from)
	} else {
		c.a, c.b = math.Sqrt(c.from), math.Sqrt(c.to)
	}
	return c
}

// area is the area at a fraction t of the length.
func (c *contour) area(t float64) float64 {
	if c.a == 0 {
		return c.from * math.Exp(c.rate*t)
	}
	r := c.a + (c.b-c.a)*t
	return r * r
}

// slopes are the derivatives of the area s at t with respect to both end areas.
func (c *contour) slopes(t, s float64) (perFrom, perTo float64) {
	if c.a == 0 {
		return s * (1 - t) / c.from, s * t / c.to
	}
	r := c.a + (c.b-c.a)*t
	return r * (1 - t) / c.a, r * t / c.b
}

// widening is the derivative of the area's logarithm by t.
func (c *contour) widening(t float64) float64 {
	if c.a == 0 {
		return c.rate
	}
	return 2 * (c.b - c.a) / (c.a + (c.b-c.a)*t)
}

// mostPieces is where a taper is not cut finer: at a turn of the wave each piece
// would no longer be solved at all, and this many reach that in a kilometre of
// duct at 20 kHz only.
const mostPieces = 1 << 18

// A taper keeps what follows each group of its pieces, of which there are
// mostKept at most.
const (
	mostKept  = 512
	mostGroup = mostPieces / mostKept
)

// group is how many pieces of all come between what is kept.
func group(all int) int { return max(1, all/mostKept) }

// pieces is how many pieces a taper is cut into: at least five a radian of the
// wave and eight an e-fold of area, or in a cone as many as keep its radius from
// growing by more than a sixth at the narrow end, which keeps the error near a
// millionth of a decibel. It depends on ratios only, so that a scale model is
// solved as its full size is; it goes in powers of two, so that readings as good
// as never step between two near frequencies or dimensions.
func (d *Duct) pieces(p *Point) int {
	turn := p.Omega / d.Air.Speed * p.Values[d.Length]
	flare := math.Abs(math.Log(p.Values[d.ToArea] / p.Values[d.Area]))
	wanted := math.Max(5*turn, 8*flare)
	if d.Taper == Conical {
		wanted = math.Max(wanted, 6*math.Expm1(flare/2))
	}
	n := 4
	for float64(n) < wanted && n < mostPieces {
		n *= 2
	}
	return n
}

func (d *Duct) piece(p *Point, c *contour, r reach, slopes bool) (q piece) {
	q.at = r
	h := p.Values[d.Length] * (r.to - r.from)
	kind := d.wall()
	for i := range q.l {
		s := c.area(r.node(i))
		q.area[i] = s
		d.at(p, kind, s, math.Sqrt(s/math.Pi), slopes, &q.l[i])
	}
	air := func(i int) swing { return swing{b: q.l[i].x, c: q.l[i].c} }
	odd := air(2).plus(-1, air(0))
	even := air(2).plus(-2, air(1)).plus(1, air(0))
	q.alpha = [3]swing{air(1).times(h), odd.times(math.Sqrt(15) * h / 3), even.times(10 * h / 3)}
	a1, a2, a3 := q.alpha[0], q.alpha[1], q.alpha[2]
	q.c1 = bracket(a1, a2)
	q.c2 = bracket(a1, q.c1.plus(2, a3)).times(-1.0 / 60)
	q.n = a1.plus(1.0/12, a3).plus(1.0/240, bracket(q.c1.plus(-20, a1).plus(-1, a3), q.c2.plus(1, a2)))
	u := q.n.k*q.n.k + q.n.b*q.n.c
	if slopes {
		q.ch, q.s, q.ds = acoustic.Propagation(u)
	} else {
		q.ch, q.s = acoustic.PropagationOnly(u)
	}
	return q
}

func (q *piece) chain() chain {
	return chain{q.ch - q.s*q.n.k, q.s * q.n.b, q.s * q.n.c, q.ch + q.s*q.n.k}
}

// kept is the chain matrix of all that follows the first n groups of pieces.
func kept(keep []complex128, n int) chain {
	k := keep[4*n:]
	return chain{k[0], k[1], k[2], k[3]}
}

// taper returns the chain matrix of a stretch and keeps that of what follows each
// group of its pieces.
func (d *Duct) taper(p *Point, r reach, keep []complex128) chain {
	all, c := d.pieces(p), d.contour(p)
	m := chain{1, 0, 0, 1}
	for n := all - 1; n >= 0; n-- {
		if each := group(all); (n+1)%each == 0 {
			k := keep[4*((n+1)/each):]
			k[0], k[1], k[2], k[3] = m.a, m.b, m.c, m.d
		}
		q := d.piece(p, &c, r.within(n, all), false)
		m = q.chain().times(m)
	}
	return m
}

// taperSlopes carries the weights g of the entries of a stretch's chain matrix to
// each of its pieces' and on to the duct's values, given what follows each group.
func (d *Duct) taperSlopes(p *Point, r reach, keep []complex128, g chain, grad []complex128) (omega complex128) {
	all, c := d.pieces(p), d.contour(p)
	each := group(all)
	for n := 0; n < all; n += each {
		after := kept(keep, n/each+1)
		if each == 1 {
			omega += d.stepSlopes(p, &c, r.within(n, all), after, &g, grad)
		} else {
			omega += d.groupSlopes(p, &c, r, n, all, after, &g, grad)
		}
	}
	return omega
}

// groupSlopes is taperSlopes for the group of pieces that begins with the nth.
func (d *Duct) groupSlopes(p *Point, c *contour, r reach, n, all int, after chain, g *chain, grad []complex128) (omega complex128) {
	var follows [mostGroup]chain // each piece
	each := group(all)
	for i := each - 1; i >= 0; i-- {
		follows[i] = after
		q := d.piece(p, c, r.within(n+i, all), false)
		after = q.chain().times(after)
	}
	for i := range each {
		omega += d.stepSlopes(p, c, r.within(n+i, all), follows[i], g, grad)
	}
	return omega
}

// stepSlopes does it for one piece and leaves in g the weights of what comes after
// it.
func (d *Duct) stepSlopes(p *Point, c *contour, r reach, after chain, g *chain, grad []complex128) complex128 {
	q := d.piece(p, c, r, true)
	m := q.chain()
	// The rest of the duct is m·after: what weighs on it weighs on m by g·afterᵀ,
	// and on what comes after by mᵀ·g.
	w := chain{g.a*after.a + g.b*after.b, g.a*after.c + g.b*after.d, g.c*after.a + g.d*after.b, g.c*after.c + g.d*after.d}
	*g = chain{m.a*g.a + m.c*g.c, m.a*g.b + m.c*g.d, m.b*g.a + m.d*g.c, m.b*g.b + m.d*g.d}
	return d.pieceSlopes(p, c, &q, w, grad)
}

func (d *Duct) pieceSlopes(p *Point, c *contour, q *piece, g chain, grad []complex128) (omega complex128) {
	gu := (g.a+g.d)*q.s/2 + ((g.d-g.a)*q.n.k+g.b*q.n.b+g.c*q.n.c)*q.ds
	gn := swing{2*q.n.k*gu + q.s*(g.d-g.a), q.n.c*gu + q.s*g.b, q.n.b*gu + q.s*g.c}

	a1, a2, a3 := q.alpha[0], q.alpha[1], q.alpha[2]
	left, right := unbracket(q.c1.plus(-20, a1).plus(-1, a3), q.c2.plus(1, a2), gn.times(1.0/240))
	g1 := gn.plus(-20, left)
	g3 := gn.times(1.0/12).plus(-1, left)
	g2, gc1 := right, left
	first, second := unbracket(a1, q.c1.plus(2, a3), right.times(-1.0/60))
	g1, gc1, g3 = g1.plus(1, first), gc1.plus(1, second), g3.plus(2, second)
	first, second = unbracket(a1, a2, gc1)
	g1, g2 = g1.plus(1, first), g2.plus(1, second)

	length := p.Values[d.Length]
	h := length * (q.at.to - q.at.from)
	// Every α grows with the duct's length.
	for i, w := range [3]swing{g1, g2, g3} {
		a := q.alpha[i]
		grad[d.Length] += (w.b*a.b + w.c*a.c) * complex(1/length, 0)
	}
	odd, even := g2.times(math.Sqrt(15)*h/3), g3.times(10*h/3)
	at := [3]swing{even.plus(-1, odd), g1.times(h).plus(-2, even), even.plus(1, odd)}
	for i := range q.l {
		l, gx, gc := &q.l[i], at[i].b, at[i].c
		s := q.area[i]
		perFrom, perTo := c.slopes(q.at.node(i), s)
		perArea := gx*l.xs + gc*l.cs
		perArea += (gx*l.dx + gc*l.dc) * complex(1/(2*math.Sqrt(math.Pi*s)), 0) // the radius goes with the area
		grad[d.Area] += perArea * complex(perFrom, 0)
		grad[d.ToArea] += perArea * complex(perTo, 0)
		d.fillSlopes(l, gx, gc, grad)
		omega += gx*l.xo + gc*l.co
	}
	return omega
}

// part is the chain matrix of the fraction t of the piece next to its far end, as
// far as what it loses goes.
func (q *piece) part(t float64) chain {
	c, s := acoustic.PropagationOnly((q.n.k*q.n.k + q.n.b*q.n.c) * complex(t*t, 0))
	s *= complex(t, 0)
	return chain{c - s*q.n.k, s * q.n.b, s * q.n.c, c + s*q.n.k}
}

// magnusWeights are those of the Gauss points of a piece.
var magnusWeights = [3]float64{5.0 / 18, 4.0 / 9, 5.0 / 18}

// walkTaper sums over the pieces: what they hold by the air there is, and what
// they lose as they are solved, so that it is what enters them and does not leave.
func (d *Duct) walkTaper(p *Point, pressure, flow complex128, sum *Budget) {
	all, c := d.pieces(p), d.contour(p)
	h := p.Values[d.Length] / float64(all)
	for n := all - 1; n >= 0; n-- {
		q := d.piece(p, &c, step(n, all), false)
		for i := range q.l {
			rest := d.piece(p, &c, reach{q.at.node(i), q.at.to}, false)
			a, b := rest.chain().apply(pressure, flow)
			sum.hold(h*magnusWeights[i], &swing{b: q.l[i].x, c: q.l[i].c}, a, b)
		}
		air := q.n.times(1 / h)
		for j, t := range gaussNodes {
			a, b := q.part(t).apply(pressure, flow)
			sum.lose(p.Omega, h*gaussWeights[j], &air, a, b)
		}
		pressure, flow = q.chain().apply(pressure, flow)
	}
}
