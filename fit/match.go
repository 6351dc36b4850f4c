// Package fit brings a model and a measured sweep together: it says which part
// of a box owns each measured peak and dip, corrects the drawing until model and
// box agree, and tells in words where the box differs.
//
// Features are paired by continuity. Two resonances may lie closer together
// than the drawing's error, so the nearest in frequency is often the wrong one;
// instead the model is fitted to the whole curve first, and each feature is then
// followed from the drawn dimensions to the fitted ones in small steps.
package fit

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"github.com/hashicorp/hcl/v2"

	"ocarina/design"
	"ocarina/fit/noise"
	"ocarina/leastsquares"
	"ocarina/response"
	"ocarina/sweep"
)

// Options choose what a match turns and where it looks. The zero value serves.
type Options struct {
	Free []string // only these: a part, a key or PART.KEY; empty: everything usual
	Hold []string // none of these

	// Tolerances are standard deviations of the caller's, ahead of the design's
	// own and of the usual ones.
	Tolerances []design.Tolerance

	From, To float64 // band fitted, Hz; 0: where the box speaks

	// Progress, if not nil, is called after each step of the fit, from the
	// goroutine that called Match.
	Progress func(Progress)
}

// Progress tells how far a match has come.
type Progress struct {
	Stage      string    `json:"stage"` // in words: "rough", "fine"
	Iteration  int       `json:"iteration"`
	Residual   float64   `json:"residual_db"`   // RMS of the magnitude
	Frequency  []float64 `json:"frequency_hz"`  // where the model was solved
	Impedance  []float64 `json:"impedance_ohm"` // |Z| there by the last trial
	Parameters []Value   `json:"parameters"`
}

// Value is a parameter on the way, in its unit.
type Value struct {
	Part  string  `json:"part"`
	Key   string  `json:"key"`
	Unit  string  `json:"unit"`
	Value float64 `json:"value"`
}

// BuildError says that the design does not make a network.
type BuildError struct{ Diagnostics hcl.Diagnostics }

func (e *BuildError) Error() string { return e.Diagnostics.Error() }

// ErrFewPoints says that a sweep has too few points in the band to fit.
var ErrFewPoints = errors.New("too few points: at least 8 are wanted in the band fitted")

const (
	fewest      = 8
	mostPoints  = 4000 // fitted: more are averaged
	roughPoints = 220  // of the first, rough fit
	roughNoise  = 0.03 // what the rough fit takes for noise: a quarter of a decibel
	leastNoise  = 1e-5 // below which no sweep is believed
)

// Match fits the design to the sweep. Errors are a *BuildError, a *ChoiceError,
// ErrFewPoints, the context's, or one of the solver. The design is not changed.
func Match(ctx context.Context, d *design.Design, s *sweep.Sweep, opt Options) (*Result, error) {
	f, err := start(d, s, opt)
	if err != nil {
		return nil, err
	}
	if err := f.fit(ctx); err != nil {
		return nil, err
	}
	if f, err = f.suspect(ctx); err != nil {
		return nil, err
	}
	return f.result()
}

// fitting is a match under way.
type fitting struct {
	design *design.Design
	sweep  *sweep.Sweep
	opt    Options

	model    *design.Model
	bench    *response.Bench
	all      []parameter // every one known
	free     []parameter
	measured []sweep.Feature

	drawnValues []float64          // the bench's before anything was turned
	drawn       []response.Feature // within the band of the sweep
	from, to    float64            // band fitted

	fine   *objective // all readings
	coarse *objective // some of them
	x      []float64
	solved *leastsquares.Result
	lean   float64   // with which it was solved
	noise  float64   // of ln|Z|, one reading
	widen  float64   // by how much neighbouring residuals go together
	ease   []float64 // by how much each prior is widened, see relax

	drawnResidual, fittedResidual float64 // dB
	warnings                      []string

	single bool // no other starts are tried

	told  []Finding // what was wrong with the sweep or the wiring
	texts []edit    // what to write for it
}

func (f *fitting) warn(format string, args ...any) {
	f.warnings = append(f.warnings, fmt.Sprintf(format, args...))
}

