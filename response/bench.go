// Package response is what is read off a solved network: curves over
// frequency, the peaks and dips of the impedance with their owners, what a
// trial tone does and what limits it, and the derivative of each with respect
// to every dimension.
package response

import (
	"fmt"
	"math"
	"math/cmplx"

	"ocarina/design"
	"ocarina/formula"
	"ocarina/network"
)

// faintest is the least voltage of the first drive that is solved with, V: below
// it squares of its currents leave the range of numbers.
const faintest = 1e-100

// Reference is the sound pressure of 0 dB, Pa.
const Reference = 20e-6

// Bench solves one model, with dimensions that may be changed, at one frequency
// at a time. It belongs to one goroutine; solving allocates nothing.
type Bench struct {
	Model  *design.Model
	Values []float64 // every scalar of the model's graph

	work   *network.Workspace
	whole  *formula.Program
	omega  float64
	source []complex128
	x      []complex128
	t      []complex128
	lambda []complex128
	grad   []complex128
	row    []complex128
	weight []complex128 // of each drive, V
	turn   []complex128 // its derivative in ω
}

// NewBench returns a bench with the dimensions as drawn.
func NewBench(m *design.Model) *Bench {
	n := m.Plan.Unknowns()
	b := &Bench{
		Model: m, Values: m.Graph.Values(), work: m.Plan.Workspace(), whole: m.Graph.Following(),
		source: make([]complex128, n), x: make([]complex128, n), t: make([]complex128, n), lambda: make([]complex128, n),
		grad: make([]complex128, m.Graph.Len()), weight: make([]complex128, len(m.Drives)), turn: make([]complex128, len(m.Drives)),
	}
	if m.Listener != nil {
		b.row = make([]complex128, len(m.Listener.Openings))
	}
	return b
}

// Follow recomputes everything that depends on dimensions. Call it after
// changing Values at a dimension's Ref.
func (b *Bench) Follow() { b.whole.Forward(b.Values) }

// Solve solves at a frequency [Hz]; 0 gives the static solution. Readings refer
// to it until the next.
func (b *Bench) Solve(frequency float64) error {
	b.omega = 2 * math.Pi * frequency
	if err := b.work.Factor(b.omega, b.Values); err != nil {
		return err
	}
	for i, d := range b.Model.Drives {
		e, slope := d.Weight(b.Values, b.omega)
		b.weight[i], b.turn[i] = e, slope
		if i == 0 && frequency > 0 && !(cmplx.Abs(e) >= faintest) {
			return fmt.Errorf("the drive's filters leave nothing at %.6g Hz to read an impedance by", frequency)
		}
		b.source[d.Supply.Current] = e
	}
	b.work.Solve(b.source, b.x)
	for _, u := range b.x {
		if math.IsNaN(real(u)+imag(u)) || math.IsInf(real(u)+imag(u), 0) {
			return fmt.Errorf("the solution at %.6g Hz is not finite: some dimension is out of all proportion", frequency)
		}
	}
	return nil
}

// Workspace gives what the network package can do with the last solve:
// reduction to terminals, further right-hand sides.
func (b *Bench) Workspace() *network.Workspace { return b.work }

// Solution returns the unknowns of the last solve. It is overwritten by the
// next.
func (b *Bench) Solution() []complex128 { return b.x }

// Frequency returns that of the last solve, Hz.
func (b *Bench) Frequency() float64 { return b.omega / (2 * math.Pi) }

// Current returns a drive's current, A.
func (b *Bench) Current(drive int) complex128 { return b.x[b.Model.Drives[drive].Supply.Current] }

// Impedance returns the impedance of a drive's wired load, parts between source
// and mounts included, ohm.
func (b *Bench) Impedance(drive int) complex128 {
	s := b.Model.Drives[drive].Supply
	if s.Resistance == network.None {
		// The source's own voltage: a filter may leave less of it than the
		// solution has digits.
		return b.weight[drive] / b.x[s.Current]
	}
	return b.x[s.Terminal] / b.x[s.Current]
}

// Pressure returns the sound pressure at the listener, Pa, with the delay of
// the distance left out; 0 with nothing at the outside.
func (b *Bench) Pressure() complex128 {
	l := b.Model.Listener
	if l == nil {
		return 0
	}
	l.Row(b.work.Point(), b.row)
	var p complex128
	for i := range l.Openings {
		p += b.row[i] * b.x[l.Openings[i].Flow]
	}
	return p
}

