package fit

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"ocarina/response"
)

// tracker follows extremes of |Z| by looking for them about where they were.
type tracker struct {
	t testing.TB
	b *response.Bench
}

// tilt is d ln|Z|/d ln f.
func (k tracker) tilt(f float64) float64 {
	if err := k.b.Solve(f); err != nil {
		k.t.Fatal(err)
	}
	return real(k.b.ImpedanceSlope(0)/k.b.Impedance(0)) * 2 * math.Pi * f
}

// near returns the peak or dip nearest to f and no further than reach, in ln f,
// or 0: it looks ever further out in steps of a 4000th.
func (k tracker) near(kind string, f, reach float64) float64 {
	const step = 0.00025
	rises := kind == "dip" // the tilt goes through zero upwards
	below, above := k.tilt(f), 0.0
	above = below
	low, high := f, f
	for d := step; d < reach; d += step {
		for _, side := range [2]float64{1, -1} {
			g := f * math.Exp(side*d)
			v := k.tilt(g)
			a, b, va, vb := high, g, above, v
			if side < 0 {
				a, b, va, vb = g, low, v, below
			}
			if (va < 0) != (vb < 0) && (va < 0) == rises {
				for range 40 {
					m := (a + b) / 2
					if (k.tilt(m) < 0) == (va < 0) {
						a = m
					} else {
						b = m
					}
				}
				return (a + b) / 2
			}
			if side > 0 {
				high, above = g, v
			} else {
				low, below = g, v
			}
		}
	}
	return 0
}

// carried follows the features from one box to another in 50 equal steps of every
// dimension. It returns for each feature at the start the frequency at the end,
// or 0 if it vanished on the way.
func carried(t *testing.T, b *response.Bench, errors []float64, from, to float64) (start []response.Feature, end []float64) {
	t.Helper()
	const steps = 50
	drawn := slices.Clone(b.Values)
	start, err := b.Features(from, to)
	if err != nil {
		t.Fatal(err)
	}
	end = make([]float64, len(start))
	before := make([]float64, len(start))
	for i, v := range start {
		end[i], before[i] = v.Frequency, v.Frequency
	}
	k := tracker{t, b}
	for n := 1; n <= steps; n++ {
		for i, d := range b.Model.Dimensions {
			b.Values[d.Ref] = drawn[d.Ref] * (1 + errors[i]*float64(n)/steps)
		}
		b.Follow()
		was := slices.Clone(end)
		expected := make([]float64, len(end))
		for i, f := range was {
			if f == 0 {
				continue
			}
			expected[i] = f * f / before[i]
			reach := 0.03
			for j, g := range was { // no further than half way to the next of its kind
				if j != i && g > 0 && start[i].Kind == start[j].Kind {
					reach = math.Min(reach, math.Abs(math.Log(g/f))/2)
				}
			}
			end[i] = k.near(start[i].Kind, expected[i], reach)
		}
		for i := range end { // one feature cannot be two
			for j := range i {
				if end[i] > 0 && end[j] > 0 && math.Abs(end[i]/end[j]-1) < 1e-9 {
					if math.Abs(math.Log(expected[i]/end[i])) < math.Abs(math.Log(expected[j]/end[j])) {
						end[j] = 0
					} else {
						end[i] = 0
					}
				}
			}
		}
		before = was
	}
	return start, end
}

func TestOwnersAreNeverWrong(t *testing.T) {
	t.Parallel()
	const (
		designs = 200
		noise   = 0.01 // dB
	)
	var right, wrong, lost, vanished, extra int
	for seed := range uint64(designs) {
		rng := rand.New(rand.NewPCG(seed, 5))
		d := parse(t, randomText(seed))
		b := build(t, d)
		errors := make([]float64, len(b.Model.Dimensions))
		for i, v := range b.Model.Dimensions {
			if v.Key != "sd" { // impedance tells Vas/Sd², never Sd
				errors[i] = 0.16*rng.Float64() - 0.08
			}
		}
		fs := d.Drivers[0].Fs.SI
		from, to := fs/5, fs*6
		drawn, end := carried(t, b, errors, from, to)
		built, err := b.Features(from/1.3, to*1.3)
		if err != nil {
			t.Fatal(err)
		}
		built = visible(built, 10*noise)
		s := measure(t, b, from, to, 280, noise, rng)
		res, err := Match(context.Background(), d, s, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for i, d := range drawn {
			if d.Frequency < from*1.1 || d.Frequency > to/1.1 {
				continue
			}
			var got *Feature
			for k := range res.Features {
				if v := &res.Features[k]; v.Drawn != nil && math.Abs(*v.Drawn/d.Frequency-1) < 1e-4 {
					got = v
				}
			}
			switch {
			case got == nil:
				t.Errorf("seed %d: nothing said about the %s drawn at %.2f Hz", seed, d.Kind, d.Frequency)
			case end[i] == 0 && got.Measured == nil:
				vanished++
			case end[i] == 0:
				wrong++
				t.Errorf("seed %d: the %s drawn at %.2f Hz vanishes on the way and is said to be that at %.2f Hz", seed, d.Kind, d.Frequency, *got.Measured)
			case got.Measured == nil:
				lost++
				t.Logf("seed %d: the %s drawn at %.2f Hz goes to %.2f Hz, which is not seen: %s (residual %.3f dB)", seed, d.Kind, d.Frequency, end[i], got.Note, res.Residual.Fitted)
			case belongs(built, d.Kind, *got.Measured) != belongs(built, d.Kind, end[i]):
				wrong++
				t.Errorf("seed %d: the %s drawn at %.2f Hz goes to %.2f Hz and is said to be that at %.2f Hz; residual %.3f dB", seed, d.Kind, d.Frequency, end[i], *got.Measured, res.Residual.Fitted)
			default:
				right++
			}
		}
		for _, v := range res.Features {
			if v.Drawn == nil {
				extra++
			}
		}
	}
	if 20*lost > right {
		t.Errorf("%d features not claimed against %d paired: the test must not pass by silence", lost, right)
	}
	t.Logf("%d right, %d wrong, %d not seen, %d vanished, %d extra", right, wrong, lost, vanished, extra)
}

// belongs returns which feature of a kind a frequency is nearest to.
func belongs(list []response.Feature, kind string, f float64) int {
	best := -1
	for i, v := range list {
		if v.Kind == kind && (best < 0 || math.Abs(math.Log(v.Frequency/f)) < math.Abs(math.Log(list[best].Frequency/f))) {
			best = i
		}
	}
	return best
}

// visible takes away the pairs of a peak and a dip that stand less than so many
// dB from each other, the least first.
func visible(list []response.Feature, limit float64) []response.Feature {
	list = slices.Clone(list)
	for {
		best, least := -1, limit
		for i := 1; i < len(list); i++ {
			if d := math.Abs(20 * math.Log10(list[i].Impedance/list[i-1].Impedance)); d < least {
				best, least = i, d
			}
		}
		if best < 0 {
			return list
		}
		list = slices.Delete(list, best-1, best+1)
	}
}
