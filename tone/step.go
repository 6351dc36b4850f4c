package tone

import (
	"math"
	"math/cmplx"
	"slices"

	"ocarina/design"
	"ocarina/response"
	"ocarina/tone/balance"
	"ocarina/tone/distortion"
)

const floor = 1e-5 // of 20 µPa: what is told as nothing

// step reads a state.
func (c *climber) step(s *balance.State) Step {
	m := c.a.m
	t := Step{Voltage: s.Drive * c.unit, Jumped: s.Leap, Tipped: s.Tipped, Mounts: make(map[string]Travel, len(m.Mounts)), Passives: map[string]float64{}, Ports: make(map[string]float64, len(m.Ports)), Lines: map[string]float64{}, Beyond: []string{}}
	lines := len(c.p.Lines)
	told := func(h []complex128) []complex128 { return h[1 : Reported+1] }
	if c.listener != nil {
		for k := 1; k < lines; k++ {
			c.h[k] = s.At(c.listener, k)
		}
		level := response.Level(c.h[1])
		t.Level = &level
		for _, z := range told(c.h) {
			var l *float64
			if v := cmplx.Abs(z); v > floor*response.Reference {
				db := response.Level(z)
				l = &db
			}
			t.Harmonics = append(t.Harmonics, l)
			t.Phases = append(t.Phases, response.Degrees(z))
		}
		t.THD, t.THDTotal = distortion.OfFundamental(told(c.h)), distortion.OfTotal(told(c.h))
		top, bottom := c.p.Peaks(c.h)
		t.Asymmetry, t.peak = asymmetry(top, bottom), math.Max(top, -bottom)
		if alone := cmplx.Abs(c.listener.Alone(1)) * s.Drive; alone > 0 && c.h[1] != 0 {
			t.Compression = 20 * math.Log10(alone/cmplx.Abs(c.h[1]))
		}
		if c.o.Waveform > 0 {
			t.Waveform = distortion.Waveform(c.h[1:], c.o.Waveform)
		}
	}
	for i, v := range m.Mounts {
		t.Mounts[v.Name] = c.travel(s, i, v, &t)
		if c.listener == nil {
			d := t.Mounts[v.Name].THD
			t.THD, t.THDTotal = math.Max(t.THD, d), math.Max(t.THDTotal, d/math.Hypot(1, d))
			alone, now := cmplx.Abs(c.cones[i].Alone(1))*s.Drive, cmplx.Abs(s.Displacement(i, 1))
			if lag := 20 * math.Log10(alone/now); alone > 0 && now > 0 && (i == 0 || lag > t.Compression) {
				t.Compression = lag
			}
		}
	}
	for i, v := range m.Passives {
		for k := 1; k < lines; k++ {
			c.x[k] = s.At(c.passives[i], k)
		}
		// A cone that drifts presses or draws the passive off its middle too.
		rest := real(s.At(c.passives[i], 0))
		top, bottom := c.p.Peaks(c.x)
		x := math.Max(top+rest, -(bottom + rest))
		t.Passives[v.Name] = x * 1000
		t.use("excursion:"+v.Name, x, v.Xmax)
		t.keep(x, v.Xmax)
	}
	for i, v := range append(append([]*design.DuctModel{}, m.Ports...), m.Lines...) {
		fastest := 0.0
		for _, probe := range c.within[i] {
			for k := 1; k < lines; k++ {
				c.x[k] = s.At(probe, k)
			}
			top, bottom := c.p.Peaks(c.x)
			fastest = math.Max(fastest, math.Max(top, -bottom))
		}
		if i < len(m.Ports) {
			t.Ports[v.Name] = fastest
		} else {
			t.Lines[v.Name] = fastest
		}
		t.use("port:"+v.Name, fastest, v.SpeedLimit)
	}
	for i, d := range m.Drives {
		e := s.Drive * cmplx.Abs(c.a.net.Sources[i].Weight(2*math.Pi*c.f))
		square := 0.0
		for k := 1; k < lines; k++ {
			z := s.At(c.currents[i], k)
			square += real(z)*real(z) + imag(z)*imag(z)
		}
		if i == 0 {
			t.Current = math.Sqrt(square)
			w := complex(s.Drive, 0) * c.a.net.Sources[0].Weight(2*math.Pi*c.f)
			t.Power = real(w * cmplx.Conj(s.At(c.currents[0], 1)))
		}
		t.use("amplifier", e, d.MaxVoltage)
		t.use("amplifier", math.Sqrt(square), d.MaxCurrent)
		t.keep(e, d.MaxVoltage)
		t.keep(math.Sqrt(square), d.MaxCurrent)
	}
	if c.o.Waveform > 0 {
		c.waves(s, &t)
	}
	t.Safe = t.safe <= 1
	for _, u := range t.used {
		if u.part > 1 && !slices.Contains(t.Beyond, u.name) {
			t.Beyond = append(t.Beyond, u.name)
		}
	}
	return t
}

