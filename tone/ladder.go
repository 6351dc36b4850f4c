// Package tone predicts what an enclosure does at its trial tones as the drive
// goes up: how loud, how clean, how far the cone travels and what gives way
// first. What was recorded of it is read by the packages below this one.
package tone

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"
	"strings"

	"ocarina/design"
	"ocarina/network"
	"ocarina/response"
	"ocarina/tone/balance"
)

// Reported is how many harmonics a step tells, the fundamental included.
const Reported = 10

// Options say what to predict. The zero value takes the design's tones and a
// ladder of its own for each.
type Options struct {
	Tones  []float64 // Hz; none: the design's
	Drives []float64 // V RMS at the first amplifier, ascending; none: each tone's own
	Steps  int       // of such a ladder; 0: 20
	// Seconds after which the temperature of the coils is read, at each drive
	// from cold; 0: 60.
	Seconds float64
	Cold    bool    // coils stay as they are
	Clean   float64 // total harmonic distortion that still counts as clean, of the fundamental; 0: 0.03
	// Waveform is how many steps of a period to tell of each waveform; 0: none.
	Waveform int
	// Harmonics solved for before finding that more are needed; 0: 12.
	Harmonics int
}

func (o Options) filled(m *design.Model) (Options, error) {
	if len(o.Tones) == 0 {
		for _, q := range m.Design.Tones {
			o.Tones = append(o.Tones, q.SI)
		}
	}
	if len(o.Tones) == 0 {
		return o, fmt.Errorf("found no tones; wanted some in the design or asked for")
	}
	for _, f := range o.Tones {
		if !(f >= design.MinFrequency) || f > design.MaxFrequency {
			return o, fmt.Errorf("found a tone of %g Hz; wanted from %g to %g Hz", f, design.MinFrequency, design.MaxFrequency)
		}
	}
	for i, v := range o.Drives {
		if !(v > 0) || math.IsInf(v, 0) || i > 0 && v <= o.Drives[i-1] {
			return o, fmt.Errorf("found a drive of %g V at place %d; wanted positive ones, ascending", v, i+1)
		}
	}
	if o.Steps == 0 {
		o.Steps = 20
	}
	if o.Seconds == 0 {
		o.Seconds = 60
	}
	if o.Clean == 0 {
		o.Clean = 0.03
	}
	if o.Harmonics == 0 {
		o.Harmonics = 12
	}
	switch {
	case o.Steps < 2 || o.Steps > 1000:
		return o, fmt.Errorf("found %d steps; wanted 2 to 1000", o.Steps)
	case !(o.Seconds > 0) || math.IsInf(o.Seconds, 0):
		return o, fmt.Errorf("found a time of %g s; wanted one above zero", o.Seconds)
	case !(o.Clean > 0) || math.IsInf(o.Clean, 0):
		return o, fmt.Errorf("found a distortion of %g that counts as clean; wanted one above zero", o.Clean)
	case o.Harmonics < Reported || o.Harmonics > 100:
		return o, fmt.Errorf("found %d harmonics; wanted %d to 100", o.Harmonics, Reported)
	case o.Waveform < 0 || o.Waveform > 10000:
		return o, fmt.Errorf("found %d points of a period; wanted at most 10000", o.Waveform)
	}
	return o, nil
}

// Ladder is what each tone does as the drive goes up.
type Ladder struct {
	Tones    []Tone   `json:"tones"`
	Seconds  float64  `json:"seconds"`     // after which temperatures are read
	Clean    float64  `json:"clean_thd_f"` // what still counts as clean
	Reading  string   `json:"reading"`     // how the tones compare
	Assumed  []string `json:"assumed"`     // what was taken for granted
	Cautions []string `json:"cautions"`    // where people or coils can be hurt
	Warnings []string `json:"warnings"`
}

