package recording

import (
	"math"
	"math/cmplx"
	"slices"

	"ocarina/tone/decimate"
	"ocarina/tone/sinefit"
)

// An envelope is the level of one frequency over time.
type envelope struct {
	of    *decimate.Level
	level []float64 // dB re full scale amplitude
	phase []float64 // rad, of the tone against the frequency followed
	noise float64   // what noise alone would read, dB
	hop   float64   // s from value to value
	first float64   // time of the first, s from the start of the recording
	width float64   // of the window, s
	hum   float64   // what hum beside the tone reads, dB
}

// ripple is by how much hum may make value i waver, dB.
func (e envelope) ripple(i int) float64 { return 8.69 * math.Pow(10, (e.hum-e.level[i])/20) }

// sounds says whether value i stands clear of noise and hum.
func (e envelope) sounds(i int) bool { return e.level[i] > max(e.noise, e.hum)+aboveNoise }

// slide is how many values an envelope has for every length of its window.
const slide = 4

// follow makes the envelope of the frequency f between two recorded samples
// with a Hann window of the given width in seconds. beside is the frequency of a
// steady tone beside it that is told apart, 0 if there is none.
func follow(level *decimate.Level, f, beside, width float64, lo, hi int) envelope {
	from, to := lo/level.Every, min(len(level.X), (hi+level.Every-1)/level.Every)
	hop := max(1, int(width*level.Rate/slide))
	size := slide * hop
	e := envelope{
		of:    level,
		hop:   float64(hop) / level.Rate,
		first: (float64(from) + float64(size-1)/2) / level.Rate,
		width: float64(size) / level.Rate,
		noise: -400,
		hum:   -400,
	}
	if to-from < size {
		return e
	}
	n := (to-from-size)/hop + 1
	hann := sinefit.Hann.Weights(size)
	omega := []float64{2 * math.Pi * f / level.Rate}
	// Each of two tones reads the other times the window's spectrum at their
	// distance, here in turns of the window.
	var shared float64
	if beside > 0 {
		omega = append(omega, 2*math.Pi*beside/level.Rate)
		shared = hannAt((f - beside) * e.width)
	}
	e.level, e.phase = make([]float64, n), make([]float64, n)
	parallel(n, 256, func(a, b int) {
		x := make([]float64, size)
		for i := a; i < b; i++ {
			for k := range x {
				x[k] = level.X[from+i*hop+k] * hann[k]
			}
			both := sinefit.Spectrum(x, omega)
			s := both[0]
			if beside > 0 {
				s = (s - complex(shared, 0)*both[1]) / complex(1-shared*shared, 0)
			}
			e.level[i] = decibel(cmplx.Abs(s) * 4 / float64(size))
			e.phase[i] = math.Remainder(cmplx.Phase(s)-2*math.Pi*f*e.time(i), 2*math.Pi)
		}
	})
	e.noise = e.floor(f, from, to) - 10*math.Log10(1-shared*shared)
	return e
}

// hannAt is the spectrum of a Hann window x turns off its peak:
// sinc(x)/(1 − x²).
func hannAt(x float64) float64 {
	switch x = math.Abs(x); {
	case x < 1e-9:
		return 1
	case math.Abs(x-1) < 1e-9:
		return 0.5
	}
	return math.Sin(math.Pi*x) / (math.Pi * x * (1 - x*x))
}

// floor is what the noise near f reads in the envelope. It is the median over
// frequencies between the tone's harmonics, seen through a longer window in
// which these do not reach so far.
func (e *envelope) floor(f float64, from, to int) float64 {
	level := e.of
	const longer = 4
	size := min(longer*slide*max(1, int(math.Round(e.hop*level.Rate))), to-from)
	width := float64(size) / level.Rate
	hann := sinefit.Hann.Weights(size)
	x := make([]float64, size)
	var omega []float64
	for _, share := range []float64{-0.6, -0.5, -0.4, 0.4, 0.5, 0.6, 1.4, 1.5} {
		omega = append(omega, 2*math.Pi*f*(1+share)/level.Rate)
	}
	const looks = 24
	var seen []float64
	for i := range looks {
		at := from + (to-from-size)*i/(looks-1)
		for k := range x {
			x[k] = level.X[at+k] * hann[k]
		}
		for _, s := range sinefit.Spectrum(x, omega) {
			seen = append(seen, cmplx.Abs(s)*4/float64(size))
		}
	}
	slices.Sort(seen)
	return decibel(seen[len(seen)/2] * math.Sqrt(width/e.width))
}

// A stretch is a part of a recording to be fitted.
type stretch struct {
	from, to  int // recorded samples
	ramp      bool
	frequency float64 // Hz, as the envelope's phase has it
	level     float64 // dB re full scale amplitude, as the envelope has it
}