// use notes a limit.
func (t *Step) use(name string, now, limit float64) {
	if limit > 0 {
		t.used = append(t.used, use{name, now / limit})
	}
}

// keep notes what a safe drive must not pass.
func (t *Step) keep(now, limit float64) {
	if limit > 0 {
		t.safe = math.Max(t.safe, now/limit)
	}
}

// safePower is the part of the rated power that is safe to prescribe.
const safePower = 0.5

func (c *climber) travel(s *balance.State, i int, v *design.MountModel, t *Step) Travel {
	l := c.a.net.Cones[i].Large
	for k := 1; k < len(c.p.Lines); k++ {
		c.x[k] = s.Displacement(i, k)
	}
	offset := real(s.Displacement(i, 0))
	top, bottom := c.p.Peaks(c.x)
	told := c.x[1 : Reported+1]
	r := Travel{
		Excursion: math.Sqrt2 * cmplx.Abs(c.x[1]) * 1000, Outward: (top + offset) * 1000, Inward: -(bottom + offset) * 1000,
		Offset: offset * 1000, Asymmetry: asymmetry(top, bottom), THD: distortion.OfFundamental(told),
		Current: math.Sqrt(s.Heating(i)),
	}
	for _, z := range told {
		r.Harmonics = append(r.Harmonics, math.Sqrt2*cmplx.Abs(z)*1000)
	}
	cold := c.a.net.Values[v.Coil.Resistance]
	r.Resistance = cold + s.Added[i]
	r.Power = r.Resistance * s.Heating(i)
	start := c.a.start[i]
	rise := 0.0
	if s.Added[i] != 0 {
		rise = r.Power * l.Thermal.Rise(c.o.Seconds)
	}
	r.Temperature = start + rise - 273.15
	if c.o.Waveform > 0 {
		r.Waveform = distortion.Waveform(c.x[1:], c.o.Waveform)
		for q := range r.Waveform {
			r.Waveform[q] = (r.Waveform[q] + offset) * 1000
		}
	}
	far := math.Max(top+offset, -(bottom + offset))
	t.use("excursion:"+v.Name, far, v.Xmax)
	t.use("stop:"+v.Name, far, l.Stop)
	t.use("power:"+v.Name, r.Power, v.Power)
	t.use("temperature:"+v.Name, rise, l.Thermal.Limit-start)
	t.keep(far, v.Xmax)
	t.keep(r.Power, safePower*v.Power)
	return r
}

func asymmetry(top, bottom float64) float64 {
	if top-bottom <= 0 {
		return 0
	}
	return (top + bottom) / (top - bottom)
}

// drawnHarmonics is up to which harmonic the waves along a duct are told.
const drawnHarmonics = 3

// waves adds the waveforms of passives, of chambers and of the air along ports
// and lines.
func (c *climber) waves(s *balance.State, t *Step) {
	m := c.a.m
	lines := len(c.p.Lines)
	solutions := make([][]complex128, lines)
	for k := range solutions {
		solutions[k] = make([]complex128, c.a.net.Plan.Unknowns())
		s.Solution(k, solutions[k])
	}
	wave := func(at func(k int) complex128, scale float64) []float64 {
		for k := range c.x[:lines] {
			c.x[k] = at(k)
		}
		out := distortion.Waveform(c.x[1:lines], c.o.Waveform)
		for q := range out {
			out[q] = scale * (out[q] + real(c.x[0]))
		}
		return out
	}
	t.PassiveWaveforms, t.ChamberWaveforms, t.Along = map[string][]float64{}, map[string][]float64{}, map[string][]Place{}
	for _, v := range m.Passives {
		t.PassiveWaveforms[v.Name] = wave(func(k int) complex128 { return solutions[k][v.Diaphragm.Displacement] }, 1000)
	}
	for _, v := range m.Chambers {
		t.ChamberWaveforms[v.Name] = wave(func(k int) complex128 { return solutions[k][v.Pressure] }, 1)
	}
	for _, list := range [][]*design.DuctModel{m.Ports, m.Lines} {
		for _, v := range list {
			along := make([][]response.Air, lines)
			for k := range along {
				along[k] = response.Along(v, c.a.net.Values, solutions[k], c.p.Lines[k].Frequency, drawnHarmonics*c.f)
			}
			for i := range along[0] {
				t.Along[v.Name] = append(t.Along[v.Name], Place{
					At: along[0][i].At,
					Travel: wave(func(k int) complex128 {
						if k == 0 {
							return 0 // air that is driven on for good has no middle
						}
						return along[k][i].Travel
					}, 1000),
					Pressure: wave(func(k int) complex128 { return along[k][i].Pressure }, 1),
				})
			}
		}
	}
}