func start(d *design.Design, s *sweep.Sweep, opt Options) (*fitting, error) {
	m, diags := design.BuildWith(d, design.Handles{Leaks: true, Resistances: true})
	if diags.HasErrors() {
		return nil, &BuildError{diags}
	}
	f := &fitting{design: d, sweep: s, opt: opt, model: m, bench: response.NewBench(m), widen: 1}
	c := &collector{m: m, values: f.bench.Values}
	f.all = candidates(f.bench)
	c.list = f.all
	for _, t := range opt.Tolerances {
		c.tolerance(t)
	}
	var err error
	if f.free, err = choose(f.all, opt.Free, opt.Hold); err != nil {
		return nil, err
	}
	f.drawnValues = slices.Clone(f.bench.Values)
	f.measured = s.Features()
	low, high := s.Frequency[0], s.Frequency[s.Len()-1]
	if f.drawn, err = f.bench.Features(low/margin, high*margin); err != nil {
		return nil, err
	}
	f.band(low, high)
	f.orient()
	if err := f.effective(); err != nil {
		return nil, err
	}
	if len(f.model.Drives) > 1 {
		f.warn("the design has several drives: the sweep is taken to be that of the first, with the others silent")
	}
	return f, nil
}

// margin is how far beyond the sweep features are followed, as a factor.
const margin = 1.35

// band settles which part of the sweep is fitted: up to four times the last
// feature that the box has, and to twice the tones. Above that only the coil
// speaks, and coils are seldom as simple as their sheet.
func (f *fitting) band(low, high float64) {
	f.from, f.to = low, high
	top := 0.0
	for _, v := range f.drawn {
		if !v.Coil {
			top = math.Max(top, 4*v.Frequency)
		}
	}
	for _, q := range f.design.Tones {
		top = math.Max(top, 2*q.SI)
	}
	if top > low {
		f.to = math.Min(high, top)
	}
	if f.opt.From > 0 {
		f.from = math.Max(low, f.opt.From)
	}
	if f.opt.To > 0 {
		f.to = math.Min(high, f.opt.To)
	}
}

// effective drops parameters that nothing in the band depends on: over-determined
// data of a driver, say.
func (f *fitting) effective() error {
	o := f.objective(roughReadings(readings(f.sweep, f.from, f.to, mostPoints), f.measured))
	if len(o.readings) < fewest {
		return ErrFewPoints
	}
	n := len(f.free)
	if n == 0 {
		return nil
	}
	r, jacobian := make([]float64, o.residuals()), make([]float64, o.residuals()*n)
	if err := o.evaluate(make([]float64, n), r, jacobian); err != nil {
		return err
	}
	var kept []parameter
	for j := range f.free {
		most := 0.0
		for i := range r {
			most = math.Max(most, math.Abs(jacobian[i*n+j]))
		}
		if most*f.free[j].sigma > 1e-9 {
			kept = append(kept, f.free[j])
			continue
		}
		if len(f.opt.Free) > 0 {
			f.warn("%s does not act on the impedance and is held", f.free[j].name())
		}
	}
	f.free = kept
	return nil
}

func (f *fitting) objective(list []reading) *objective {
	o := &objective{bench: f.bench, parameters: f.free, readings: list, phase: f.sweep.Phase != nil, lean: 1}
	for i, d := range f.model.Drives {
		if i > 0 {
			o.silent = append(o.silent, d.Voltage)
		}
	}
	return o
}

// roughReadings thins readings to some evenly spaced ones and some about each
// measured feature.
func roughReadings(all []reading, features []sweep.Feature) []reading {
	if len(all) <= roughPoints {
		return all
	}
	keep := make([]bool, len(all))
	nearest := func(f float64) {
		i, _ := slices.BinarySearchFunc(all, f, func(r reading, f float64) int {
			if r.frequency < f {
				return -1
			}
			return 1
		})
		keep[min(i, len(all)-1)] = true
	}
	low, high := math.Log(all[0].frequency), math.Log(all[len(all)-1].frequency)
	const even = roughPoints / 2
	for i := range even {
		nearest(math.Exp(low + (high-low)*float64(i)/(even-1)))
	}
	for _, v := range features {
		width := 1 / math.Max(v.Q, 1)
		for _, k := range [...]float64{-2, -1, -0.5, -0.25, 0, 0.25, 0.5, 1, 2} {
			if f := v.Frequency * math.Exp(k*width); f > all[0].frequency && f < all[len(all)-1].frequency {
				nearest(f)
			}
		}
	}
	var list []reading
	for i, k := range keep {
		if k {
			list = append(list, all[i])
		}
	}
	return list
}

