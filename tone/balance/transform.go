package balance

import "math"

// transform goes between the lines of a spectrum and even steps of the
// artificial period. Steps are taken four at a time: cosine and sine of the
// angles θ, π+θ, −θ and π−θ differ by signs only, by the parity of the line.
type transform struct {
	steps    int // a multiple of four
	even     int // lines of even index come first
	order    []int
	cos, sin []float64 // a row of all lines for each quarter step
	re, im   []float64
}

func (t *transform) prepare(lines []Line) {
	most := 0
	for _, l := range lines {
		most = max(most, l.index, -l.index)
	}
	// Products of third order of any lines fall on lines above the last.
	t.steps = max(64, (6*most+19)/16*16)
	for _, parity := range [2]int{0, 1} {
		for i := 1; i < len(lines); i++ {
			if lines[i].index&1 == parity {
				t.order = append(t.order, i)
			}
		}
		if parity == 0 {
			t.even = len(t.order)
		}
	}
	for q := 0; q <= t.steps/4; q++ {
		for _, i := range t.order {
			s, c := math.Sincos(2 * math.Pi * float64(lines[i].index*q%t.steps) / float64(t.steps))
			t.cos = append(t.cos, c)
			t.sin = append(t.sin, s)
		}
	}
	t.re, t.im = make([]float64, len(t.order)), make([]float64, len(t.order))
}

// toSteps writes the waveform of signal j of n, its spectrum times a factor of
// jω where slope is given.
func (t *transform) toSteps(y []complex128, j, n int, omega []float64, slope bool, out []float64) {
	re, im := t.re, t.im
	offset := real(y[j])
	if slope {
		offset = 0
	}
	for m, i := range t.order {
		z := y[i*n+j]
		if slope {
			z = complex(-omega[i]*imag(z), omega[i]*real(z))
		}
		re[m], im[m] = real(z), imag(z)
	}
	lines, half, quarter := len(t.order), t.steps/2, t.steps/4
	reE, reO := re[:t.even], re[t.even:]
	imE, imO := im[:t.even], im[t.even:]
	for q := 0; q <= quarter; q++ {
		c, s := t.cos[q*lines:(q+1)*lines], t.sin[q*lines:(q+1)*lines]
		cE, cO, sE, sO := c[:t.even], c[t.even:], s[:t.even], s[t.even:]
		var ce, co, se, so float64
		for m, v := range reE {
			ce += v * cE[m]
			se -= imE[m] * sE[m]
		}
		for m, v := range reO {
			co += v * cO[m]
			so -= imO[m] * sO[m]
		}
		ce += offset
		out[q] = ce + co + se + so
		out[half+q] = ce - co + se - so
		out[half-q] = ce - co - se + so
		if q > 0 {
			out[t.steps-q] = ce + co - se - so
		}
	}
}

// toLines writes the spectrum of a waveform to signal j of n.
func (t *transform) toLines(in []float64, y []complex128, j, n int) {
	re, im := t.re, t.im
	clear(re)
	clear(im)
	lines, half, quarter := len(t.order), t.steps/2, t.steps/4
	sum := 0.0
	for q := 0; q <= quarter; q++ {
		a, b := in[q], in[half+q]
		var d, e float64
		if q > 0 && q < quarter {
			d, e = in[t.steps-q], in[half-q]
		}
		sum += a + b + d + e
		ce, se, co, so := a+b+d+e, a+b-d-e, a-b+d-e, a-b-d+e
		c, s := t.cos[q*lines:(q+1)*lines], t.sin[q*lines:(q+1)*lines]
		for m, v := range c[:t.even] {
			re[m] += ce * v
			im[m] -= se * s[m]
		}
		for m := t.even; m < lines; m++ {
			re[m] += co * c[m]
			im[m] -= so * s[m]
		}
	}
	k := 2 / float64(t.steps)
	for m, i := range t.order {
		y[i*n+j] = complex(k*re[m], k*im[m])
	}
	y[j] = complex(sum/float64(t.steps), 0)
}
