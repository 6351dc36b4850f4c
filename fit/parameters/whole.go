package parameters

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"ocarina/air"
	spread "ocarina/fit/noise"
	"ocarina/leastsquares"
	"ocarina/sweep"
)

// outcome is what the full fit found.
type outcome struct {
	set, error Set
	residual   float64
	warnings   []string
}

// curve is one sweep in the fit.
type curve struct {
	frequency, size, phase []float64
	loaded, hasPhase       bool
	noise, turnNoise       float64 // of ln|Z| and of phase
}

// top is how far above the resonance the coil is followed.
const top = 20.0

func take(s *sweep.Sweep, loaded bool, fs float64) curve {
	c := curve{loaded: loaded, hasPhase: s.Phase != nil, noise: 0.01, turnNoise: 0.01}
	for i, f := range s.Frequency {
		if f > math.Max(top*fs, 500) {
			break
		}
		c.frequency = append(c.frequency, f)
		c.size = append(c.size, math.Log(s.Magnitude[i]))
		if c.hasPhase {
			c.phase = append(c.phase, s.Phase[i])
		}
	}
	return c
}

func turn(a float64) float64 { return a - 2*math.Pi*math.Round(a/(2*math.Pi)) }

// fitted fits the model to the sweeps.
func fitted(ctx context.Context, in Input, free, loaded resonance) (*outcome, error) {
	curves := []curve{take(in.Free, false, free.frequency)}
	if in.Loaded != nil {
		curves = append(curves, take(in.Loaded, true, loaded.frequency))
	}
	residuals := 0
	for i := range curves {
		if len(curves[i].frequency) < 6 {
			return nil, fmt.Errorf("%s: %d points below %.0f Hz, wanted 6 at least", in.Free.Name, len(curves[i].frequency), math.Max(top*free.frequency, 500))
		}
		residuals += len(curves[i].frequency)
		if curves[i].hasPhase {
			residuals += len(curves[i].frequency)
		}
	}
	last := curves[0].frequency[len(curves[0].frequency)-1]
	m := &model{reference: 2 * math.Pi * math.Min(last, 1000), mass: in.Mass > 0}
	x := begin(in, free, loaded, last)
	p := leastsquares.Problem{
		Residuals: residuals, Parameters: count, Noise: 1,
		Lower: []float64{0.2 * x[pRe], 0.5 * x[pFs], 0.05, 0.02, 0, 0.2, 0, 1e-4, 0, 0.8},
		Upper: []float64{5 * x[pRe], 2 * x[pFs], 200, 100, 1e4, 1, 0.4, 1e3, 1, 1.3},
		Prior: make([]leastsquares.Prior, count),
		Names: []string{"re", "fs", "qms", "qes", "the coil's reactance", "the coil's exponent", "creep", "the load", "the box's loss", "the warming"},
		Loss:  leastsquares.Loss{Kind: leastsquares.Huber, Scale: 1.345},
	}
	if in.Re > 0 {
		p.Prior[pRe] = leastsquares.Prior{Mean: in.Re, Sigma: 0.02 * in.Re}
	}
	p.Prior[pN] = leastsquares.Prior{Mean: 0.75, Sigma: 0.25}
	p.Prior[pCreep] = leastsquares.Prior{Mean: 0, Sigma: 0.1}
	p.Prior[pWarm] = leastsquares.Prior{Mean: 1, Sigma: 0.02}
	p.Prior[pLoss] = leastsquares.Prior{Mean: 0, Sigma: 0.05}
	hold := func(j int, v float64) { x[j], p.Lower[j], p.Upper[j] = v, v, v }
	if in.Loaded == nil {
		hold(pLoad, x[pLoad])
		hold(pLoss, 0)
		hold(pWarm, 1)
	}
	if m.mass {
		hold(pLoss, 0)
	}
	slopes := make([]complex128, count)
	p.Evaluate = func(x, r, jacobian []float64) error {
		row := 0
		for i := range curves {
			c := &curves[i]
			n := len(c.frequency)
			for k, f := range c.frequency {
				s := slopes
				if jacobian == nil {
					s = nil
				}
				z := m.at(x, f, c.loaded, s)
				log := cmplx.Log(z)
				r[row+k] = (real(log) - c.size[k]) / c.noise
				if c.hasPhase {
					r[row+n+k] = turn(imag(log)-c.phase[k]) / c.turnNoise
				}
				for j := range s {
					d := s[j] / z
					jacobian[(row+k)*count+j] = real(d) / c.noise
					if c.hasPhase {
						jacobian[(row+n+k)*count+j] = imag(d) / c.turnNoise
					}
				}
			}
			row += n
			if c.hasPhase {
				row += n
			}
		}
		return nil
	}
	var res *leastsquares.Result
	for range 6 { // noise from residuals, residuals from the fit
		var err error
		if res, err = leastsquares.Solve(ctx, p, x, leastsquares.Options{MaxIterations: 100, CostTolerance: 1e-9, StepTolerance: 1e-9}); err != nil {
			return nil, fmt.Errorf("the fit of %s: %w", in.Free.Name, err)
		}
		if res.Stopped == leastsquares.Cancelled {
			return nil, context.Cause(ctx)
		}
		x = res.X
		if settled(curves, res.Residuals) {
			break
		}
	}
	o := &outcome{}
	o.derive(in, m, x, res.Covariance)
	sum, n := 0.0, 0.0
	for i := range curves {
		c := &curves[i]
		for k, f := range c.frequency {
			d := math.Log(cmplx.Abs(m.at(x, f, c.loaded, nil))) - c.size[k]
			sum += d * d
			n++
		}
	}
	o.residual = 20 / math.Ln10 * math.Sqrt(sum/n)
	if o.residual > 0.3 {
		o.warnings = append(o.warnings, fmt.Sprintf("the fit misses the sweep by %.2g dB: something in it is not a driver alone", o.residual))
	}
	if res.Stopped != leastsquares.Converged {
		o.warnings = append(o.warnings, fmt.Sprintf("the fit did not settle: %v", res.Stopped))
	}
	return o, nil
}

