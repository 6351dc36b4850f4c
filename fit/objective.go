package fit

import (
	"math"
	"math/cmplx"

	"ocarina/formula"
	"ocarina/response"
	"ocarina/sweep"
)

// reading is one point of a sweep as a fit sees it.
type reading struct {
	frequency float64
	size      float64 // ln(|Z|/1 ohm)
	phase     float64 // rad
	weight    float64 // against the others
}

// readings takes the points of a sweep within a band, more than most of them
// averaged into evenly spaced cells.
func readings(s *sweep.Sweep, from, to float64, most int) []reading {
	var list []reading
	for i, f := range s.Frequency {
		if f < from || f > to {
			continue
		}
		r := reading{frequency: f, size: math.Log(s.Magnitude[i]), weight: 1}
		if s.Phase != nil {
			r.phase = s.Phase[i]
		}
		if s.Error != nil && s.Error[i] > 0 {
			r.weight = 1 / s.Error[i]
		}
		list = append(list, r)
	}
	level(list)
	if len(list) <= most {
		return list
	}
	low, high := math.Log(list[0].frequency), math.Log(list[len(list)-1].frequency)
	var cells []reading
	for i := 0; i < len(list); {
		cell := int((math.Log(list[i].frequency) - low) / (high - low) * float64(most))
		var sum reading
		n, w := 0.0, 0.0
		for ; i < len(list); i++ {
			r := list[i]
			if int((math.Log(r.frequency)-low)/(high-low)*float64(most)) != cell && n > 0 {
				break
			}
			v := r.weight * r.weight
			if n > 0 { // phases about the first one's
				r.phase = sum.phase/w + turn(r.phase-sum.phase/w)
			}
			sum.frequency += v * math.Log(r.frequency)
			sum.size += v * r.size
			sum.phase += v * r.phase
			w += v
			n++
		}
		cells = append(cells, reading{math.Exp(sum.frequency / w), sum.size / w, turn(sum.phase / w), math.Sqrt(w)})
	}
	level(cells)
	return cells
}

// level brings the weights to a mean square of one, none so far from the others
// that it decides alone or counts for nothing.
func level(list []reading) {
	mean := func() float64 {
		sum := 0.0
		for _, r := range list {
			sum += r.weight * r.weight
		}
		return math.Sqrt(sum / float64(max(len(list), 1)))
	}
	k := mean()
	for i := range list {
		list[i].weight = math.Min(math.Max(list[i].weight/k, 0.2), 3)
	}
	k = mean()
	for i := range list {
		list[i].weight /= k
	}
}

// turn brings an angle [rad] within ±π.
func turn(a float64) float64 {
	return a - 2*math.Pi*math.Round(a/(2*math.Pi))
}

// objective compares the bench's impedance with readings. Residuals are
// weight·(ln|Z| − ln|Zmeasured|), then, with phase, weight·lean·(phase
// difference in rad).
type objective struct {
	bench      *response.Bench
	parameters []parameter
	readings   []reading
	phase      bool
	lean       float64       // of phase against size, so that both are equally noisy
	silent     []formula.Ref // voltages of the drives that the sweep did not play

	size []float64 // |Z| of the last evaluation, ohm
}

func (o *objective) residuals() int {
	if o.phase {
		return 2 * len(o.readings)
	}
	return len(o.readings)
}

// set puts the parameters at x into the bench.
func (o *objective) set(x []float64) {
	for j := range o.parameters {
		for i := range o.parameters[j].inputs {
			in := &o.parameters[j].inputs[i]
			o.bench.Values[in.ref], _ = in.at(x[j])
		}
	}
	o.bench.Follow()
	for _, r := range o.silent {
		o.bench.Values[r] = 0
	}
}

// evaluate is the problem's function.
func (o *objective) evaluate(x, r, jacobian []float64) error {
	o.set(x)
	n, m := len(o.parameters), len(o.readings)
	if o.size == nil {
		o.size = make([]float64, m)
	}
	for i := range o.readings {
		d := &o.readings[i]
		if err := o.bench.Solve(d.frequency); err != nil {
			return err
		}
		z := o.bench.Impedance(0)
		log := cmplx.Log(z)
		o.size[i] = cmplx.Abs(z)
		r[i] = d.weight * (real(log) - d.size)
		w := d.weight * o.lean
		if o.phase {
			r[m+i] = w * turn(imag(log)-d.phase)
		}
		if jacobian == nil {
			continue
		}
		g := o.bench.ImpedanceGradient(0).Values
		inverse := 1 / z
		for j := range o.parameters {
			var sum complex128
			for k := range o.parameters[j].inputs {
				in := &o.parameters[j].inputs[k]
				_, slope := in.at(x[j])
				sum += g[in.ref] * complex(slope, 0)
			}
			sum *= inverse
			jacobian[i*n+j] = d.weight * real(sum)
			if o.phase {
				jacobian[(m+i)*n+j] = w * imag(sum)
			}
		}
	}
	return nil
}