// Tone is one tone's ladder.
type Tone struct {
	Frequency float64 `json:"frequency_hz"`
	Steps     []Step  `json:"steps"`
	// FirstLimit is the first limit reached, as in "excursion:cone", "power:cone",
	// "temperature:cone", "stop:cone", "port:mouth", "amplifier" or "none", with the
	// drive and level there, between steps by interpolation.
	FirstLimit   string   `json:"first_limit"`
	LimitVoltage *float64 `json:"limit_voltage_v"`
	LimitLevel   *float64 `json:"limit_level_db"`
	// The highest clean level and its drive; null where even the softest is not.
	// CleanAll says that every step is clean.
	CleanVoltage *float64 `json:"clean_voltage_v"`
	CleanLevel   *float64 `json:"clean_level_db"`
	CleanAll     bool     `json:"clean_all"`
	// SafeVoltage keeps every cone inside xmax, every coil under half its rated
	// power and the amplifier within its limits, with cold coils and with warm
	// ones; null where nothing bounds it.
	SafeVoltage *float64 `json:"safe_voltage_v"`
	SafeLevel   *float64 `json:"safe_level_db"`
	// LostAbove is the highest drive at which a steady state was found, where it
	// was not found at one asked for; null otherwise.
	LostAbove *float64 `json:"lost_above_v"`
	// DoublesAbove is the highest drive on the way up from which on the motion
	// repeats itself every second period only, so that the steady states told above
	// it do not last; null if it does not come to that.
	DoublesAbove *float64 `json:"doubles_above_v"`
	Reading      string   `json:"reading"`

	climbed []Step           // the way up, closely: Steps and those between and below
	states  []*balance.State // of climbed, until they have been looked at
	held    bool             // the air holds every cone still, see climber.held
}

// Step is one tone at one drive.
type Step struct {
	Voltage   float64    `json:"voltage_v"`    // of the first amplifier, RMS
	Level     *float64   `json:"level_db"`     // of the fundamental at the listener; null with nothing outside
	Harmonics []*float64 `json:"harmonics_db"` // levels of harmonics 1 to 10 at the listener; null below −100 dB
	Phases    []float64  `json:"harmonic_phases_deg"`
	// Distortion and compression are those at the listener; with nothing outside
	// those of the travel of the cone that is worst in each.
	THDTotal    float64            `json:"thd_r"`          // harmonics over the total, a ratio (IEC 60268)
	THD         float64            `json:"thd_f"`          // over the fundamental
	Asymmetry   float64            `json:"asymmetry"`      // of the waveform at the listener, (top − |bottom|)/(top + |bottom|)
	Compression float64            `json:"compression_db"` // by how much the fundamental lags behind a linear cold driver's
	Current     float64            `json:"current_a"`      // of the first amplifier, RMS
	Power       float64            `json:"power_w"`        // it gives
	Mounts      map[string]Travel  `json:"mounts"`
	Passives    map[string]float64 `json:"passives_mm"` // farthest from rest, peak, offset included
	Ports       map[string]float64 `json:"ports_m_s"`   // air speed, peak, where it is highest
	Lines       map[string]float64 `json:"lines_m_s"`
	Jumped      bool               `json:"jumped"` // the state does not go on from the step before: the cone jumps
	Tipped      bool               `json:"tipped"` // a cone's middle is not held and has gone to one side
	Beyond      []string           `json:"beyond"` // limits that are passed
	Safe        bool               `json:"safe"`   // see Tone.SafeVoltage
	// Waveforms of one period, where asked for: at the listener, of each passive's
	// travel and each chamber's pressure, and of the air along each port and line.
	Waveform         []float64            `json:"waveform_pa,omitempty"`
	PassiveWaveforms map[string][]float64 `json:"passive_waveforms_mm,omitempty"`
	ChamberWaveforms map[string][]float64 `json:"chamber_waveforms_pa,omitempty"`
	Along            map[string][]Place   `json:"along,omitempty"`

	peak float64 // of the pressure at the listener, Pa
	used []use
	safe float64 // the most of what is safe that is used
}

// use is how much of a limit is used, 1 all of it.
type use struct {
	name string
	part float64
}

// Travel is what a mount does at a step; of several members each.
type Travel struct {
	Excursion   float64   `json:"excursion_mm"` // fundamental, peak
	Outward     float64   `json:"outward_mm"`   // farthest from rest, offset included
	Inward      float64   `json:"inward_mm"`
	Offset      float64   `json:"offset_mm"` // of its middle, positive outward
	Asymmetry   float64   `json:"asymmetry"`
	Harmonics   []float64 `json:"harmonics_mm"` // 1 to 10, peak
	THD         float64   `json:"thd_f"`
	Current     float64   `json:"current_a"` // RMS
	Power       float64   `json:"power_w"`   // turned into heat in its coil
	Temperature float64   `json:"temperature_c"`
	Resistance  float64   `json:"resistance_ohm"`
	Waveform    []float64 `json:"waveform_mm,omitempty"` // of one period
}

// Place is a place along a port or line, with one period of its air.
type Place struct {
	At       float64   `json:"at"`        // 0 at the from end, 1 at the to end
	Travel   []float64 `json:"travel_mm"` // around its middle, positive towards the to end
	Pressure []float64 `json:"pressure_pa"`
}

