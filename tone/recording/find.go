package recording

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/dsp/fourier"

	"ocarina/tone/decimate"
	"ocarina/tone/sinefit"
)

const root2 = math.Sqrt2

// decibel of a ratio, no lower than −400.
func decibel(ratio float64) float64 {
	return 20 * math.Log10(max(math.Abs(ratio), 1e-20))
}

// amplitude is the ratio of a level.
func amplitude(level float64) float64 { return math.Pow(10, level/20) }

// Where tones are looked for.
const (
	lowestTone  = 8.0    // Hz
	searchRate  = 5500.0 // Hz; the search runs at the slowest level not under it
	searchFrame = 0.34   // s; one frame tells tones 6 Hz apart
)

// A frame is the strongest tone of a short stretch.
type frame struct {
	frequency float64 // Hz; 0 if nothing stands out
	amplitude float64
	power     float64 // mean square of all of it
}

// frames is the search through a recording.
type frames struct {
	at    []frame
	size  int // recorded samples in a frame
	hop   int // recorded samples from frame to frame
	bin   float64
	level *decimate.Level
}

// search looks for the strongest tone of every frame.
func search(level *decimate.Level) frames {
	size := 64
	for float64(size) < searchFrame*level.Rate {
		size *= 2
	}
	hop := size / 4
	fs := frames{size: size * level.Every, hop: hop * level.Every, bin: level.Rate / float64(size), level: level}
	if len(level.X) < size {
		return fs
	}
	fs.at = make([]frame, (len(level.X)-size)/hop+1)
	hann := sinefit.Hann.Weights(size)
	parallel(len(fs.at), 64, func(from, to int) {
		fft := fourier.NewFFT(size)
		x := make([]float64, size)
		spectrum := make([]complex128, size/2+1)
		power := make([]float64, size/2+1)
		for i := from; i < to; i++ {
			copy(x, level.X[i*hop:])
			fs.at[i].power = meanSquare(x)
			for k := range x {
				x[k] *= hann[k]
			}
			fft.Coefficients(spectrum, x)
			for k, v := range spectrum {
				power[k] = real(v)*real(v) + imag(v)*imag(v)
			}
			fs.at[i].frequency, fs.at[i].amplitude = strongest(power, fs.bin, level.Pass)
		}
	})
	return fs
}

// parallel splits 0…n into parts of at least least for the processors there are.
func parallel(n, least int, part func(from, to int)) {
	workers := max(1, min(runtime.GOMAXPROCS(0), n/least))
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() { part(n*w/workers, n*(w+1)/workers) })
	}
	wait.Wait()
}

func meanSquare(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	return square(x) / float64(len(x))
}

// prominent is how far a line must stand above the noise around it, in power, to be
// taken for a tone in one frame.
const prominent = 40

// strongest finds the strongest line of a Hann-windowed power spectrum and, if it
// is a second or third harmonic, its fundamental.
func strongest(power []float64, bin, pass float64) (frequency, amplitude float64) {
	low := max(3, int(lowestTone/bin))
	high := min(len(power)-2, int(pass/bin))
	best := -1
	for k := low; k <= high; k++ {
		if power[k] > power[k-1] && power[k] >= power[k+1] && (best < 0 || power[k] > power[best]) {
			best = k
		}
	}
	if best < 0 || power[best] < prominent*noiseAround(power, best) {
		return 0, 0
	}
	// A fundamental at a third or half, no more than 30 dB weaker.
	for _, m := range []int{3, 2} {
		k := int(math.Round(float64(best) / float64(m)))
		if k < low+1 {
			continue
		}
		for _, c := range []int{k - 1, k, k + 1} {
			if power[c] >= power[c-1] && power[c] >= power[c+1] && power[c] > power[best]/1000 && power[c] > prominent*noiseAround(power, c) {
				fine := interpolate(power, c)
				if math.Abs(fine*float64(m)-interpolate(power, best)) < 0.25*float64(m) {
					return fine * bin, hannAmplitude(power, c, len(power))
				}
			}
		}
	}
	return interpolate(power, best) * bin, hannAmplitude(power, best, len(power))
}

func hannAmplitude(power []float64, k, half int) float64 {
	return 2 * math.Sqrt(power[k]) / float64(half-1)
}

// noiseAround is the median power of the bins near k.
func noiseAround(power []float64, k int) float64 {
	const reach = 32
	near := slices.Clone(power[max(1, k-reach):min(len(power), k+reach)])
	slices.Sort(near)
	return near[len(near)/2]
}

// interpolate places the peak of a Hann-windowed line at bin k between bins.
func interpolate(power []float64, k int) float64 {
	a, b, c := math.Sqrt(power[k-1]), math.Sqrt(power[k]), math.Sqrt(power[k+1])
	if c > a {
		r := c / b
		return float64(k) + (2*r-1)/(r+1)
	}
	r := a / b
	return float64(k) - (2*r-1)/(r+1)
}

// A take is a stretch of the recording in which one tone is the strongest.
type take struct {
	frequency float64 // Hz, roughly
	amplitude float64 // the largest
	from, to  int     // recorded samples from the first to the end of the last frame
	lo, hi    int     // where else its softer steps may lie
}

// same says whether two frequencies found in frames may be the same tone's.
func (fs frames) same(a, b float64) bool {
	return math.Abs(a-b) < max(0.35*fs.bin, 0.002*a)
}

// runs are stretches of at least three frames with one strongest frequency.
func (fs frames) runs() []take {
	var runs []take
	for i := 0; i < len(fs.at); {
		f := fs.at[i].frequency
		j := i
		var sum, weight, largest float64
		for j < len(fs.at) && f > 0 && fs.same(fs.at[j].frequency, f) {
			a := fs.at[j].amplitude
			sum, weight, largest = sum+a*fs.at[j].frequency, weight+a, max(largest, a)
			j++
		}
		if j-i >= 3 {
			runs = append(runs, take{frequency: sum / weight, amplitude: largest, from: i * fs.hop, to: (j-1)*fs.hop + fs.size})
		}
		i = max(j, i+1)
	}
	return runs
}

// join makes one take of neighbouring runs of the same frequency and lets each
// take reach to its neighbours. The recording has the given length in samples.
func (fs frames) join(runs []take, samples int) []take {
	var out []take
	for _, r := range runs {
		if n := len(out); n > 0 && fs.same(out[n-1].frequency, r.frequency) {
			last := &out[n-1]
			if r.amplitude > last.amplitude {
				last.frequency, last.amplitude = r.frequency, r.amplitude
			}
			last.to = r.to
			continue
		}
		out = append(out, r)
	}
	for i := range out {
		out[i].lo, out[i].hi = 0, samples
		if i > 0 {
			out[i].lo = min(out[i-1].to, out[i].from)
		}
		if i+1 < len(out) {
			out[i].hi = max(out[i+1].from, out[i].to)
		}
	}
	return out
}
