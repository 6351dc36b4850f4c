package balance

import "math"

// read returns a signal's line: RMS, or the plain value of the offset.
func (s *State) read(l, j int) complex128 {
	z := s.scaled[l*s.p.n+j] * complex(s.p.scale[j], 0)
	if l > 0 {
		z *= math.Sqrt2 / 2
	}
	return z
}

// Displacement returns a cone's displacement at a line, m.
func (s *State) Displacement(cone, line int) complex128 { return s.read(line, 2*cone) }

// Current returns the current of each of a cone's coils at a line, A.
func (s *State) Current(cone, line int) complex128 { return s.read(line, 2*cone+1) }

// Speed returns the speed of the air at a rim at a line, m/s, positive from From
// to To.
func (s *State) Speed(rim, line int) complex128 { return s.read(line, 2*len(s.p.net.Cones)+rim) }

// source returns what acts at a signal's place.
func (s *State) source(l, j int) complex128 {
	z := s.sources[l*s.p.n+j]
	if l > 0 {
		z *= math.Sqrt2 / 2
	}
	return z
}

// Loss returns the pressure a rim holds back at a line, Pa.
func (s *State) Loss(rim, line int) complex128 { return s.source(line, 2*len(s.p.net.Cones)+rim) }

// Force returns the force on a cone beside the linear ones, N.
func (s *State) Force(cone, line int) complex128 { return s.source(line, 2*cone) }

// Voltage returns the voltage in a cone's coil beside the linear ones, V.
func (s *State) Voltage(cone, line int) complex128 { return s.source(line, 2*cone+1) }

// Solution writes all unknowns of the network at a line to x.
func (s *State) Solution(line int, x []complex128) {
	clear(x)
	if first := s.p.linear[line]; first != nil {
		k := complex(s.Drive, 0)
		for i, v := range first {
			x[i] = k * v
		}
	}
	for j, column := range s.p.columns[line] {
		k := s.source(line, j)
		for i, v := range column {
			x[i] += k * v
		}
	}
	if line == 0 {
		for i, v := range x {
			x[i] = complex(real(v), 0)
		}
	}
}

// Tail says how far the spectrum has come down at its upper end: the largest
// part of any signal's strongest line that its last two lines hold.
func (s *State) Tail() float64 {
	n, lines := s.p.n, len(s.p.Lines)
	worst := 0.0
	for j := range n {
		most, last := 0.0, 0.0
		for l := 1; l < lines; l++ {
			a := abs(s.scaled[l*n+j])
			most = math.Max(most, a)
			if s.p.Lines[l].First > s.p.Lines[lines-1].First-2 {
				last = math.Max(last, a)
			}
		}
		if most > 0 {
			worst = math.Max(worst, last/most)
		}
	}
	return worst
}

// Heating returns the mean of the square of the current in each of a cone's
// coils, A².
func (s *State) Heating(cone int) float64 {
	z := real(s.Current(cone, 0))
	sum := z * z
	for l := 1; l < len(s.p.Lines); l++ {
		i := s.Current(cone, l)
		sum += real(i)*real(i) + imag(i)*imag(i)
	}
	return sum
}

// Peaks returns the highest and the lowest value of a waveform of RMS phasors,
// one for each line; both from its mean: line 0 is left out. Between steps the
// waveform is taken as a parabola.
func (p *Problem) Peaks(lines []complex128) (top, bottom float64) {
	m := &p.moving
	first := lines[0]
	lines[0] = 0
	w := m.wave[0]
	m.transform.toSteps(lines, 0, 1, m.omega, false, w)
	lines[0] = first
	n := len(w)
	before := w[n-1]
	for i, v := range w {
		after := w[0]
		if i+1 < n {
			after = w[i+1]
		}
		if v >= before && v >= after {
			top = math.Max(top, vertex(before, v, after))
		}
		if v <= before && v <= after {
			bottom = math.Min(bottom, vertex(before, v, after))
		}
		before = v
	}
	return math.Sqrt2 * top, math.Sqrt2 * bottom
}

// vertex is the extreme of the parabola through three even samples.
func vertex(a, b, c float64) float64 {
	bend := a - 2*b + c
	if bend == 0 {
		return b
	}
	return b - (a-c)*(a-c)/(8*bend)
}
