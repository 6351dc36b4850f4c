package response

import (
	"math"
	"math/cmplx"

	"ocarina/design"
)

// Curves are the phasors a sweep gives, one row for each frequency: RMS
// pressures and currents, peak excursions and air speeds.
type Curves struct {
	Frequency  []float64      // Hz
	Impedance  []complex128   // of the first drive's load, ohm
	Pressure   []complex128   // at the listener, Pa; nil with nothing outside
	GroupDelay []float64      // s; nil if not asked for
	Mounts     [][]complex128 // excursion of each mount, m
	Passives   [][]complex128 // and passive
	Ports      [][]complex128 // air speed of each port, m/s
	Lines      [][]complex128
	Chambers   [][]complex128 // pressure of each chamber, Pa
}

// Prepare makes room for n frequencies.
func (c *Curves) Prepare(m *design.Model, n int) {
	grid := func(parts int) [][]complex128 {
		g := make([][]complex128, parts)
		for i := range g {
			g[i] = make([]complex128, n)
		}
		return g
	}
	c.Frequency, c.Impedance = make([]float64, n), make([]complex128, n)
	c.Pressure = nil
	if m.Listener != nil {
		c.Pressure = make([]complex128, n)
	}
	c.GroupDelay = nil
	c.Mounts, c.Passives = grid(len(m.Mounts)), grid(len(m.Passives))
	c.Ports, c.Lines, c.Chambers = grid(len(m.Ports)), grid(len(m.Lines)), grid(len(m.Chambers))
}

// Sweep solves at each frequency [Hz] and fills c, which must have been
// prepared for their number. It allocates nothing.
func (b *Bench) Sweep(frequency []float64, c *Curves) error {
	m := b.Model
	for n, f := range frequency {
		if err := b.Solve(f); err != nil {
			return err
		}
		c.Frequency[n] = f
		c.Impedance[n] = b.Impedance(0)
		if c.Pressure != nil {
			c.Pressure[n] = b.Pressure()
		}
		if c.GroupDelay != nil {
			c.GroupDelay[n] = b.GroupDelay()
		}
		for i, v := range m.Mounts {
			c.Mounts[i][n] = b.Excursion(v.Diaphragm)
		}
		for i, v := range m.Passives {
			c.Passives[i][n] = b.Excursion(v.Diaphragm)
		}
		for i, v := range m.Ports {
			c.Ports[i][n] = b.AirSpeed(v)
		}
		for i, v := range m.Lines {
			c.Lines[i][n] = b.AirSpeed(v)
		}
		for i, v := range m.Chambers {
			c.Chambers[i][n] = b.ChamberPressure(v)
		}
	}
	return nil
}

// LogSpaced returns n frequencies from one to another, both included, evenly
// spaced in their logarithm.
func LogSpaced(from, to float64, n int) []float64 {
	f := make([]float64, n)
	for i := range f {
		f[i] = from * math.Pow(to/from, float64(i)/float64(max(n-1, 1)))
	}
	f[0] = from
	if n > 1 {
		f[n-1] = to
	}
	return f
}

// ExcursionCurve is a diaphragm's travel over frequency.
type ExcursionCurve struct {
	Excursion []float64 `json:"excursion_mm"` // peak, one way
	Phase     []float64 `json:"excursion_phase_deg"`
}

// SpeedCurve is a duct's air speed over frequency.
type SpeedCurve struct {
	Speed []float64 `json:"air_speed_m_s"` // peak, where it is highest
	Phase []float64 `json:"air_speed_phase_deg"`
}

// PressureCurve is a chamber's pressure over frequency.
type PressureCurve struct {
	Pressure []float64 `json:"pressure_pa"` // RMS
	Phase    []float64 `json:"pressure_phase_deg"`
}

// Prediction is a sweep in the units people read. Phases are relative to the
// source voltage, in degrees in (−180, 180].
type Prediction struct {
	Frequency      []float64                 `json:"frequency_hz"`
	Impedance      []float64                 `json:"impedance_ohm"`
	ImpedancePhase []float64                 `json:"impedance_phase_deg"`
	Level          []float64                 `json:"level_db"`
	LevelPhase     []float64                 `json:"level_phase_deg"`
	GroupDelay     []float64                 `json:"group_delay_ms"`
	Mounts         map[string]ExcursionCurve `json:"mounts"`
	Passives       map[string]ExcursionCurve `json:"passives"`
	Ports          map[string]SpeedCurve     `json:"ports"`
	Lines          map[string]SpeedCurve     `json:"lines"`
	Chambers       map[string]PressureCurve  `json:"chambers"`
	Warnings       []string                  `json:"warnings"`
}

// Predict sweeps a model over frequencies [Hz].
func Predict(m *design.Model, frequency []float64) (*Prediction, error) {
	return NewBench(m).Predict(frequency)
}

// Predict sweeps the bench over frequencies [Hz].
func (b *Bench) Predict(frequency []float64) (*Prediction, error) {
	m := b.Model
	var c Curves
	c.Prepare(m, len(frequency))
	if m.Listener != nil {
		c.GroupDelay = make([]float64, len(frequency))
	}
	if err := b.Sweep(frequency, &c); err != nil {
		return nil, err
	}
	p := &Prediction{
		Frequency: c.Frequency, Mounts: map[string]ExcursionCurve{}, Passives: map[string]ExcursionCurve{},
		Ports: map[string]SpeedCurve{}, Lines: map[string]SpeedCurve{}, Chambers: map[string]PressureCurve{},
	}
	p.Impedance, p.ImpedancePhase = polar(c.Impedance, 1)
	if c.Pressure != nil {
		p.Level, p.LevelPhase = polar(c.Pressure, 1)
		for i := range p.Level {
			p.Level[i] = Level(c.Pressure[i])
		}
		p.GroupDelay = make([]float64, len(frequency))
		for i := range p.GroupDelay {
			p.GroupDelay[i] = c.GroupDelay[i] * 1000
		}
	}
	for i, v := range m.Mounts {
		a, phase := polar(c.Mounts[i], 1000)
		p.Mounts[v.Name] = ExcursionCurve{a, phase}
	}
	for i, v := range m.Passives {
		a, phase := polar(c.Passives[i], 1000)
		p.Passives[v.Name] = ExcursionCurve{a, phase}
	}
	for i, v := range m.Ports {
		a, phase := polar(c.Ports[i], 1)
		p.Ports[v.Name] = SpeedCurve{a, phase}
	}
	for i, v := range m.Lines {
		a, phase := polar(c.Lines[i], 1)
		p.Lines[v.Name] = SpeedCurve{a, phase}
	}
	for i, v := range m.Chambers {
		a, phase := polar(c.Chambers[i], 1)
		p.Chambers[v.Name] = PressureCurve{a, phase}
	}
	p.Warnings = b.Warnings(frequency)
	return p, nil
}

func polar(z []complex128, scale float64) (size, phase []float64) {
	size, phase = make([]float64, len(z)), make([]float64, len(z))
	for i, v := range z {
		size[i], phase[i] = cmplx.Abs(v)*scale, Degrees(v)
	}
	return size, phase
}

// Degrees returns the phase of a phasor in (−180, 180].
func Degrees(z complex128) float64 {
	d := cmplx.Phase(z) * 180 / math.Pi
	if d <= -180 {
		d += 360
	}
	return d + 0 // so that −0 is 0
}
