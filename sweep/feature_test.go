package sweep

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// A load is a circuit whose impedance is a formula, for features to be looked
// for in. Its true features come from bisecting the slope of |Z| on a fine
// grid.
type load func(f float64) complex128

func parallel(a, b complex128) complex128 { return a * b / (a + b) }

// ladder is a driver before n chambers in a row, by its electrical likeness: a
// resonance shunted by branches of inductor and capacitor (invented values).
func ladder(re, le, res, fs, qms float64, branches [][3]float64) load {
	w0 := 2 * math.Pi * fs
	cap, ind := qms/(w0*res), res/(w0*qms)
	return func(f float64) complex128 {
		w := complex(0, 2*math.Pi*f)
		z := complex(res, 0)
		z = parallel(z, 1/(w*complex(cap, 0)))
		z = parallel(z, w*complex(ind, 0))
		for _, b := range branches { // series resonance at b[0] Hz of Q b[1], its inductor b[2] times ind
			l := ind * b[2]
			wb := 2 * math.Pi * b[0]
			z = parallel(z, w*complex(l, 0)+1/(w*complex(1/(wb*wb*l), 0))+complex(wb*l/b[1], 0))
		}
		return z + complex(re, 0) + w*complex(le, 0)
	}
}

var loads = []struct {
	name string
	z    load
}{
	{"bare driver", ladder(5.8, 0.6e-3, 48, 34, 5, nil)},
	{"tall and sharp", ladder(3.3, 0.1e-3, 190, 41, 14, nil)},
	// Seventy times the coil's resistance, and on 50 points half-way between two
	// that reach but two fifths of its height.
	{"between points", ladder(3.3, 0.1e-3, 240, 43.215, 25, nil)},
	{"vented", ladder(5.6, 0.5e-3, 60, 40, 6, [][3]float64{{38, 40, 0.7}})},
	{"two chambers", ladder(3.4, 0.2e-3, 45, 90, 5, [][3]float64{{110, 30, 0.9}, {205, 25, 1.3}})},
	{"three chambers", ladder(3.4, 0.15e-3, 50, 90, 5, [][3]float64{{70, 25, 0.6}, {130, 30, 0.9}, {240, 25, 1.3}})},
	{"creep and eddy currents", creeping},
	{"shallow dip", ladder(6, 0.4e-3, 30, 45, 3, [][3]float64{{120, 8, 14}})},
}

// creeping is a driver in a vented box whose suspension creeps, a fifth a
// decade, and whose coil has a shorted turn: no sum of simple resonances.
func creeping(f float64) complex128 {
	w := complex(0, 2*math.Pi*f)
	creep := 1 - 0.2*cmplx.Log10(complex(0, f/38))
	z := parallel(70, 1/(w*complex(450e-6, 0)))
	z = parallel(z, w*complex(0.037, 0)*creep)
	z = parallel(z, w*0.03+1/(w*600e-6)+0.7)
	return z + 5.5 + w*0.3e-3 + parallel(w*0.9e-3, 6)
}

func (z load) truth(from, to float64) []Feature {
	ln := func(x float64) float64 { return math.Log(cmplx.Abs(z(math.Exp(x)))) }
	const h = 1e-5
	slope := func(x float64) float64 { return (ln(x+h) - ln(x-h)) / (2 * h) }
	var out []Feature
	n := 40000
	step := math.Log(to/from) / float64(n)
	last := slope(math.Log(from))
	for i := 1; i <= n; i++ {
		x := math.Log(from) + float64(i)*step
		s := slope(x)
		if s*last < 0 {
			a, b := x-step, x
			for range 50 {
				m := (a + b) / 2
				if slope(m)*last > 0 {
					a = m
				} else {
					b = m
				}
			}
			f := Feature{Kind: Dip, Frequency: math.Exp(a), Height: cmplx.Abs(z(math.Exp(a)))}
			if last > 0 {
				f.Kind = Peak
			}
			const k = 1e-3
			f.Q = 0.5 * math.Sqrt(math.Abs(ln(a+k)+ln(a-k)-2*ln(a))/(k*k))
			out = append(out, f)
		}
		last = s
	}
	return out
}

