package recording

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"ocarina/tone/sinefit"
)

// A density is the noise of a stretch: mean square per hertz at even steps of
// frequency from 0 on.
type density struct {
	at   []float64 // FS²/Hz
	step float64   // Hz
	wide float64   // Hz, the resolution 1/T of the stretch

	// Sums of the values that no notch holds, and how many: sum[k] is that of the
	// values before k.
	sum  []float64
	kept []int
}

// densityOf makes the one-sided density of x with a Hann window.
func densityOf(x []float64, rate float64) density {
	size := smooth(len(x))
	padded := make([]float64, size)
	var energy float64
	for i, w := range sinefit.Hann.Weights(len(x)) {
		padded[i] = x[i] * w
		energy += w * w
	}
	spectrum := fourier.NewFFT(size).Coefficients(nil, padded)
	d := density{at: make([]float64, len(spectrum)), step: rate / float64(size), wide: rate / float64(len(x))}
	scale := 2 / (rate * energy)
	for k, v := range spectrum {
		d.at[k] = scale * (real(v)*real(v) + imag(v)*imag(v))
	}
	return d
}

// smooth is the smallest even product of 2, 3 and 5 that is no less than n: a
// length whose Fourier transform is fast.
func smooth(n int) int {
	best := 2
	for best < n {
		best *= 2
	}
	for three := 2; three < best; three *= 3 {
		for five := three; five < best; five *= 5 {
			v := five
			for v < n {
				v *= 2
			}
			best = min(best, v)
		}
	}
	return best
}

// A notch is a range of frequencies that is left out.
type notch struct{ center, reach float64 } // Hz

// without is the density with notches cut into it.
func (d density) without(notches []notch) density {
	held := make([]bool, len(d.at))
	for _, n := range notches {
		lo, hi := int(math.Ceil((n.center-n.reach)/d.step)), int((n.center+n.reach)/d.step)
		for k := max(0, lo); k <= min(hi, len(held)-1); k++ {
			held[k] = true
		}
	}
	d.sum, d.kept = make([]float64, len(d.at)+1), make([]int, len(d.at)+1)
	for k, v := range d.at {
		d.sum[k+1], d.kept[k+1] = d.sum[k], d.kept[k]
		if !held[k] {
			d.sum[k+1] += v
			d.kept[k+1]++
		}
	}
	return d
}

// mean is the mean density from lo to hi hertz outside the notches, and from how
// many independent values it was made.
func (d density) mean(lo, hi float64) (mean, count float64) {
	from, to := max(1, int(math.Ceil(lo/d.step))), min(len(d.at)-1, int(hi/d.step))
	if from > to {
		return 0, 0
	}
	n := float64(d.kept[to+1] - d.kept[from])
	if n == 0 {
		return 0, 0
	}
	// Neighbours in a padded spectrum say the same, and a Hann window's bins are
	// half as many values again as independent ones.
	return max(0, d.sum[to+1]-d.sum[from]) / n, n * d.step / d.wide / 1.5
}

// power is the mean square from lo to hi hertz, the notches filled with the mean
// density of what is left.
func (d density) power(lo, hi float64) float64 {
	m, _ := d.mean(lo, hi)
	return m * (hi - lo)
}

// whole is the mean square from lo to hi hertz, nothing left out.
func (d density) whole(lo, hi float64) float64 {
	from, to := max(0, int(math.Ceil(lo/d.step))), min(len(d.at)-1, int(hi/d.step))
	var sum float64
	for k := from; k <= to; k++ {
		sum += d.at[k]
	}
	return sum * d.step
}

// around is the noise density at f: the mean over the neighbourhood, widened
// until it holds enough values to be trusted.
func (d density) around(f, reach float64) (mean, count float64) {
	const enough = 24
	top := float64(len(d.at)-1) * d.step
	for r := reach; ; r *= 1.5 {
		mean, count = d.mean(max(0, f-r), min(top, f+r))
		if count >= enough || (f-r <= 0 && f+r >= top) {
			return mean, count
		}
	}
}

// nearZero is the density of the noise that moves a mean. Where it rises towards
// zero, as rumble and wind do, the power law between two ranges of one to four,
// three octaves apart and the lower as low as the resolution goes, is carried on
// to a quarter of the resolution.
func (d density) nearZero(reach float64) float64 {
	const bottom, wide, apart, lowest, steepest = 3.0, 4.0, 8.0, 0.25, 2.0
	flat, _ := d.around(0, reach)
	low, n := d.mean(bottom*d.wide, wide*bottom*d.wide)
	high, m := d.mean(apart*bottom*d.wide, apart*wide*bottom*d.wide)
	if n == 0 || m == 0 || !(high > 0 && low > high) {
		return flat
	}
	low *= 1 + 2/math.Sqrt(n) // two standard errors of its own estimate
	slope := math.Min(math.Log(low/high)/math.Log(apart), steepest)
	return math.Max(flat, low*math.Pow(math.Sqrt(wide)*bottom/lowest, slope))
}

// leaks is the mean square that what sounds elsewhere adds to a line at f in a fit
// without a window: up to twice 1/(πd)² of it, d its distance in turns over the
// stretch.
func (d density) leaks(f float64) float64 {
	const near = 2 // nearer than that it counts as noise around the line
	var sum float64
	for k, v := range d.at {
		if turns := math.Abs(float64(k)*d.step-f) / d.wide; turns > near {
			sum += 2 * v * d.step / math.Pow(math.Pi*turns, 2)
		}
	}
	return sum
}
