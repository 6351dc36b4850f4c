package balance

import "math"

// moving evaluates the parts that depend on the state.
type moving struct {
	p         *Problem
	omega     []float64
	transform transform
	y         []complex128 // true signals
	s         []complex128 // sources
	flux      []complex128
	wave      [3][]float64
	out       [3][]float64
	slopes    [][]float64 // of each cone seven, of each rim one, at each step
	mean      []float64   // of each of them
	still     []bool      // cones whose inductance does not change

	current []complex128 // of each cone, where its ΔR was found
	warm    []warmth
}

// warmth is a coil's added resistance.
type warmth struct {
	added   float64 // ΔR, ohm
	slope   float64 // per mean square current
	squared float64 // mean square current, A²
}

// Slopes of a cone.
const (
	forceX = iota
	forceI
	voltX
	voltV
	fluxX
	fluxI
	perCone
)

func (w *moving) prepare(p *Problem) {
	w.p = p
	for _, l := range p.Lines {
		w.omega = append(w.omega, 2*math.Pi*l.Frequency)
	}
	w.transform.prepare(p.Lines)
	size := p.n * len(p.Lines)
	w.y, w.s = make([]complex128, size), make([]complex128, size)
	w.flux = make([]complex128, len(p.Lines))
	for i := range 3 {
		w.wave[i], w.out[i] = make([]float64, w.transform.steps), make([]float64, w.transform.steps)
	}
	count := perCone*len(p.net.Cones) + len(p.net.Rims)
	w.slopes, w.mean = make([][]float64, count), make([]float64, count)
	for i := range w.slopes {
		w.slopes[i] = make([]float64, w.transform.steps)
	}
	w.warm = make([]warmth, len(p.net.Cones))
	for i := range p.net.Cones {
		c := &p.net.Cones[i]
		w.still = append(w.still, p.cones[i].inductance == 0 || c.Large.Inductance.Constant() && c.Large.OfCurrent == nil)
	}
	w.current = make([]complex128, len(p.net.Cones)*len(p.Lines))
}

// hottest is the largest part of its own effect that a coil's warming is
// followed to before it is continued along its tangent, so that a wild step of
// the solver finds numbers.
const hottest = 0.8

// warming finds ΔR of a cone from its current: with R = R₀ + ρ·Z·R·⟨i²⟩, ρ the
// resistance per kelvin and Z the warming per watt, ΔR = R₀·g/(1 − g),
// g = ρ·Z·⟨i²⟩.
func (w *moving) warming(c int, y []complex128) {
	n := w.p.n
	j := 2*c + 1
	i0 := real(y[j])
	sum := i0 * i0
	for l := 1; l < len(w.p.Lines); l++ {
		z := y[l*n+j]
		sum += (real(z)*real(z) + imag(z)*imag(z)) / 2
	}
	r := &w.p.cones[c]
	k := r.perKelvin * r.rise
	g := k * sum
	h := &w.warm[c]
	h.squared = sum
	if g > hottest {
		q := 1 / (1 - hottest)
		h.added = r.resistance * (hottest*q + q*q*(g-hottest))
		h.slope = r.resistance * q * q * k
		return
	}
	q := 1 / (1 - g)
	h.added, h.slope = r.resistance*g*q, r.resistance*q*q*k
}

// evaluate finds the sources s for scaled signals, and their slopes.
func (w *moving) evaluate(scaled []complex128) {
	p, n, t := w.p, w.p.n, &w.transform
	lines := len(p.Lines)
	for l := range lines {
		for j := range n {
			w.y[l*n+j] = scaled[l*n+j] * complex(p.scale[j], 0)
		}
	}
	for c := range p.net.Cones {
		r, d := &p.cones[c], p.net.Cones[c].Large
		x, v, i := w.wave[0], w.wave[1], w.wave[2]
		t.toSteps(w.y, 2*c, n, w.omega, false, x)
		t.toSteps(w.y, 2*c, n, w.omega, true, v)
		t.toSteps(w.y, 2*c+1, n, w.omega, false, i)
		force, volt, flux := w.out[0], w.out[1], w.out[2]
		k := w.slopes[perCone*c : perCone*(c+1)]
		for q := range x {
			spring, stiff := d.Spring(x[q])
			b, db := d.ForceFactor.At(x[q])
			b = r.forceFactor * (b - 1)
			db *= r.forceFactor
			force[q] = -r.stiffness*(spring-x[q]) + b*i[q]
			volt[q] = -b * v[q]
			k[forceX][q] = -r.stiffness*(stiff-1) + db*i[q]
			k[forceI][q] = b
			k[voltX][q] = -db * v[q]
			k[voltV][q] = -b
		}
		if !w.still[c] {
			for q := range x {
				f, fx, fi := d.Flux(x[q], i[q])
				flux[q] = r.inductance * (f - i[q])
				k[fluxX][q], k[fluxI][q] = r.inductance*fx, r.inductance*(fi-1)
				pull, px, pi := d.Pull(x[q], i[q])
				force[q] += r.inductance * pull
				k[forceX][q] += r.inductance * px
				k[forceI][q] += r.inductance * pi
			}
		}
		w.warming(c, w.y)
		w.collect(c, force, volt, flux, w.s)
		for l := range lines {
			z := w.y[l*n+2*c+1]
			w.current[c*lines+l] = z
			w.s[l*n+2*c+1] -= complex(w.warm[c].added, 0) * z
		}
	}
	for r := range p.net.Rims {
		j := 2*len(p.net.Cones) + r
		u, drop := w.wave[0], w.out[0]
		t.toSteps(w.y, j, n, w.omega, false, u)
		onward, back := p.net.Rims[r].Edge.In, p.net.Rims[r].Edge.Out
		if p.net.Rims[r].End == 1 {
			onward, back = back, onward
		}
		k := w.slopes[perCone*len(p.net.Cones)+r]
		for q, u := range u {
			loss := p.rims[r] * onward * u
			if u < 0 {
				loss = -p.rims[r] * back * u
			}
			drop[q], k[q] = loss*u, 2*loss
		}
		t.toLines(drop, w.s, j, n)
	}
	for i, k := range w.slopes {
		sum := 0.0
		for _, v := range k {
			sum += v
		}
		w.mean[i] = sum / float64(len(k))
	}
}