// solve brings an objective down from x.
func (f *fitting) solve(ctx context.Context, o *objective, x []float64, noise, scale float64, stage string, quick bool) (*leastsquares.Result, error) {
	n := len(o.parameters)
	p := leastsquares.Problem{
		Residuals: o.residuals(), Parameters: n, Evaluate: o.evaluate,
		Lower: make([]float64, n), Upper: make([]float64, n), Prior: make([]leastsquares.Prior, n), Names: make([]string, n),
		Noise: noise, Loss: leastsquares.Loss{Kind: leastsquares.Huber, Scale: scale},
	}
	for j := range o.parameters {
		q := &o.parameters[j]
		p.Lower[j], p.Upper[j], p.Names[j] = q.lower, q.upper, q.name()
		p.Prior[j] = leastsquares.Prior{Sigma: q.sigma}
		if f.ease != nil {
			p.Prior[j].Sigma *= f.ease[j]
		}
	}
	opt := leastsquares.Options{MaxIterations: 60, CostTolerance: 1e-6, StepTolerance: 1e-8}
	if quick {
		opt.CostTolerance = 1e-4
	}
	if f.opt.Progress != nil {
		opt.Progress = func(v leastsquares.Progress) {
			if v.Accepted {
				f.opt.Progress(f.progress(o, v, stage))
			}
		}
	}
	res, err := leastsquares.Solve(ctx, p, x, opt)
	if err != nil {
		return nil, fmt.Errorf("the fit of %s: %w", f.sweep.Name, err)
	}
	if res.Stopped == leastsquares.Cancelled {
		return nil, context.Cause(ctx)
	}
	f.lean = o.lean
	return res, nil
}

func (f *fitting) progress(o *objective, v leastsquares.Progress, stage string) Progress {
	p := Progress{Stage: stage, Iteration: v.Iteration, Impedance: slices.Clone(o.size)}
	sum := 0.0
	for i, r := range o.readings {
		p.Frequency = append(p.Frequency, r.frequency)
		d := math.Log(o.size[i]) - r.size
		sum += d * d
	}
	p.Residual = decibels * math.Sqrt(sum/float64(len(o.readings)))
	for j := range o.parameters {
		q := &o.parameters[j]
		p.Parameters = append(p.Parameters, Value{q.part, q.key, q.unit, q.at(v.X[j]) / q.unitSI})
	}
	return p
}

// decibels is what a neper is in dB.
const decibels = 20 / math.Ln10

// fit finds the parameters: roughly on few points, then on all.
func (f *fitting) fit(ctx context.Context) error {
	all := readings(f.sweep, f.from, f.to, mostPoints)
	f.fine = f.objective(all)
	f.x = make([]float64, len(f.free))
	f.drawnResidual = f.misfit(f.x)
	f.fittedResidual = f.drawnResidual
	if len(f.free) == 0 {
		f.spread()
		return nil
	}
	rough := f.objective(roughReadings(all, f.measured))
	f.coarse = f.objective(rough.readings)
	res, err := f.solve(ctx, rough, f.x, roughNoise, 1.345*roughNoise, "rough", true)
	if err != nil {
		return err
	}
	if err := f.refine(ctx, res.X); err != nil {
		return err
	}
	f.fittedResidual = f.misfit(f.x)
	if !f.single && f.sideValley() {
		if err := f.restart(ctx, rough, res); err != nil {
			return err
		}
	}
	if f.solved.Stopped != leastsquares.Converged {
		f.warn("the fit did not settle: %v", f.solved.Stopped)
	}
	f.fittedResidual = f.misfit(f.x)
	return nil
}