// settled takes new noises from the residuals and reports whether they are the
// old ones.
func settled(curves []curve, r []float64) bool {
	row, same := 0, true
	for i := range curves {
		c := &curves[i]
		n := len(c.frequency)
		list := []*float64{&c.noise}
		if c.hasPhase {
			list = append(list, &c.turnNoise)
		}
		for _, noise := range list {
			k := spread.Deviation(r[row:row+n]) * math.Sqrt(float64(n)/math.Max(1, float64(n)-float64(count)/2))
			k *= spread.Together(r[row:row+n], k)
			next := math.Max(*noise*k, 1e-5)
			same = same && math.Abs(next / *noise - 1) < 0.03
			*noise = next
			row += n
		}
	}
	return same
}

// begin is where the fit begins: at the graphical values, or what stands in for
// them.
func begin(in Input, free, loaded resonance, last float64) []float64 {
	re := in.Re
	if re == 0 {
		re = slices.Min(in.Free.Magnitude)
	}
	x := make([]float64, count)
	x[pRe], x[pFs] = re, free.frequency
	ratio := math.Max(free.height/re, 1.05)
	x[pQms] = 3
	if f1, f2, ok := free.flanks(in.Free, re); ok {
		x[pQms] = Graphical(re, free.frequency, free.height, f1, f2).Qms
	}
	x[pQms] = math.Min(math.Max(x[pQms], 0.2), 100)
	x[pQes] = x[pQms] / (ratio - 1)
	x[pN], x[pCreep], x[pWarm] = 0.75, 0.02, 1
	at := 0
	for at < in.Free.Len()-1 && in.Free.Frequency[at] < math.Min(last, 1000) {
		at++
	}
	z := in.Free.Magnitude[at]
	x[pCoil] = math.Max(math.Sqrt(math.Max(z*z-re*re, 0)), 0.05*re)
	x[pLoad] = 1
	if loaded.frequency > 0 {
		ratio := loaded.frequency / free.frequency
		if in.Mass > 0 {
			ratio = 1 / ratio
		}
		x[pLoad] = math.Max(ratio*ratio-1, 0.02)
	}
	x[pLoss] = 0.001
	return x
}

// values turns fit parameters into a driver's.
func values(in Input, m *model, x []float64) Set {
	s := Set{Re: x[pRe], Fs: x[pFs], Qms: x[pQms], Qes: x[pQes], N: x[pN], Creep: x[pCreep]}
	s.Qts = s.Qms * s.Qes / (s.Qms + s.Qes)
	s.K = x[pCoil] * math.Pow(m.reference, -x[pN])
	const kilo = 2 * math.Pi * 1000
	s.Le = s.K * math.Pow(kilo, x[pN]) * math.Sin(x[pN]*math.Pi/2) / kilo
	switch {
	case in.Loaded == nil:
		return s
	case in.Mass > 0:
		omega := 2 * math.Pi * s.Fs
		mms := in.Mass / x[pLoad]
		s.Vas = air.Reference().Stiffness() * in.Sd * in.Sd / (omega * omega * mms)
	default:
		s.Vas = x[pLoad] * in.Volume
	}
	s.complete(in.Sd)
	return s
}

func (s *Set) list() []*float64 {
	return []*float64{&s.Re, &s.Fs, &s.Qms, &s.Qes, &s.Qts, &s.Vas, &s.Mms, &s.Cms, &s.Rms, &s.Bl, &s.Le, &s.K, &s.N, &s.Creep}
}

// derive works out the values and carries the covariance over to them.
func (o *outcome) derive(in Input, m *model, x, covariance []float64) {
	o.set = values(in, m, x)
	into := o.error.list()
	slopes := make([][]float64, count)
	for j := range count {
		step := 1e-5 * math.Max(math.Abs(x[j]), 1e-3)
		y := slices.Clone(x)
		y[j] = x[j] + step
		up := values(in, m, y)
		y[j] = x[j] - step
		down := values(in, m, y)
		a, b := up.list(), down.list()
		slopes[j] = make([]float64, len(a))
		for k := range a {
			slopes[j][k] = (*a[k] - *b[k]) / (2 * step)
		}
	}
	for k := range into {
		sum := 0.0
		for i := range count {
			for j := range count {
				sum += slopes[i][k] * covariance[i*count+j] * slopes[j][k]
			}
		}
		*into[k] = math.Sqrt(math.Max(sum, 0))
	}
}