// Predict climbs the ladder of each tone.
func Predict(m *design.Model, options Options) (*Ladder, error) {
	o, err := options.filled(m)
	if err != nil {
		return nil, err
	}
	a, err := assemble(m)
	if err != nil {
		return nil, err
	}
	l := &Ladder{Seconds: o.Seconds, Clean: o.Clean, Assumed: a.assumed, Warnings: append([]string{}, a.off...)}
	if l.Assumed == nil {
		l.Assumed = []string{}
	}
	if len(m.Passives) > 0 {
		l.Warnings = append(l.Warnings, "Passive radiators are taken as linear.")
	}
	bench := response.NewBench(m)
	for _, f := range o.Tones {
		t, err := a.tone(bench, f, o)
		if err != nil {
			return nil, err
		}
		l.Tones = append(l.Tones, *t)
	}
	l.Reading = reading(l.Tones)
	l.Cautions = l.caution()
	return l, nil
}

// Add joins another ladder's tones to this one and judges the whole again.
func (l *Ladder) Add(other *Ladder) {
	l.Tones = append(l.Tones, other.Tones...)
	l.Reading = reading(l.Tones)
	l.Cautions = l.caution()
}

// climber goes up one tone's ladder.
type climber struct {
	a        *assembled
	o        Options
	f        float64
	p        *balance.Problem
	follow   *balance.Follower
	unit     float64 // V of the first amplifier at drive 1
	listener *balance.Probe
	currents []*balance.Probe
	cones    []*balance.Probe // with nothing outside
	passives []*balance.Probe
	within   [][]*balance.Probe // air speeds along each port and line
	lines    int                // harmonics solved for
	linear   *response.Bench    // solved at the tone, where a taper asks for it
	h        []complex128       // a spectrum at the listener
	x        []complex128       // and of something else
}

// denser is how many times as many lines are taken where they prove too few, up
// to most: a cone that strikes needs some fifty.
const (
	denser = 2
	most   = 100
)

// enough is the part of a signal's strongest line that its last lines may hold
// before more are taken.
const enough = 1e-3

func (a *assembled) climber(f float64, o Options, harmonics int) (*climber, error) {
	c := &climber{a: a, o: o, f: f}
	return c, c.prepare(harmonics)
}

func (c *climber) prepare(harmonics int) error {
	m := c.a.m
	p, err := c.a.net.Tone(c.f, harmonics)
	if err != nil {
		return err
	}
	c.heat(p)
	c.p, c.follow, c.lines = p, p.Follow(), harmonics
	c.unit = cmplx.Abs(c.a.net.Sources[0].Weight(2 * math.Pi * c.f))
	if !(c.unit > 0) {
		return fmt.Errorf("found no voltage at %g Hz at the first amplifier; wanted some", c.f)
	}
	c.probes(m)
	c.h = make([]complex128, harmonics+1)
	c.x = make([]complex128, harmonics+1)
	return nil
}

// heat makes the coils of a problem warm up as the options have it.
func (c *climber) heat(p *balance.Problem) {
	for i := range c.a.net.Cones {
		if !c.o.Cold {
			p.Heat(i, c.a.net.Cones[i].Large.Thermal.Rise(c.o.Seconds), c.a.start[i])
		}
	}
}

func (c *climber) probes(m *design.Model) {
	values := c.a.net.Values
	if m.Listener != nil {
		c.listener = listen(m, c.p, values)
	}
	one := func(u network.Unknown, weight func(f float64) complex128) *balance.Probe {
		return c.p.Probe(func(f float64) []balance.Term { return []balance.Term{{Unknown: u, Weight: weight(f)}} })
	}
	plain := func(float64) complex128 { return 1 }
	c.cones = nil
	for _, v := range m.Mounts {
		if c.listener == nil {
			c.cones = append(c.cones, one(v.Diaphragm.Displacement, plain))
		}
	}
	c.currents, c.passives, c.within = nil, nil, nil
	for _, d := range m.Drives {
		c.currents = append(c.currents, one(d.Supply.Current, plain))
	}
	for _, v := range m.Passives {
		c.passives = append(c.passives, one(v.Diaphragm.Displacement, plain))
	}
	for _, list := range [][]*design.DuctModel{m.Ports, m.Lines} {
		for _, v := range list {
			var probes []*balance.Probe
			for _, d := range v.Sections {
				speed := func(u network.Unknown, area network.Value) {
					probes = append(probes, one(u, func(f float64) complex128 { return complex(0, 2*math.Pi*f/values[area]) }))
				}
				far := d.Area
				if d.ToArea != network.None {
					far = d.ToArea
				}
				if d.From != network.Sealed {
					speed(d.Entry, d.Area)
				}
				speed(d.Flow, far)
				if t, inside := c.fastest(d); inside {
					probes = append(probes, c.inside(d, t))
				}
			}
			c.within = append(c.within, probes)
		}
	}
}