func (z load) sweep(from, to float64, n int, phase bool, noise float64, rng *rand.Rand) *Sweep {
	s := &Sweep{Name: "made"}
	for i := range n {
		f := from * math.Pow(to/from, float64(i)/float64(n-1))
		v := z(f)
		if rng != nil {
			v *= cmplx.Exp(complex(noise*rng.NormFloat64(), noise*rng.NormFloat64()))
		}
		s.Frequency = append(s.Frequency, f)
		s.Magnitude = append(s.Magnitude, cmplx.Abs(v))
		if phase {
			s.Phase = append(s.Phase, cmplx.Phase(v))
		}
	}
	return s
}

// prominences fills in what each true feature stands out by, dB.
func (z load) prominences(fs []Feature, from, to float64) {
	const n = 20000
	db := make([]float64, n+1)
	for k := range db {
		db[k] = 20 * math.Log10(cmplx.Abs(z(from*math.Pow(to/from, float64(k)/n))))
	}
	for i, f := range fs {
		sign := 1.0
		if f.Kind == Dip {
			sign = -1
		}
		h := sign * 20 * math.Log10(f.Height)
		at := int(math.Round(math.Log(f.Frequency/from) / math.Log(to/from) * n))
		fs[i].Prominence = math.Inf(1)
		for _, step := range []int{-1, 1} {
			foot := h
			for k := at + 2*step; k >= 0 && k <= n && sign*db[k] <= h; k += step {
				foot = math.Min(foot, sign*db[k])
			}
			fs[i].Prominence = math.Min(fs[i].Prominence, h-foot)
		}
	}
}

// Every true feature that stands out of the noise is found, with its
// frequency, height and Q; nothing else is. On 50 points the peaks lie between
// the points.
func TestFeatures(t *testing.T) {
	const from, to = 8, 900
	for li, l := range loads {
		truth := l.z.truth(from, to)
		l.z.prominences(truth, from, to)
		for _, n := range []int{50, 100, 500, 50000} {
			for _, phase := range []bool{true, false} {
				for _, noise := range []float64{0, 0.003} {
					t.Run(fmt.Sprintf("%s/%d points, phase %v, noise %g", l.name, n, phase, noise), func(t *testing.T) {
						rng := rand.New(rand.NewPCG(uint64(li), uint64(n)))
						got := l.z.sweep(from, to, n, phase, noise, rng).Features()
						// What may be missed: less than ten deviations of the
						// noise, less of it the denser the points; of 50 points,
						// which know neither noise nor curve well, fifteen, and
						// a sixth of a decibel.
						miss := 8.7 * noise * 10 / math.Sqrt(math.Max(1, float64(n)/300))
						if n == 50 {
							miss = math.Max(8.7*noise*15, 0.15)
						}
						for _, w := range truth {
							var f *Feature
							for i := range got {
								if g := &got[i]; g.Kind == w.Kind && math.Abs(math.Log(g.Frequency/w.Frequency)) < 0.05+4*g.FrequencyError/g.Frequency {
									f = g
								}
							}
							if f == nil {
								if w.Prominence > miss {
									t.Errorf("no %s at %.2f Hz, which stands out by %.2f dB", w.Kind, w.Frequency, w.Prominence)
								}
								continue
							}
							// Within four standard errors, or half a per cent
							// (height: 0.05 dB; Q: 3 %).
							// The place of a flat extreme may be as far off as
							// moves |Z| by a thousandth of a decibel.
							place := math.Max(0.005, math.Sqrt(1.15e-4/2)/w.Q)
							if d := math.Abs(f.Frequency - w.Frequency); d > math.Max(place*w.Frequency, 4*f.FrequencyError) {
								t.Errorf("%s at %.3f ± %.3f Hz, want %.3f", f.Kind, f.Frequency, f.FrequencyError, w.Frequency)
							}
							if d := math.Abs(f.Height - w.Height); d > math.Max(0.006*w.Height, 4*f.HeightError) {
								t.Errorf("%s of %.3f ± %.3f ohm, want %.3f", f.Kind, f.Height, f.HeightError, w.Height)
							}
							if d := math.Abs(f.Q - w.Q); d > math.Max(0.03*w.Q, 4*f.QError) && w.Prominence > 0.3 {
								t.Errorf("%s of Q %.3f ± %.3f, want %.3f", f.Kind, f.Q, f.QError, w.Q)
							}
							if d := math.Abs(f.Prominence - w.Prominence); d > 0.3+8.7*4*f.HeightError/f.Height+8.7*10*noise {
								t.Errorf("%s stands out by %.3f dB, want %.3f", f.Kind, f.Prominence, w.Prominence)
							}
							if w.Prominence > 6 && (f.FrequencyError > 0.01*f.Frequency || f.HeightError > 0.1*f.Height) {
								t.Errorf("%s at %.3f ± %.3f Hz, %.3f ± %.3f ohm: the errors say nothing", f.Kind, f.Frequency, f.FrequencyError, f.Height, f.HeightError)
							}
						}
						if len(got) > len(truth) {
							t.Errorf("found %d features of %d: %+v", len(got), len(truth), got)
						}
					})
				}
			}
		}
	}
}