// Steps an envelope must make, and slopes it must keep, to be taken for steps
// and ramps.
const (
	leastStep  = 0.25 // dB
	rampSlope  = 0.3  // dB/s
	steepest   = 1.5  // dB/s; a step that drifts faster is a fade
	aboveNoise = 10   // dB that a tone stands above the envelope's noise
	shortest   = 3    // periods in a stretch
)

// stretches cuts an envelope into the steady parts of its steps, or its ramp
// into windows.
func (e envelope) stretches(rate, f float64, lo, hi int) []stretch {
	level := e.of
	var out []stretch
	for i := 0; i < len(e.level); {
		if !e.sounds(i) {
			i++
			continue
		}
		j := i
		for j < len(e.level) && e.sounds(j) {
			j++
		}
		if slope, ok := e.ramp(i, j); ok {
			out = append(out, e.windows(i, j, slope, rate, f)...)
		} else {
			for _, p := range e.plateaus(i, j) {
				s := stretch{from: int(e.time(p[0]) * rate), to: int(e.time(p[1]-1) * rate)}
				s.frequency, s.level = e.reading(p[0], p[1], f)
				// Where the tone goes on to the very edge of the recording, so
				// does the stretch.
				blur := int(math.Ceil(level.Blur * rate))
				if p[0] == 0 && lo == 0 {
					s.from = blur
				}
				if p[1] == len(e.level) && hi >= level.Every*(len(level.X)-1) {
					s.to = hi - blur
				}
				if float64(s.to-s.from)/rate*f >= shortest {
					out = append(out, s)
				}
			}
		}
		i = j
	}
	return out
}

// time of value i, s.
func (e envelope) time(i int) float64 { return e.first + float64(i)*e.hop }

// reach is half the distance over which a change is looked for: the windows at
// its two ends hardly overlap.
const reach = 3

// change is how much the level rises about value i of the values a…b.
func (e envelope) change(i, a, b int) float64 {
	if i-reach < a || i+reach >= b {
		return 0
	}
	return e.level[i+reach] - e.level[i-reach]
}

// ramp says whether the level of the values a…b rises or falls all the time, and
// how fast in dB/s.
func (e envelope) ramp(a, b int) (slope float64, ok bool) {
	if b-a < 12*reach {
		return 0, false
	}
	var changes []float64
	for i := a + reach; i+reach < b; i++ {
		changes = append(changes, e.change(i, a, b)/(2*reach*e.hop))
	}
	sorted := slices.Clone(changes)
	slices.Sort(sorted)
	median := sorted[len(sorted)/2]
	var steady int
	for _, c := range changes {
		if c/median > 0.4 {
			steady++
		}
	}
	return median, math.Abs(median) > rampSlope && float64(steady) > 0.8*float64(len(changes))
}

// windows cuts a ramp into stretches of at most about 0.75 dB.
func (e envelope) windows(a, b int, slope, rate, f float64) []stretch {
	length := min(max(0.75/math.Abs(slope), 12/f, 0.3), 3)
	// The windows at both ends may have looked at more than the ramp.
	start, end := e.time(a)+e.width, e.time(b-1)-e.width
	n := int((end - start) / length)
	var out []stretch
	for i := range n {
		s := stretch{
			from: int((start + (end-start)*float64(i)/float64(n)) * rate),
			to:   int((start + (end-start)*float64(i+1)/float64(n)) * rate),
			ramp: true,
		}
		s.frequency, s.level = e.reading(a+(b-a)*i/n, a+(b-a)*(i+1)/n, f)
		out = append(out, s)
	}
	return out
}

// reading is the frequency, by the turning of the phase, and the middle level of
// the values a…b of an envelope of f Hz.
func (e envelope) reading(a, b int, f float64) (frequency, level float64) {
	turned := slices.Clone(e.phase[a:b])
	for i := 1; i < len(turned); i++ {
		turned[i] = turned[i-1] + math.Remainder(turned[i]-turned[i-1], 2*math.Pi)
	}
	_, slope := line(turned, 0)
	middle := slices.Clone(e.level[a:b])
	slices.Sort(middle)
	return f + slope/(2*math.Pi*e.hop), middle[len(middle)/2]
}

// scatter is the standard deviation in dB that noise gives value i, from the
// noise floor and from what is seen around it.
func (e envelope) scatter(i, a, b int) float64 {
	expected := 8.69 / root2 * math.Pow(10, (e.noise-e.level[i])/20)
	const span = 40
	var near []float64
	for k := max(a+reach, i-span); k < min(b-reach, i+span); k++ {
		near = append(near, math.Abs(e.change(k, a, b)))
	}
	if len(near) < 8 {
		return expected
	}
	slices.Sort(near)
	// The quietest quarter: where the window is long, steps are in most changes.
	return max(expected, near[len(near)/4]/0.3186/root2)
}