// fastest is where inside a taper the air is fastest while the driver is linear.
func (c *climber) fastest(d *network.Duct) (t float64, inside bool) {
	if d.ToArea == network.None {
		return 0, false
	}
	if c.linear == nil {
		c.linear = response.NewBench(c.a.m)
		if c.linear.Solve(c.f) != nil {
			return 0, false
		}
	}
	t, _, _, inside = c.linear.Workspace().Fastest(d, c.linear.Solution())
	return t, inside
}

// inside reads the speed of the air at a fraction of a taper's length.
func (c *climber) inside(d *network.Duct, t float64) *balance.Probe {
	return c.p.Probe(func(f float64) []balance.Term {
		point := &network.Point{Omega: 2 * math.Pi * f, Values: c.a.net.Values}
		speed := complex(0, point.Omega/d.AreaAt(point, t))
		perTo, perFlow := d.InsideWeights(point, t)
		terms := []balance.Term{{Unknown: d.Flow, Weight: speed * perFlow}}
		if d.To != network.Ground {
			terms = append(terms, balance.Term{Unknown: d.To, Weight: speed * perTo})
		}
		return terms
	})
}

// tone climbs one tone's ladder.
func (a *assembled) tone(bench *response.Bench, f float64, o Options) (*Tone, error) {
	c, err := a.climber(f, o, o.Harmonics)
	if err != nil {
		return nil, err
	}
	drives, limited, err := ownDrives(bench, f, o.Steps)
	if err != nil {
		return nil, err
	}
	own, softest := len(o.Drives) == 0, drives[0]
	if !own {
		drives = o.Drives
	}
	t, top := c.climb(drives, softest)
	if own && limited && t.LimitVoltage == nil && t.LostAbove == nil {
		// Losses put off the limit that the linear network promised.
		last := drives[len(drives)-1]
		for range farther {
			last *= fartherBy
			s, err := c.to(last / c.unit)
			if err != nil {
				break
			}
			if step := c.step(s); len(step.Beyond) > 0 {
				if err := c.prepare(o.Harmonics); err != nil {
					return nil, err
				}
				t, top = c.climb(ladderTo(past/fartherBy*last, o.Steps), softest)
				break
			}
		}
	}
	c.doubling(t)
	t.states = nil
	if !o.Cold {
		if err := a.alsoCold(t, o, softest); err != nil {
			return nil, err
		}
	}
	t.Reading = c.reading(t, top)
	return t, nil
}

// doubling finds from which drive on the motion takes two periods. A cone that
// stays inside xmax is not looked at: none was seen to.
func (c *climber) doubling(t *Tone) {
	states := t.states
	if len(states) == 0 || !t.climbed[len(states)-1].strays() {
		return
	}
	last := states[len(states)-1]
	half, err := c.a.net.Halved(c.f, c.lines)
	if err != nil {
		return
	}
	c.heat(half)
	if !last.Doubles(half) {
		return
	}
	first := sort.Search(len(states)-1, func(i int) bool { return t.climbed[i].strays() && states[i].Doubles(half) })
	v := t.climbed[first].Voltage
	if first > 0 {
		v = t.climbed[first-1].Voltage
	}
	t.DoublesAbove = &v
}

// strays says whether a cone leaves xmax at a step, or has none.
func (t *Step) strays() bool {
	limits := false
	for _, u := range t.used {
		if strings.HasPrefix(u.name, "excursion:") {
			limits = true
			if u.part > 1 {
				return true
			}
		}
	}
	return !limits
}

