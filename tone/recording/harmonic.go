package recording

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"ocarina/tone/decimate"
	"ocarina/tone/sinefit"
)

// harmonics are how many are read.
const harmonics = 10

// windowed is from how many periods on a fit is weighted by a Hann window.
const windowed = 12

// A part is a stretch with its fit.
type part struct {
	stretch
	level     *decimate.Level
	x         []float64 // the stretch at that level
	first     int       // index of x[0] in the level
	frequency float64   // Hz
	uncertain float64   // standard error of the frequency as tuned, Hz
	number    int       // harmonics in the fit
	hum       []humLine // mains lines in the fit, after the harmonics
	covered   []humLine // mains lines that cannot be told from a harmonic
	window    sinefit.Window
	model     *sinefit.Model
	fit       sinefit.Fit
	noise     density // of the residual
	residual  []float64
}

// newPart cuts the samples of a stretch out of the slowest level that holds
// the harmonics of its frequency.
func newPart(levels []decimate.Level, s stretch) (*part, error) {
	l := decimate.For(levels, (harmonics+0.5)*s.frequency)
	p := &part{stretch: s, level: l, frequency: s.frequency}
	p.first = (s.from + l.Every - 1) / l.Every
	last := min(s.to/l.Every, len(l.X)-1)
	if last <= p.first {
		return nil, fmt.Errorf("no samples")
	}
	p.x = l.X[p.first : last+1]
	p.number = min(harmonics, int(0.49*l.Rate/p.frequency))
	if p.number < 1 {
		return nil, fmt.Errorf("the sample rate of %g Hz is too low for a tone of %.4g Hz", l.Rate, p.frequency)
	}
	if p.periods() >= windowed {
		p.window = sinefit.Hann
	}
	return p, nil
}

func (p *part) seconds() float64 { return float64(len(p.x)) / p.level.Rate }
func (p *part) periods() float64 { return p.seconds() * p.frequency }

// omega turns hertz into radians per sample.
func (p *part) omega(f float64) float64 { return 2 * math.Pi * f / p.level.Rate }

func (p *part) lines() []float64 {
	lines := make([]float64, 0, p.number+len(p.hum))
	for h := 1; h <= p.number; h++ {
		lines = append(lines, p.omega(float64(h)*p.frequency))
	}
	for _, h := range p.hum {
		lines = append(lines, p.omega(h.frequency))
	}
	return lines
}

// solve fits the part at its frequency and looks at what is left.
func (p *part) solve() error {
	if err := p.fitLines(); err != nil {
		return err
	}
	p.residual = make([]float64, len(p.x))
	p.model.Residual(p.residual, p.x, p.fit)
	p.noise = densityOf(p.residual, p.level.Rate)
	p.noise = p.noise.without(p.notches(3 * p.noise.wide))
	return nil
}

func (p *part) fitLines() error {
	m, err := sinefit.New(len(p.x), p.window, p.lines())
	if err != nil {
		return err
	}
	p.model, p.fit = m, m.Fit(p.x)
	return nil
}

// move shifts the frequency, by no more than half a turn over the stretch, beyond
// which a drift is no small matter, and returns by how many turns.
func (p *part) move(step float64) float64 {
	most := 0.5 / p.seconds()
	step = min(most, max(-most, step))
	p.frequency += step
	return math.Abs(step) * p.seconds()
}

// approach moves the frequency to where the fundamental turns no more, to a
// hundredth of a turn, and looks at what is left.
func (p *part) approach() error {
	for range 6 {
		if err := p.fitLines(); err != nil {
			return err
		}
		if p.move(imag(p.fit.Drift)*p.level.Rate/(2*math.Pi)) < 0.01 {
			break
		}
	}
	if math.Abs(p.frequency-p.stretch.frequency) > 2/p.seconds()+0.01*p.stretch.frequency {
		return fmt.Errorf("no steady tone")
	}
	if err := p.solve(); err != nil {
		return err
	}
	_, p.uncertain = p.turning()
	return nil
}

// tune moves the frequency, already close, to where no harmonic turns any more,
// each heard as surely as it knows.
func (p *part) tune() error {
	for range 3 {
		if err := p.solve(); err != nil {
			return err
		}
		step, uncertain := p.turning()
		p.uncertain = uncertain
		if p.move(step) < 1e-4 {
			break
		}
	}
	return nil
}