// Over many sweeps of random loads and noise the errors are as large as their
// standard errors say, and no feature is found that is none.
func TestFeatureErrors(t *testing.T) {
	const from, to = 8.0, 900.0
	var sum [3]float64
	var count, beyond, extra, missed int
	const trials = 150
	for trial := range trials {
		rng := rand.New(rand.NewPCG(77, uint64(trial)))
		u := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
		l := ladder(u(3, 7), u(0.1e-3, 0.8e-3), u(20, 120), u(30, 60), u(2, 9), [][3]float64{{u(28, 70), u(10, 50), u(0.4, 1.5)}})
		noise := []float64{0.002, 0.005, 0.01}[trial%3]
		n := []int{120, 400, 2000}[trial/3%3]
		truth := l.truth(from, to)
		l.prominences(truth, from, to)
		got := l.sweep(from, to, n, trial%2 == 0, noise, rng).Features()
		if len(got) > len(truth) {
			extra++
			t.Logf("trial %d: %d features of %d", trial, len(got), len(truth))
		}
		for _, w := range truth {
			if w.Prominence < 3 {
				continue
			}
			found := false
			for _, f := range got {
				if f.Kind != w.Kind || math.Abs(math.Log(f.Frequency/w.Frequency)) > 0.1 {
					continue
				}
				found = true
				for k, e := range [3]float64{(f.Frequency - w.Frequency) / f.FrequencyError, (f.Height - w.Height) / f.HeightError, (f.Q - w.Q) / f.QError} {
					sum[k] += e * e
					if math.Abs(e) > 4 {
						beyond++
					}
				}
				count++
			}
			if !found {
				missed++
				t.Logf("trial %d: no %s at %.1f Hz", trial, w.Kind, w.Frequency)
			}
		}
	}
	for k, name := range []string{"frequency", "height", "Q"} {
		rms := math.Sqrt(sum[k] / float64(count))
		t.Logf("%s: error over standard error %.2f RMS", name, rms)
		if rms < 0.6 || rms > 1.4 {
			t.Errorf("%s: error over standard error is %.2f RMS over %d features", name, rms, count)
		}
	}
	if extra > 1 || missed > 0 || beyond > count/20 {
		t.Errorf("of %d trials %d found too much; %d features missed; %d of %d errors beyond four", trials, extra, missed, beyond, 3*count)
	}
}