// plateaus are the parts of a…b, as half-open ranges, in which the level stays or
// drifts steadily.
func (e envelope) plateaus(a, b int) [][2]int {
	const most = 3000 // points of a partition, whose cost grows as their square
	stride := max(2, (b-a+most-1)/most)
	n := (b - a) / stride
	y, weight := make([]float64, n), make([]float64, n)
	for i := range n {
		at := a + i*stride
		y[i], _ = line(e.level[at:at+stride], 0)
		sigma := e.scatter(at+stride/2, a, b) / math.Sqrt(max(1, float64(stride)/slide))
		// Settling and drifts bend a step's level by so much.
		const bend = 0.03
		ripple := e.ripple(at + stride/2)
		weight[i] = 1 / (sigma*sigma + bend*bend + ripple*ripple)
	}
	var out [][2]int
	for _, cut := range partition(y, weight) {
		p, ok := e.trim(a+cut[0]*stride, a+cut[1]*stride)
		if !ok {
			continue
		}
		if k := len(out) - 1; k >= 0 {
			if next, one := e.join(out[k], p); one {
				out[k] = next
				continue
			}
		}
		out = append(out, p)
	}
	return out
}

// join makes one step of two neighbouring parts that a partition cut in two
// because the level of the step bends: of both if it bends as slowly as a coil
// warms, of the longer if it still settles in the other.
func (e envelope) join(p, q [2]int) (both [2]int, one bool) {
	at, slope := line(e.level[p[0]:p[1]], p[0])
	bt, tilt := line(e.level[q[0]:q[1]], q[0])
	middle := float64(p[1]+q[0]) / 2
	switch {
	case q[0]-p[1] > slide || math.Abs(at+slope*middle-bt-tilt*middle) > leastStep/2:
		return p, false
	case max(math.Abs(slope), math.Abs(tilt)) < rampSlope*e.hop:
		return [2]int{p[0], q[1]}, true
	case p[1]-p[0] > q[1]-q[0]:
		return p, true
	}
	return q, true
}

// partition cuts y into runs that straight lines fit, so that the sum of the
// weighted squares and of a price for every run is least (optimal partitioning;
// B. Jackson et al., IEEE Signal Process. Lett. 12, 2005). It returns half-open
// ranges.
func partition(y, weight []float64) [][2]int {
	const price = 30 // a run must explain so much χ²
	n := len(y)
	var sums = make([][5]float64, n+1) // Σw, Σwx, Σwxx, Σwy, Σwxy
	square := make([]float64, n+1)     // Σwyy
	for i, v := range y {
		x, w := float64(i), weight[i]
		s := sums[i]
		sums[i+1] = [5]float64{s[0] + w, s[1] + w*x, s[2] + w*x*x, s[3] + w*v, s[4] + w*x*v}
		square[i+1] = square[i] + w*v*v
	}
	misfit := func(i, j int) float64 {
		if j-i < 3 {
			return 0
		}
		a, b := &sums[i], &sums[j]
		w, x, y := b[0]-a[0], b[1]-a[1], b[3]-a[3]
		xx := b[2] - a[2] - x*x/w
		xy := b[4] - a[4] - x*y/w
		return max(0, square[j]-square[i]-y*y/w-xy*xy/xx)
	}
	best := make([]float64, n+1)
	from := make([]int, n+1)
	for j := 1; j <= n; j++ {
		best[j] = math.Inf(1)
		for i := j - 1; i >= 0; i-- {
			if c := best[i] + misfit(i, j) + price; c < best[j] {
				best[j], from[j] = c, i
			}
		}
	}
	var cuts [][2]int
	for j := n; j > 0; j = from[j] {
		cuts = append(cuts, [2]int{from[j], j})
	}
	slices.Reverse(cuts)
	return cuts
}

// trim takes off both ends of the values a…b what does not lie on the line
// through their middle: fades, and a box that has not settled.
func (e envelope) trim(a, b int) ([2]int, bool) {
	if b-a < 3 {
		return [2]int{}, false
	}
	fifth := (b - a) / 5
	at, slope := line(e.level[a+fifth:b-fifth], a+fifth)
	tolerance := max(0.04+e.ripple((a+b)/2), 3*e.scatter((a+b)/2, a, b))
	off := func(i int) bool { return math.Abs(e.level[i]-at-slope*float64(i)) > tolerance }
	for a < b && off(a) {
		a++
	}
	for b > a && off(b-1) {
		b--
	}
	return [2]int{a, b}, b-a >= 3 && math.Abs(slope) < steepest*e.hop
}

// line is the least-squares line through y, whose first value has index first.
func line(y []float64, first int) (at0, slope float64) {
	n := float64(len(y))
	mid := float64(first) + (n-1)/2
	var mean, xy, xx float64
	for i, v := range y {
		x := float64(first+i) - mid
		mean, xy, xx = mean+v/n, xy+x*v, xx+x*x
	}
	if xx > 0 {
		slope = xy / xx
	}
	return mean - slope*mid, slope
}