// turning is by how much the frequency is too low, in Hz, and the standard error
// of that: the mean of what the harmonics say, weighted by their errors. A mains
// line on a harmonic turns it by the distance of the two times the ratio of their
// amplitudes.
func (p *part) turning() (step, uncertain float64) {
	hertz := p.level.Rate / (2 * math.Pi)
	drifts := p.model.Drifts(p.residual, p.fit)
	var sum, weight float64
	for i := range p.number {
		h := float64(i + 1)
		a := cmplx.Abs(p.fit.Phasor[i])
		s, _ := p.noise.around(h*p.frequency, p.frequency/2)
		variance := hertz * hertz * s * p.level.Rate / 2 * p.model.FrequencyVariance(a)
		for _, c := range p.covered {
			if c.harmonic == i+1 {
				variance += math.Pow(c.apart*c.rms/a, 2)
			}
		}
		// Only what is sure to a small part of a bin speaks, and has no mains line
		// beside it that would hide its turning; but the fundamental, whose turning
		// is part of the fit, always does.
		beside := slices.ContainsFunc(p.hum, func(l humLine) bool {
			return math.Abs(l.frequency-h*p.frequency) < 4*p.noise.wide
		})
		if i > 0 && (beside || !(variance < math.Pow(0.05*p.noise.wide, 2))) {
			continue
		}
		w := h * h / (variance + math.Pow(1e-9*p.frequency, 2))
		sum += w * imag(drifts[i]) * hertz / h
		weight += w
	}
	return sum / weight, 1 / math.Sqrt(weight)
}

// notches leave the fitted lines and all multiples of the fundamental out of the
// noise.
func (p *part) notches(reach float64) []notch {
	var out []notch
	top := p.level.Rate / 2
	for f := p.frequency; f < top; f += p.frequency {
		out = append(out, notch{f, reach})
	}
	for _, h := range p.hum {
		out = append(out, notch{h.frequency, 3 * p.noise.wide})
	}
	return append(out, notch{0, 3 * p.noise.wide})
}

// gain is what the level's filters do to f.
func (p *part) gain(f float64) float64 { return p.level.Gain(f) }

// fundamental is the RMS value of harmonic 1, in full scale.
func (p *part) fundamental() float64 {
	return cmplx.Abs(p.fit.Phasor[0]) / p.gain(p.frequency)
}

// noiseAt is the RMS noise in the analysis band of line i at f Hz, in full
// scale, and from how many independent values it is known.
func (p *part) noiseAt(i int, f float64) (floor, count float64) {
	s, count := p.noise.around(f, p.frequency/2)
	return math.Sqrt(s*p.level.Rate/2*p.model.Variance(i)) / p.gain(f), count
}

// stands says whether the fundamental stands clear of the noise.
func (p *part) stands() bool {
	floor, count := p.noiseAt(0, p.frequency)
	return count > 0 && p.fundamental() > 8*floor
}

// besides is the mean square that the mains lines beside a harmonic at f add to
// its error. A line whose frequency is off by e turns by ±π·e·T against its fit to
// either end of the stretch; about a third of that, as a share of the line, is
// what neighbours within four bins take up.
func (p *part) besides(f float64) float64 {
	var sum float64
	for i, l := range p.hum {
		if math.Abs(l.frequency-f) < 4*p.noise.wide {
			a := cmplx.Abs(p.fit.Phasor[p.number+i]) / p.gain(l.frequency)
			sum += math.Pow(a*math.Pi*l.error*p.seconds()/3, 2)
		}
	}
	return sum
}

// strays is the mean square that mains lines which pass for a harmonic add to
// another in a fit without a window: what they turn against it, and of that as
// much as leaks so far.
func (p *part) strays(harmonic int) float64 {
	var sum float64
	for _, c := range p.covered {
		if turns := math.Abs(float64(c.harmonic-harmonic)) * p.periods(); turns > 0 {
			sum += 2 * math.Pow(c.rms*min(1, math.Pi*c.apart*p.seconds())/(math.Pi*turns), 2)
		}
	}
	return sum
}

// read turns the fit into harmonics, in full scale.
func (p *part) read() (list []Harmonic, phasors []complex128) {
	turn := cmplx.Rect(1, -cmplx.Phase(p.fit.Phasor[0]))
	fundamental := p.fundamental()
	shift := complex128(1)
	for i := range p.number {
		f := float64(i+1) * p.frequency
		shift *= turn
		phasor := p.fit.Phasor[i] * shift / complex(p.gain(f), 0)
		floor, count := p.noiseAt(i, f)
		// Two standard errors of the floor's own estimate on top of it.
		variance := floor * floor * (1 + 2/math.Sqrt(max(count, 1)))
		h := Harmonic{
			Number: i + 1, Frequency: f,
			RMS: cmplx.Abs(phasor), Phase: cmplx.Phase(phasor),
			Floor: floor,
		}
		for _, c := range p.covered {
			if c.harmonic == i+1 {
				h.Hum = h.Hum || (c.sure && c.rms > floor/2)
				variance += c.rms * c.rms
			}
		}
		variance += p.besides(f)
		if p.window != sinefit.Hann {
			variance += p.noise.leaks(f)/(p.gain(f)*p.gain(f)) + p.strays(i+1)
		}
		// Rounding, and filters whose gain is known to so much.
		variance += math.Pow(1e-7*fundamental, 2)
		h.Error = math.Sqrt(variance)
		list = append(list, h)
		phasors = append(phasors, phasor)
	}
	return list, phasors
}
