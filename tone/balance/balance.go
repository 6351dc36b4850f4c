// Package balance finds the steady state of a network with parts that depend on
// how far they move: harmonic balance.
//
// The linear network enters as its exact answer at every line of the spectrum:
// what a force on a cone, a voltage in its coil or a pressure at a duct's rim
// does to each cone's displacement x, each coil's current i and the speed u of
// the air at each rim. The parts that depend on the state are such forces,
// voltages and pressures, functions of x, dx/dt, i and u at each moment:
//
//	force    F = −K0·(K(x)/K0·x − x) + (Bl(x) − Bl(0))·i + Le(0)·∂/∂x∫Le(x,i)/Le(0)·i di
//	voltage  E = −(Bl(x) − Bl(0))·dx/dt − ΔR·i − d/dt((Le(x,i) − Le(0))·i)
//	pressure Δp = −½ρ·K·|u|·u, K by the direction of u
//
// With y the spectra of x, i and u, y = drive·y₁ + H·s(y) is solved by Newton's
// method: s is evaluated at even steps of a period, its derivative there is
// exact, and each linear system is solved by GMRES (Saad & Schultz, SIAM J. Sci.
// Stat. Comput. 7, 1986) with the mean of that derivative as preconditioner, so
// that no large matrix is made. ΔR is the coil's warming, from its own mean
// square current, and is solved for along with the rest.
//
// Two tones are mapped to lines of an artificial period (Kundert, White &
// Sangiovanni-Vincentelli, Steady-State Methods, 1990, ch. 6): the parts have no
// memory, so only the lines' order matters to them.
//
// Phasors inside are peak values of e^{+jωt}; a State gives RMS ones, and its
// line 0 is the steady offset, a plain value.
package balance

import (
	"fmt"
	"math"

	"ocarina/acoustic"
	"ocarina/driver/large"
	"ocarina/network"
)

// Cone is a driver whose parameters depend on its state.
type Cone struct {
	Diaphragm *network.Diaphragm
	Coil      *network.Coil
	Large     *large.Driver
}

// Rim is the end of a duct at which fast air loses pressure.
type Rim struct {
	Duct *network.Duct
	End  int // 0: from, 1: to
	Area network.Value
	Edge acoustic.Edge
}

// Source is a voltage in an unknown's equation, V RMS at drive 1.
type Source struct {
	Unknown network.Unknown
	Weight  func(omega float64) complex128
}

// Net is a network with its parts that depend on the state.
type Net struct {
	Plan    *network.Plan
	Values  []float64
	Cones   []Cone
	Rims    []Rim
	Sources []Source
}

// signals is how many spectra the state has: x and i of each cone, u of each
// rim.
func (n *Net) signals() int { return 2*len(n.Cones) + len(n.Rims) }

// Line is one frequency of the spectrum, of the first tone First times and of
// the second Second times. The first line of a problem is the offset, at zero.
type Line struct {
	Frequency     float64 // Hz
	First, Second int
	index         int // in the artificial period
}

// Problem is a network at given tones, ready to be solved at any drive. It
// belongs to one goroutine.
type Problem struct {
	Lines []Line

	net     *Net
	n       int              // signals
	h       [][]complex128   // of each line: n×n, scaled by rows
	alone   []complex128     // scaled signals of the linear network at drive 1, line by line
	scale   []float64        // of each signal
	linear  [][]complex128   // of each line: all unknowns at drive 1, or nil (RMS)
	columns [][][]complex128 // of each line and source: all unknowns per unit
	cones   []rest
	rims    []float64 // ½ρ of each
	moving  moving
}

// rest is a cone's values at rest.
type rest struct {
	stiffness, forceFactor, inductance, resistance float64
	rise                                           float64 // coil's warming, K/W
	perKelvin                                      float64 // ohm/K
}

// Tone prepares one tone [Hz] with its harmonics up to a number.
func (n *Net) Tone(frequency float64, harmonics int) (*Problem, error) {
	lines := []Line{{}}
	for k := 1; k <= harmonics; k++ {
		lines = append(lines, Line{Frequency: float64(k) * frequency, First: k, index: k})
	}
	return n.prepare(lines, []int{1})
}

// Tones prepares two tones [Hz] with all products up to order times either.
func (n *Net) Tones(first, second float64, order int) (*Problem, error) {
	if first == second {
		return nil, fmt.Errorf("found one tone of %.6g Hz twice; wanted two different ones", first)
	}
	lines := []Line{{}}
	var source []int
	for a := -order; a <= order; a++ {
		for b := -order; b <= order; b++ {
			f := float64(a)*first + float64(b)*second
			index := a*(2*order+1) + b
			if f < 0 || f == 0 && index <= 0 || a == 0 && b == 0 {
				continue
			}
			if a == 1 && b == 0 || a == 0 && b == 1 {
				source = append(source, len(lines))
			}
			lines = append(lines, Line{Frequency: f, First: a, Second: b, index: index})
		}
	}
	return n.prepare(lines, source)
}

