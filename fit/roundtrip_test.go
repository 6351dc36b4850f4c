package fit

import (
	"context"
	"math"
	"math/rand/v2"
	"sort"
	"testing"
)

// Boxes built as loosely as the build tolerance says, swept with noise and fitted
// back: errors must be as large as the standard errors say.
func TestStandardErrorsAreHonest(t *testing.T) {
	t.Parallel()
	const trials = 400
	type tally struct {
		sum           float64
		count, beyond int
	}
	var all tally
	byKey := map[string]*tally{}
	for seed := range uint64(trials) {
		rng := rand.New(rand.NewPCG(seed, 9))
		d := parse(t, randomText(seed%97))
		fs := d.Drivers[0].Fs.SI
		b := build(t, d)
		f, err := start(d, measure(t, b, fs/5, fs*6, 150, 0, rng), Options{})
		if err != nil {
			t.Fatal(err)
		}
		truth := make([]float64, len(f.free))
		for j, p := range f.free {
			truth[j] = p.sigma * rng.NormFloat64()
			if p.key == "leak" { // boxes leak less than a fit allows for
				truth[j] = math.Abs(truth[j]) / leakSpread
			}
			if p.lower >= 0 {
				truth[j] = math.Abs(truth[j])
			}
			truth[j] = math.Max(truth[j], 0.9*p.lower)
		}
		o := f.objective(readings(f.sweep, 0, math.Inf(1), mostPoints))
		o.set(truth)
		f.sweep = measure(t, f.bench, fs/5, fs*6, 150, 0.05, rng)
		f.measured = f.sweep.Features()
		if err := f.fit(context.Background()); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for j, p := range f.free {
			pull := (f.x[j] - truth[j]) / f.solved.StandardError[j]
			k := byKey[p.key]
			if k == nil {
				k = &tally{}
				byKey[p.key] = k
			}
			for _, y := range []*tally{&all, k} {
				y.sum += pull * pull
				y.count++
				if math.Abs(pull) > 3 {
					y.beyond++
				}
			}
			if math.Abs(pull) > 5 {
				t.Logf("seed %d: %s is %.4g and found %.4g ± %.2g (residual %.3f dB)", seed, p.name(), p.at(truth[j]), p.at(f.x[j]), p.scale*f.solved.StandardError[j], f.fittedResidual)
			}
		}
	}
	var keys []string
	for k := range byKey {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	for _, k := range keys {
		y := byKey[k]
		t.Logf("%-12s %5d: rms of error over standard error %.3f, %.2f %% beyond three", k, y.count, math.Sqrt(y.sum/float64(y.count)), 100*float64(y.beyond)/float64(y.count))
		if within := 1 - float64(y.beyond)/float64(y.count); within < 0.97 {
			t.Errorf("%s: %.2f %% within three standard errors, want 97 %%", k, 100*within)
		}
	}
	if rms := math.Sqrt(all.sum / float64(all.count)); rms < 0.8 || rms > 1.25 {
		t.Errorf("rms of error over standard error %.3f, want 0.8 to 1.25", rms)
	}
}