// collect turns the waveforms of a cone's sources into spectra; flux acts by its
// rate of change.
func (w *moving) collect(c int, force, volt, flux []float64, s []complex128) {
	n, t := w.p.n, &w.transform
	t.toLines(force, s, 2*c, n)
	t.toLines(volt, s, 2*c+1, n)
	if w.still[c] {
		return
	}
	t.toLines(flux, w.flux, 0, 1)
	for l, z := range w.flux {
		s[l*n+2*c+1] -= complex(0, w.omega[l]) * z
	}
}

// differential writes to s how the sources change with a small change of the
// scaled signals, at the last evaluate.
func (w *moving) differential(scaled, s []complex128) {
	p, n, t := w.p, w.p.n, &w.transform
	lines := len(p.Lines)
	for l := range lines {
		for j := range n {
			w.y[l*n+j] = scaled[l*n+j] * complex(p.scale[j], 0)
		}
	}
	for c := range p.net.Cones {
		x, v, i := w.wave[0], w.wave[1], w.wave[2]
		t.toSteps(w.y, 2*c, n, w.omega, false, x)
		t.toSteps(w.y, 2*c, n, w.omega, true, v)
		t.toSteps(w.y, 2*c+1, n, w.omega, false, i)
		force, volt, flux := w.out[0], w.out[1], w.out[2]
		k := w.slopes[perCone*c : perCone*(c+1)]
		fx, fi, vx, vv := k[forceX], k[forceI], k[voltX], k[voltV]
		for q := range x {
			force[q] = fx[q]*x[q] + fi[q]*i[q]
			volt[q] = vx[q]*x[q] + vv[q]*v[q]
		}
		if !w.still[c] {
			for q := range x {
				flux[q] = k[fluxX][q]*x[q] + k[fluxI][q]*i[q]
			}
		}
		w.collect(c, force, volt, flux, s)
		if p.cones[c].rise == 0 {
			continue
		}
		at := w.current[c*lines : (c+1)*lines]
		square := 2 * real(at[0]) * real(w.y[2*c+1])
		for l := 1; l < lines; l++ {
			z := w.y[l*n+2*c+1]
			square += real(at[l])*real(z) + imag(at[l])*imag(z)
		}
		added, turn := complex(w.warm[c].added, 0), complex(w.warm[c].slope*square, 0)
		for l := range lines {
			s[l*n+2*c+1] -= added*w.y[l*n+2*c+1] + turn*at[l]
		}
	}
	for r := range p.net.Rims {
		j := 2*len(p.net.Cones) + r
		t.toSteps(w.y, j, n, w.omega, false, w.wave[0])
		k := w.slopes[perCone*len(p.net.Cones)+r]
		for q, u := range w.wave[0] {
			w.out[0][q] = k[q] * u
		}
		t.toLines(w.out[0], s, j, n)
	}
}

// averaged writes the mean derivative of the sources with respect to the scaled
// signals at a line, n×n.
func (w *moving) averaged(l int, g []complex128) {
	p, n := w.p, w.p.n
	clear(g)
	for c := range p.net.Cones {
		k := w.mean[perCone*c : perCone*(c+1)]
		x, i := complex(p.scale[2*c], 0), complex(p.scale[2*c+1], 0)
		o := w.omega[l]
		g[2*c*n+2*c] = complex(k[forceX], 0) * x
		g[2*c*n+2*c+1] = complex(k[forceI], 0) * i
		g[(2*c+1)*n+2*c] = complex(k[voltX], o*(k[voltV]-k[fluxX])) * x
		g[(2*c+1)*n+2*c+1] = complex(-w.warm[c].added, -o*k[fluxI]) * i
	}
	for r := range p.net.Rims {
		j := 2*len(p.net.Cones) + r
		g[j*n+j] = complex(w.mean[perCone*len(p.net.Cones)+r]*p.scale[j], 0)
	}
}