// PressureOf returns what one opening adds to Pressure.
func (b *Bench) PressureOf(opening int) complex128 {
	l := b.Model.Listener
	l.Row(b.work.Point(), b.row)
	return b.row[opening] * b.x[l.Openings[opening].Flow]
}

// Level returns a sound pressure as a level, dB re 20 µPa.
func Level(pressure complex128) float64 {
	return 20 * math.Log10(math.Max(cmplx.Abs(pressure), 1e-30)/Reference)
}

// Excursion returns the peak displacement of a diaphragm one way, m, with its
// phase.
func (b *Bench) Excursion(d *network.Diaphragm) complex128 {
	return math.Sqrt2 * b.x[d.Displacement]
}

// station is a place in a duct where the air speed may be highest: an end, or a
// fraction of the length of a taper.
type station struct {
	unknown network.Unknown
	area    network.Value
	inside  *network.Duct // or nil
	part    float64
}

// stations lists the ends of a section.
func stations(d *network.Duct) [2]station {
	far := d.Area
	if d.ToArea != network.None {
		far = d.ToArea
	}
	near := station{unknown: d.Entry, area: d.Area}
	if d.From == network.Sealed { // no air moves at a closed end
		near = station{unknown: d.Flow, area: far}
	}
	return [2]station{near, {unknown: d.Flow, area: far}}
}

// speed returns the peak air speed at a station of a duct, m/s, averaged over
// the cross-section, positive from From to To.
func (b *Bench) speed(m *design.DuctModel, s station) complex128 {
	flow, area := complex128(0), 0.0
	if s.inside != nil {
		_, flow = s.inside.Inside(b.work.Point(), b.x, s.part)
		area = s.inside.AreaAt(b.work.Point(), s.part)
	} else {
		flow, area = b.x[s.unknown], b.Values[s.area]
	}
	return b.velocity(m, area) * flow
}

// velocity is the peak air speed that a displacement of air makes over an area.
func (b *Bench) velocity(m *design.DuctModel, area float64) complex128 {
	k := complex(0, math.Sqrt2*b.omega/area)
	if m.Turned {
		return -k
	}
	return k
}

// fastest returns the station of a port or line where its air is fastest.
func (b *Bench) fastest(m *design.DuctModel) (at station, v complex128) {
	most := -1.0
	for _, d := range m.Sections {
		for _, s := range stations(d) {
			w := b.speed(m, s)
			if q := real(w)*real(w) + imag(w)*imag(w); q > most {
				most, at, v = q, s, w
			}
		}
		if d.ToArea == network.None {
			continue
		}
		if t, flow, area, inside := b.work.Fastest(d, b.x); inside {
			w := b.velocity(m, area) * flow
			if q := real(w)*real(w) + imag(w)*imag(w); q > most {
				most, at, v = q, station{inside: d, part: t}, w
			}
		}
	}
	return at, v
}

// AirSpeed returns the peak air speed of a port or line at the station where it
// is highest, m/s.
func (b *Bench) AirSpeed(m *design.DuctModel) complex128 {
	_, v := b.fastest(m)
	return v
}

// ChamberPressure returns a chamber's pressure, Pa RMS.
func (b *Bench) ChamberPressure(c *design.ChamberModel) complex128 { return b.x[c.Pressure] }

// Gradient is the derivative of one complex reading.
type Gradient struct {
	Omega  complex128   // per rad/s
	Values []complex128 // per scalar of the graph, indexed by formula.Ref: at a dimension's Ref it is the total derivative
}

// begin clears the gradient in the making.
func (b *Bench) begin() {
	clear(b.grad)
	clear(b.t)
}

// pull adds the derivative of tᵀx to the gradient in the making and returns
// that in ω.
func (b *Bench) pull() (omega complex128) {
	b.work.SolveTransposed(b.t, b.lambda)
	omega = b.work.Gradient(b.lambda, b.x, b.grad)
	for i, d := range b.Model.Drives {
		w := b.lambda[d.Supply.Current]
		d.WeightSlopes(b.Values, b.omega, w, b.grad)
		omega += w * b.turn[i]
	}
	return omega
}

// finish carries derivatives back to the dimensions.
func (b *Bench) finish() { b.whole.Backward(b.Values, b.grad) }