func (n *Net) prepare(lines []Line, source []int) (*Problem, error) {
	if len(n.Cones) == 0 {
		return nil, fmt.Errorf("found no cone; wanted at least one")
	}
	m := n.signals()
	p := &Problem{Lines: lines, net: n, n: m, h: make([][]complex128, len(lines)), alone: make([]complex128, m*len(lines)),
		scale: make([]float64, m), linear: make([][]complex128, len(lines)), columns: make([][][]complex128, len(lines))}
	for i := range n.Cones {
		c := &n.Cones[i]
		r := rest{stiffness: 1 / n.Values[c.Diaphragm.Compliance], forceFactor: n.Values[c.Coil.ForceFactor], resistance: n.Values[c.Coil.Resistance]}
		if c.Coil.Inductance != network.None {
			r.inductance = n.Values[c.Coil.Inductance]
		}
		p.cones = append(p.cones, r)
	}
	for i := range n.Rims {
		p.rims = append(p.rims, n.Rims[i].Duct.Air.Density/2)
	}
	drive := make([]bool, len(lines))
	for _, l := range source {
		drive[l] = true
	}
	work := n.Plan.Workspace()
	for l := range lines {
		if err := p.line(work, l, drive[l]); err != nil {
			return nil, err
		}
	}
	for _, l := range source {
		for j := range p.scale {
			p.scale[j] = math.Max(p.scale[j], abs(p.alone[l*m+j]))
		}
	}
	for j, s := range p.scale {
		if !(s > 0) || math.IsInf(s, 0) {
			return nil, fmt.Errorf("found nothing that moves %s at %.6g Hz; wanted a drive that reaches it", n.name(j), lines[source[0]].Frequency)
		}
	}
	for l := range lines {
		for i := range m {
			k := complex(1/p.scale[i], 0)
			p.alone[l*m+i] *= k
			for j := range m {
				p.h[l][i*m+j] *= k
			}
		}
	}
	p.moving.prepare(p)
	return p, nil
}

func (n *Net) name(signal int) string {
	if signal < 2*len(n.Cones) {
		c := &n.Cones[signal/2]
		if signal%2 == 0 {
			return n.Plan.Name(c.Diaphragm.Displacement)
		}
		return n.Plan.Name(c.Coil.Current)
	}
	return n.Plan.Name(n.Rims[signal-2*len(n.Cones)].Duct.Flow)
}

// read writes the signals of a solution.
func (n *Net) read(omega float64, x, y []complex128) {
	for c := range n.Cones {
		y[2*c] = x[n.Cones[c].Diaphragm.Displacement]
		y[2*c+1] = x[n.Cones[c].Coil.Current]
	}
	if omega == 0 {
		omega = network.Sluggish
	}
	for r := range n.Rims {
		q := &n.Rims[r]
		y[2*len(n.Cones)+r] = complex(0, omega/n.Values[q.Area]) * x[q.flow()]
	}
}

// flow is the displacement of air at the rim, positive from From to To.
func (r *Rim) flow() network.Unknown {
	if r.End == 0 {
		return r.Duct.Entry
	}
	return r.Duct.Flow
}

// inject adds a unit pressure that the rim holds back against flow from From to
// To, to the sources of the duct's equations.
func (r *Rim) inject(point *network.Point, b []complex128) {
	d := r.Duct
	if r.End == 0 {
		b[d.Flow]--
		return
	}
	// The pressure joins the one the duct sees at its to end.
	entries := make([]complex128, len(d.Pattern()))
	d.Stamp(point, entries, make([]complex128, d.Keep()))
	if d.From == network.Sealed {
		b[d.Flow] -= entries[0]
		return
	}
	b[d.Flow] -= entries[1]
	b[d.Entry] -= entries[4]
}

// line solves the linear network at one line.
func (p *Problem) line(work *network.Workspace, l int, driven bool) error {
	n, m := p.net, p.n
	omega := 2 * math.Pi * p.Lines[l].Frequency
	if err := work.Factor(omega, n.Values); err != nil {
		return err
	}
	size := n.Plan.Unknowns()
	if driven {
		b := make([]complex128, size)
		for _, s := range n.Sources {
			b[s.Unknown] += s.Weight(omega)
		}
		work.Solve(b, b)
		if !network.Finite(b) {
			return fmt.Errorf("the solution at %.6g Hz is not finite: some dimension is out of all proportion", p.Lines[l].Frequency)
		}
		p.linear[l] = b
		y := p.alone[l*m : (l+1)*m]
		n.read(omega, b, y)
		for i := range y {
			y[i] *= math.Sqrt2
		}
	}
	all := make([]complex128, m*size)
	p.h[l] = make([]complex128, m*m)
	y := make([]complex128, m)
	for j := range m {
		b := all[j*size : (j+1)*size]
		switch {
		case j < 2*len(n.Cones) && j%2 == 0:
			b[n.Cones[j/2].Diaphragm.Displacement] = 1
		case j < 2*len(n.Cones):
			b[n.Cones[j/2].Coil.Current] = 1
		default:
			n.Rims[j-2*len(n.Cones)].inject(work.Point(), b)
		}
		work.Solve(b, b)
		if !network.Finite(b) {
			return fmt.Errorf("the solution at %.6g Hz is not finite: some dimension is out of all proportion", p.Lines[l].Frequency)
		}
		p.columns[l] = append(p.columns[l], b)
		n.read(omega, b, y)
		for i := range m {
			p.h[l][i*m+j] = y[i]
		}
	}
	return nil
}

// Heat makes the coil of a cone warm up by rise [K/W] from start [K], at which
// the network's values hold; 0 keeps it as it is.
func (p *Problem) Heat(cone int, rise, start float64) {
	r := &p.cones[cone]
	r.rise = rise
	r.perKelvin = r.resistance * large.CopperPerKelvin / (1 + large.CopperPerKelvin*(start-large.CopperReference))
}

func abs(z complex128) float64 { return math.Hypot(real(z), imag(z)) }