// refine fits all readings from x on. The noise follows from the residuals and the
// residuals from the fit; so do the priors.
func (f *fitting) refine(ctx context.Context, x []float64) (err error) {
	f.x, f.noise, f.ease = x, 0, nil
	full := f.fine
	full.lean = 1
	defer func() { f.fine = full }()
	stages := []*objective{full}
	if f.coarse != nil && 2*len(f.coarse.readings) < len(full.readings) {
		stages = []*objective{f.coarse, full} // most of the way on few readings
	}
	for _, o := range stages {
		o.lean, f.fine, f.solved = f.fine.lean, o, nil
		for range 12 {
			before := f.noise
			f.spread()
			same := before > 0 && math.Abs(f.noise/before-1) < 0.03
			if before > 0 && f.relax() {
				same = false
			}
			if same && f.solved != nil {
				break
			}
			if f.solved, err = f.solve(ctx, o, f.x, f.noise*f.widen, 1.345*f.noise, "fine", false); err != nil {
				return err
			}
			f.x = f.solved.X
		}
	}
	return nil
}

// surprise is how many standard deviations a dimension may be off before its prior
// loosens its hold. One large mistake is likelier than a little one everywhere: a
// Gaussian prior would share it out among all that can make up for it.
const surprise = 2.0

// relax widens the priors of what is off by more than surprise and reports whether
// that changed anything much.
func (f *fitting) relax() (changed bool) {
	if f.ease == nil {
		f.ease = make([]float64, len(f.x))
		for j := range f.ease {
			f.ease[j] = 1
		}
	}
	for j := range f.x {
		ease := math.Max(1, math.Abs(f.x[j])/f.free[j].sigma/surprise)
		changed = changed || math.Abs(math.Log(ease/f.ease[j])) > 0.05
		f.ease[j] = ease
	}
	return changed
}

// unlikely is minus the logarithm of the prior's density: a parabola that goes over
// into a logarithm where relax lets go.
func (f *fitting) unlikely() (sum float64) {
	for j := range f.x {
		z := math.Abs(f.x[j]) / f.free[j].sigma
		if z <= surprise {
			sum += z * z / 2
		} else {
			sum += surprise * surprise * (0.5 + math.Log(z/surprise))
		}
	}
	return sum
}

// starts is how many boxes drawn at random are tried where the fit ended in a side
// valley, and finalists how many of all that were tried are refined.
const (
	starts    = 12
	finalists = 3
)

// sideValley tells whether the fit is good but for a few places, as where two
// resonances lie close and one has taken the other's place; or good nowhere; or
// good for an absurd box.
func (f *fitting) sideValley() bool {
	return f.poor() || f.strange() >= absurd || f.heavy() > 1.15 || f.widen > 3
}

// heavy is the root mean square of the residuals, wild ones clipped, next to what
// their median makes of it: 1 for Gaussian noise.
func (f *fitting) heavy() float64 {
	size, phase := f.residuals(f.x)
	sum, n := 0.0, 0.0
	for k, list := range [2][]float64{size, phase} {
		noise := f.noise
		if k == 1 {
			noise /= f.fine.lean
		}
		for _, r := range list {
			r = math.Min(math.Abs(r)/noise, 10)
			sum += r * r
			n++
		}
	}
	return math.Sqrt(sum / n)
}

