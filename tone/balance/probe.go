package balance

import (
	"math"

	"ocarina/network"
)

// Probe reads a sum of unknowns off a state: what that sum is in the linear
// network at drive 1 and per unit of each source.
type Probe struct {
	alone []complex128
	per   []complex128 // line by line
}

// Term is one part of such a sum.
type Term struct {
	Unknown network.Unknown
	Weight  complex128
}

// Probe prepares a reading; terms gives its parts at a frequency [Hz].
func (p *Problem) Probe(terms func(frequency float64) []Term) *Probe {
	r := &Probe{alone: make([]complex128, len(p.Lines)), per: make([]complex128, len(p.Lines)*p.n)}
	for l := range p.Lines {
		for _, t := range terms(p.Lines[l].Frequency) {
			if p.linear[l] != nil {
				r.alone[l] += t.Weight * p.linear[l][t.Unknown]
			}
			for j, column := range p.columns[l] {
				r.per[l*p.n+j] += t.Weight * column[t.Unknown]
			}
		}
	}
	return r
}

// Alone returns what a probe of the linear network reads at drive 1 at a line.
func (r *Probe) Alone(line int) complex128 { return r.alone[line] }

// At returns what a probe reads at a line: RMS, or the plain value of the
// offset.
func (s *State) At(r *Probe, line int) complex128 {
	n := s.p.n
	k := math.Sqrt2 / 2
	if line == 0 {
		k = 1
	}
	var sum complex128
	for j, per := range r.per[line*n : (line+1)*n] {
		sum += per * s.sources[line*n+j]
	}
	return complex(s.Drive, 0)*r.alone[line] + complex(k, 0)*sum
}

// Drift is what moves a cone's middle away from rest, m, by its cause.
type Drift struct {
	Motor      float64 // a force factor that is not the same on both sides
	Suspension float64 // a stiffness that is not
	Field      float64 // the coil's pull to where its inductance is greater
	Air        float64 // steady pressure from rims that lose more one way
}

// Drift splits a cone's offset by cause. A motor elsewhere that pushes through
// the air counts as Motor.
func (s *State) Drift(cone int) (d Drift) {
	p := s.p
	n, m := p.n, &p.moving
	m.evaluate(s.scaled)
	x, i := make([]float64, m.transform.steps), make([]float64, m.transform.steps)
	row := p.h[0][2*cone*n : (2*cone+1)*n]
	back := p.scale[2*cone]
	for c := range p.net.Cones {
		m.transform.toSteps(m.y, 2*c, n, m.omega, false, x)
		m.transform.toSteps(m.y, 2*c+1, n, m.omega, false, i)
		r, l := &p.cones[c], p.net.Cones[c].Large
		var suspension, field float64
		for q := range x {
			spring, _ := l.Spring(x[q])
			suspension -= r.stiffness * (spring - x[q])
			pull, _, _ := l.Pull(x[q], i[q])
			field += r.inductance * pull
		}
		steps := float64(len(x))
		suspension, field = suspension/steps, field/steps
		per := real(row[2*c]) * back
		d.Suspension += per * suspension
		d.Field += per * field
		d.Motor += per*(real(m.s[2*c])-suspension-field) + real(row[2*c+1])*back*real(m.s[2*c+1])
	}
	for r := range p.net.Rims {
		j := 2*len(p.net.Cones) + r
		d.Air += real(row[j]) * back * real(m.s[j])
	}
	return d
}