// alsoCold lets be safe only what is safe before the coils have warmed too: a
// cold coil takes more current and throws its cone farther.
func (a *assembled) alsoCold(t *Tone, o Options, softest float64) error {
	warms := false
	for i := range a.net.Cones {
		warms = warms || a.net.Cones[i].Large.Thermal.Rise(o.Seconds) > 0
	}
	if !warms || len(t.Steps) == 0 {
		return nil
	}
	o.Cold, o.Waveform = true, 0
	c, err := a.climber(t.Frequency, o, o.Harmonics)
	if err != nil {
		return err
	}
	top := math.Inf(1)
	if t.SafeVoltage != nil {
		top = *t.SafeVoltage
	}
	var drives []float64
	for _, s := range t.Steps {
		if s.Safe && s.Voltage < top {
			drives = append(drives, s.Voltage)
		}
	}
	if t.SafeVoltage != nil {
		drives = append(drives, top)
	}
	cold, _ := c.climb(drives, softest)
	for i := range t.Steps {
		s := &t.Steps[i]
		s.Safe = s.Safe && i < len(cold.Steps) && cold.Steps[i].Safe
	}
	if v := cold.SafeVoltage; v != nil && *v < top {
		t.SafeVoltage = v
		for i := range t.climbed {
			if t.climbed[i].Voltage >= *v*(1-1e-9) {
				t.SafeLevel = t.levelAt(i, *v)
				break
			}
		}
	}
	return nil
}

// rung is the largest ratio of one drive to the one before on the way up.
const rung = 1.3

// climb takes a tone through drives, as far as there are steady states. Where
// they lie far apart or begin above softest it goes through others between and
// below, which are judged but not told: a limit is found where it is, whichever
// drives were asked for.
func (c *climber) climb(drives []float64, softest float64) (*Tone, *balance.State) {
	t := &Tone{Frequency: c.f, Steps: []Step{}}
	var top *balance.State
	waveform := c.o.Waveform
	defer func() { c.o.Waveform = waveform }()
	at := softest
	jumped := false
	for _, v := range drives {
		way := []float64{v}
		if at < v {
			way = response.LogSpaced(at, v, 2+int(math.Log(v/at)/math.Log(rung)))
			if len(t.climbed) > 0 {
				way = way[1:]
			}
		}
		at = v
		for i := 0; i < len(way); i++ {
			s, err := c.to(way[i] / c.unit)
			if err != nil && i < len(way)-1 {
				i = len(way) - 1 // what was asked for may yet be found
				s, err = c.to(v / c.unit)
			}
			told := i == len(way)-1
			if err != nil {
				below := 0.0
				if last := c.follow.Last(); last != nil {
					below = last.Drive * c.unit
				}
				t.LostAbove = &below
				t.judge(c.o)
				return t, top
			}
			if len(t.climbed) == 0 {
				t.held = c.held(s)
			}
			c.o.Waveform = 0
			if told {
				c.o.Waveform = waveform
			}
			step := c.step(s)
			t.climbed, t.states = append(t.climbed, step), append(t.states, s)
			jumped = jumped || step.Jumped
			if told {
				step.Jumped = jumped
				t.Steps = append(t.Steps, step)
				top, jumped = s, false
			}
		}
	}
	t.judge(c.o)
	return t, top
}

// to finds the state at a drive, with more lines once they are needed.
func (c *climber) to(drive float64) (*balance.State, error) {
	s, err := c.follow.To(drive)
	for err == nil && denser*c.lines <= most && s.Tail() >= enough {
		if err := c.prepare(denser * c.lines); err != nil {
			return nil, err
		}
		if c.follow.Resume(s) != nil {
			s, err = c.follow.To(drive)
			continue
		}
		s = c.follow.Last()
	}
	return s, err
}

// The ladder a tone is given: from a hundredth of half as much again as its
// first limit, evenly in dB. Where losses put the limit off it is looked for in
// so many larger drives.
const (
	past      = 1.5
	spread    = 100.0
	farther   = 16
	fartherBy = 1.25
)

// ownDrives is such a ladder to the limit that the linear network promises, if
// there is one; else to twice the design's drive.
func ownDrives(b *response.Bench, f float64, steps int) (drives []float64, limited bool, err error) {
	if err := b.Solve(f); err != nil {
		return nil, false, err
	}
	e, _ := b.Model.Drives[0].Weight(b.Values, 2*math.Pi*f)
	top := 2 * cmplx.Abs(e)
	if l := b.DriveLimits(); len(l) > 0 {
		limited = true
		top = past * l[0].Factor * cmplx.Abs(e)
	}
	if !(top > 0) {
		return nil, false, fmt.Errorf("found no voltage at %g Hz at the first amplifier; wanted some", f)
	}
	return ladderTo(top, steps), limited, nil
}

func ladderTo(top float64, steps int) []float64 { return response.LogSpaced(top/spread, top, steps) }