// What is not a feature: noise, ripple, one wrong point, a slope.
func TestNoFeatures(t *testing.T) {
	bare := loads[0].z
	kinds := func(fs []Feature) string {
		s := ""
		for _, f := range fs {
			s += fmt.Sprintf("%s %.0f Hz, ", f.Kind, f.Frequency)
		}
		return s
	}
	resistor := load(func(f float64) complex128 { return 8 })
	// Noise alone: at most one sweep in a hundred.
	for _, c := range []struct {
		points int
		trials uint64
	}{{50, 200}, {1000, 100}, {50000, 4}} {
		var wrong []string
		for seed := range c.trials {
			s := resistor.sweep(10, 1000, c.points, true, 0.01, rand.New(rand.NewPCG(seed, 5)))
			if fs := s.Features(); len(fs) != 0 {
				wrong = append(wrong, fmt.Sprintf("seed %d: %s", seed, kinds(fs)))
			}
		}
		if len(wrong) > int(c.trials/100) {
			t.Errorf("%d points: a noisy resistor has features in %d of %d sweeps: %q", c.points, len(wrong), c.trials, wrong)
		}
	}
	// A ripple of a twentieth of a decibel, even in frequency as from an echo
	// or in octaves, on a driver whose dip is shallow: 0.6 dB.
	for _, c := range []struct {
		name string
		of   load
		want int
	}{{"bare", bare, 2}, {"shallow dip", ladder(6, 0.4e-3, 30, 45, 3, [][3]float64{{120, 8, 6}}), 4}} {
		for name, ripple := range map[string]func(f float64) float64{
			"even":    func(f float64) float64 { return math.Sin(2 * math.Pi * f / 30) },
			"octaves": func(f float64) float64 { return math.Sin(2 * math.Pi * math.Log2(f) * 9) },
		} {
			for _, n := range []int{400, 20000} {
				s := c.of.sweep(8, 900, n, true, 0, nil)
				for i, f := range s.Frequency {
					s.Magnitude[i] *= math.Exp(0.05 / 8.686 * ripple(f))
				}
				if fs := s.Features(); len(fs) != c.want {
					t.Errorf("%s, ripple %s, %d points: %s", c.name, name, n, kinds(fs))
				}
			}
		}
	}
	// One point off by a tenth, on the flank, in the flat and near the top.
	for _, at := range []float64{20, 33, 120, 600} {
		s := bare.sweep(8, 900, 400, true, 0, nil)
		for i, f := range s.Frequency {
			if f > at {
				s.Magnitude[i] *= 1.1
				break
			}
		}
		if fs := s.Features(); len(fs) != 2 {
			t.Errorf("a wrong point at %g Hz: %s", at, kinds(fs))
		}
	}
	coil := load(func(f float64) complex128 { return complex(6, 0.02*f) })
	if fs := coil.sweep(8, 900, 300, false, 0, nil).Features(); len(fs) != 0 {
		t.Errorf("a coil has %s", kinds(fs))
	}
	for n := range 5 {
		s := &Sweep{}
		for i := range n {
			s.Frequency, s.Magnitude = append(s.Frequency, float64(i+1)), append(s.Magnitude, 1+float64(i%2))
		}
		if fs := s.Features(); len(fs) != 0 {
			t.Errorf("%d points: %s", n, kinds(fs))
		}
	}
}

// Values rounded to tenths of an ohm flicker between two steps, which makes no
// features.
func TestFeaturesRounded(t *testing.T) {
	for _, n := range []int{100, 1000, 10000} {
		for _, l := range loads[:3] {
			s := l.z.sweep(8, 900, n, false, 0.001, rand.New(rand.NewPCG(3, 3)))
			for i, m := range s.Magnitude {
				s.Magnitude[i] = math.Round(10*m) / 10
			}
			truth := l.z.truth(8, 900)
			got := s.Features()
			if len(got) > len(truth) || len(got) < len(truth)-1 {
				t.Errorf("%s, %d points: %d features of %d: %+v", l.name, n, len(got), len(truth), got)
			}
		}
	}
}

func FuzzFeatures(f *testing.F) {
	f.Add([]byte{1, 2, 3, 250, 9, 1, 1, 1, 200, 7, 7, 7, 7, 0, 255, 3}, 1.02, true)
	f.Add([]byte{0, 0, 0, 0, 0, 0, 255, 0, 0, 0}, 1.5, false)
	f.Fuzz(func(t *testing.T, b []byte, ratio float64, phase bool) {
		if !(ratio > 1 && ratio < 100) || len(b) > 3000 {
			return
		}
		s := &Sweep{}
		x := 1.0
		for i, c := range b {
			if x *= ratio; x > maxFrequency {
				break
			}
			s.Frequency = append(s.Frequency, x)
			s.Magnitude = append(s.Magnitude, math.Exp(float64(c)/8-10))
			if phase {
				s.Phase = append(s.Phase, float64(int(c)*(i%3)-256)/82)
			}
		}
		if s.Len() > 1 && s.Frequency[s.Len()-1] == s.Frequency[s.Len()-2] {
			return
		}
		last := 0.0
		for i, g := range s.Features() {
			for _, v := range []float64{g.Frequency, g.Height, g.Q, g.Prominence, g.FrequencyError, g.HeightError, g.QError} {
				if !finite(v) || v < 0 {
					t.Fatalf("feature %d: %+v", i, g)
				}
			}
			if g.Frequency < s.Frequency[0] || g.Frequency > x || g.Frequency < last {
				t.Fatalf("feature %d at %v Hz after %v", i, g.Frequency, last)
			}
			last = g.Frequency
		}
	})
}

func BenchmarkFeatures(b *testing.B) {
	for _, n := range []int{50, 1000, 50000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := loads[5].z.sweep(8, 900, n, true, 0.003, rand.New(rand.NewPCG(1, 1)))
			for b.Loop() {
				if len(s.Features()) != 7 {
					b.Fatal("not seven features")
				}
			}
		})
	}
}