// pullImpedance makes the gradient of Impedance times w.
func (b *Bench) pullImpedance(drive int, w complex128) (omega complex128) {
	s := b.Model.Drives[drive].Supply
	i := b.x[s.Current]
	b.t[s.Terminal] += w / i
	b.t[s.Current] -= w * b.x[s.Terminal] / (i * i)
	return b.pull()
}

// pullPressure makes the gradient of Pressure times w.
func (b *Bench) pullPressure(w complex128) (omega complex128) {
	l := b.Model.Listener
	l.Row(b.work.Point(), b.row)
	for i := range l.Openings {
		b.t[l.Openings[i].Flow] += w * b.row[i]
	}
	omega = b.pull()
	return omega + l.Slopes(b.work.Point(), w, b.x, b.grad, b.row)
}

// ImpedanceGradient returns the derivative of Impedance. The result is
// overwritten by the next gradient.
func (b *Bench) ImpedanceGradient(drive int) Gradient {
	b.begin()
	omega := b.pullImpedance(drive, 1)
	b.finish()
	return Gradient{omega, b.grad}
}

// ImpedanceSlope returns dZ/dω alone.
func (b *Bench) ImpedanceSlope(drive int) complex128 {
	b.begin()
	return b.pullImpedance(drive, 1)
}

// PressureGradient returns the derivative of Pressure.
func (b *Bench) PressureGradient() Gradient {
	b.begin()
	omega := b.pullPressure(1)
	b.finish()
	return Gradient{omega, b.grad}
}

// GroupDelay returns −dφ/dω of Pressure, s.
func (b *Bench) GroupDelay() float64 {
	p := b.Pressure()
	if p == 0 {
		return 0
	}
	b.begin()
	return -imag(b.pullPressure(1) / p)
}

// ExcursionGradient returns the derivative of Excursion.
func (b *Bench) ExcursionGradient(d *network.Diaphragm) Gradient {
	b.begin()
	b.t[d.Displacement] = math.Sqrt2
	omega := b.pull()
	b.finish()
	return Gradient{omega, b.grad}
}

// AirSpeedGradient returns the derivative of AirSpeed, at the station where it
// is highest now.
func (b *Bench) AirSpeedGradient(m *design.DuctModel) Gradient {
	s, v := b.fastest(m)
	b.begin()
	omega := v / complex(b.omega, 0)
	if s.inside != nil {
		omega += s.inside.InsideSlopes(b.work.Point(), b.x, s.part, b.velocity(m, 1), b.t, b.grad)
	} else {
		b.t[s.unknown] = b.velocity(m, b.Values[s.area])
		b.grad[s.area] -= v / complex(b.Values[s.area], 0)
	}
	omega += b.pull()
	b.finish()
	return Gradient{omega, b.grad}
}

// ChamberPressureGradient returns the derivative of ChamberPressure.
func (b *Bench) ChamberPressureGradient(c *design.ChamberModel) Gradient {
	b.begin()
	b.t[c.Pressure] = 1
	omega := b.pull()
	b.finish()
	return Gradient{omega, b.grad}
}

// decibelsPer is 20/ln 10: what a relative change is in dB.
const decibelsPer = 20 / math.Ln10

// MeanLevel returns the plain mean of the levels [dB] at the tones [Hz].
func (b *Bench) MeanLevel(tones []float64) (float64, error) {
	sum := 0.0
	for _, f := range tones {
		if err := b.Solve(f); err != nil {
			return 0, err
		}
		sum += Level(b.Pressure())
	}
	return sum / float64(len(tones)), nil
}

// MeanLevelGradient returns MeanLevel and writes its derivative with respect to
// each of the model's dimensions [dB per SI unit] to slopes.
func (b *Bench) MeanLevelGradient(tones []float64, slopes []float64) (float64, error) {
	sum := 0.0
	clear(b.grad)
	for _, f := range tones {
		if err := b.Solve(f); err != nil {
			return 0, err
		}
		p := b.Pressure()
		sum += Level(p)
		clear(b.t)
		b.pullPressure(complex(decibelsPer/float64(len(tones)), 0) / p)
	}
	b.finish()
	for i := range b.Model.Dimensions {
		slopes[i] = real(b.grad[b.Model.Dimensions[i].Ref])
	}
	return sum / float64(len(tones)), nil
}