// restart fits roughly from other boxes: those with one large leak, and some drawn
// at random from the build tolerance. It keeps the best.
func (f *fitting) restart(ctx context.Context, o *objective, first *leastsquares.Result) error {
	n := len(f.free)
	var from [][]float64
	for j := range f.free {
		if f.free[j].key == "leak" {
			for _, much := range [2]float64{3, 15} {
				x := make([]float64, n)
				x[j] = much
				from = append(from, x)
			}
		}
	}
	rng := rand.New(rand.NewPCG(1, 1)) // the same each time
	for range starts {
		x := make([]float64, n)
		for j := range x {
			p := &f.free[j]
			x[j] = math.Min(math.Max(p.sigma*rng.NormFloat64(), p.lower*0.9), p.upper)
			if p.lower >= 0 {
				x[j] = math.Abs(x[j])
			}
		}
		from = append(from, x)
	}
	tried := []*leastsquares.Result{first}
	ease := f.ease
	f.ease = nil
	for _, x := range from {
		res, err := f.solve(ctx, o, x, roughNoise, 1.345*roughNoise, "rough", true)
		if err != nil {
			if ctx.Err() != nil {
				return err
			}
			continue // an impossible box
		}
		same := func(other *leastsquares.Result) bool { return math.Abs(res.Cost-other.Cost) < 1e-3*other.Cost }
		if !slices.ContainsFunc(tried, same) {
			tried = append(tried, res)
		}
	}
	data := func(r *leastsquares.Result) float64 { return r.Cost - r.PriorCost }
	tried = tried[1:]
	slices.SortFunc(tried, func(a, b *leastsquares.Result) int { return cmp.Compare(data(a), data(b)) })
	best, solved, noise, widen, lean := f.score(), f.solved, f.noise, f.widen, f.fine.lean
	for _, res := range tried[:min(len(tried), finalists)] {
		if err := f.refine(ctx, res.X); err != nil {
			return err
		}
		if s := f.score(); s < best-2 {
			best, solved, noise, widen, lean, ease = s, f.solved, f.noise, f.widen, f.fine.lean, f.ease
		}
	}
	f.solved, f.noise, f.widen, f.fine.lean, f.ease = solved, noise, widen, lean, ease
	f.x = solved.X
	return nil
}

// score ranks fits, the less the better: minus the logarithm of how probable the
// sweep and the box are together, for noise as large as the residuals.
func (f *fitting) score() float64 {
	size, phase := f.residuals(f.x)
	sum, n := 0.0, 0.0
	for _, list := range [2][]float64{size, phase} {
		for _, r := range list {
			r = math.Min(math.Abs(r), 20*f.noise) // one wild point does not decide
			sum += r * r
			n++
		}
	}
	s := n * math.Log(math.Max(math.Sqrt(sum/n), leastNoise)) / (f.widen * f.widen)
	return s + f.unlikely()
}

// residuals returns those of the magnitude [Np] and phase [rad] at x, weighted.
func (f *fitting) residuals(x []float64) (size, phase []float64) {
	o := f.fine
	var r []float64
	if f.solved != nil && len(x) > 0 && &x[0] == &f.solved.X[0] && len(f.solved.Residuals) == o.residuals() && f.lean == o.lean {
		r = slices.Clone(f.solved.Residuals)
	} else if r = make([]float64, o.residuals()); o.evaluate(x, r, nil) != nil {
		return make([]float64, len(o.readings)), nil
	}
	n := len(o.readings)
	size = r[:n]
	if o.phase {
		phase = r[n:]
		for i := range phase {
			phase[i] /= o.lean
		}
	}
	return size, phase
}

// misfit is the root of the mean square of the magnitude's residual, dB.
func (f *fitting) misfit(x []float64) float64 {
	size, _ := f.residuals(x)
	sum := 0.0
	for i, r := range size {
		r /= f.fine.readings[i].weight
		sum += r * r
	}
	return decibels * math.Sqrt(sum/float64(len(size)))
}

// spread estimates the noise from the residuals: that of magnitude and phase each
// by its median, and by how much neighbours go together, as they do where the
// model itself is a little wrong.
func (f *fitting) spread() {
	size, phase := f.residuals(f.x)
	n := float64(len(size))
	less := math.Sqrt(n / math.Max(1, n-float64(len(f.free))/2))
	f.noise = math.Max(noise.Deviation(size)*less, leastNoise)
	if phase != nil {
		p := math.Max(noise.Deviation(phase)*less, leastNoise)
		f.fine.lean = math.Min(math.Max(f.noise/p, 0.1), 10)
	}
	f.widen = noise.Together(size, f.noise)
	if phase != nil {
		f.widen = math.Sqrt((f.widen*f.widen + math.Pow(noise.Together(phase, f.noise/f.fine.lean), 2)) / 2)
	}
}
