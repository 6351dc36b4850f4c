package tone

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"
	"strings"

	"ocarina/hearing"
	"ocarina/response"
	"ocarina/sound"
	"ocarina/tone/balance"
)

// What counts as a cone held still at the first limit, a part of xmax; and which
// drift is told.
const (
	heldStill  = 0.35
	heldBack   = 0.5  // of the travel that the moving mass alone would allow
	driftShown = 0.02 // of xmax or of the travel
)

// held reports whether the air holds every cone: whether each travels less than
// half as far as the coil's force would throw its moving mass alone. A tone above
// all resonances leaves travel short too, but then it is the mass that does it.
func (c *climber) held(s *balance.State) bool {
	omega := 2 * math.Pi * c.f
	for i, v := range c.a.m.Mounts {
		mass, bl := c.a.net.Values[v.Motor.Mms], c.a.net.Values[v.Motor.Bl]
		alone := bl * cmplx.Abs(s.Current(i, 1)) / (omega * omega * mass)
		if cmplx.Abs(s.Displacement(i, 1)) > heldBack*alone {
			return false
		}
	}
	return true
}

func figures(v float64) string {
	switch a := math.Abs(v); {
	case a >= 100:
		return fmt.Sprintf("%.0f", v)
	case a >= 10:
		return fmt.Sprintf("%.1f", v)
	case a >= 1:
		return fmt.Sprintf("%.2f", v)
	}
	return fmt.Sprintf("%.2g", v)
}

func hertz(f float64) string {
	if f >= 1e4 {
		return fmt.Sprintf("%.0f Hz", f)
	}
	return fmt.Sprintf("%.4g Hz", f)
}

// used returns the largest part of xmax that any mount travels at the step
// nearest to a voltage; 0 where no xmax is known.
func (t *Tone) used(voltage float64) float64 {
	i := sort.Search(len(t.climbed), func(i int) bool { return t.climbed[i].Voltage >= voltage*(1-1e-9) })
	if i == len(t.climbed) {
		i--
	}
	worst := 0.0
	for _, u := range t.climbed[i].used {
		if strings.HasPrefix(u.name, "excursion:") {
			part := u.part
			if i > 0 && voltage < t.climbed[i].Voltage {
				part *= voltage / t.climbed[i].Voltage
			}
			worst = math.Max(worst, part)
		}
	}
	return worst
}

// suits says which driver a tone asks for.
type suits int

const (
	unsaid suits = iota
	clean        // the box holds the cone still: motor, coil or amplifier end it
	short        // as little travel, but the cone's own mass sees to that
	throw        // travel ends it
	between
	breath // the air in a port ends it
)

func (t *Tone) suits() suits {
	if t.LimitVoltage == nil {
		return unsaid
	}
	part := t.used(*t.LimitVoltage)
	kind, _, _ := strings.Cut(t.FirstLimit, ":")
	switch {
	case kind == "excursion" || kind == "stop":
		return throw
	case part > 0 && part <= heldStill && t.held:
		return clean
	case part > 0 && part <= heldStill && kind != "port":
		return short
	case kind == "port":
		return breath
	case part == 0:
		return unsaid
	}
	return between
}

// LimitWords says which limit is reached: "cone reaches its xmax".
func LimitWords(limit string) string {
	kind, name, _ := strings.Cut(limit, ":")
	switch kind {
	case "excursion":
		return name + " reaches its xmax"
	case "stop":
		return name + " strikes"
	case "power":
		return "the coil of " + name + " reaches its rated power"
	case "temperature":
		return "the coil of " + name + " gets as hot as it bears"
	case "port":
		return "the air in " + name + " reaches its speed limit"
	}
	return "the amplifier reaches its limit"
}

// reading tells a tone in words; top is its highest state.
func (c *climber) reading(t *Tone, top *balance.State) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: ", hertz(t.Frequency))
	if len(t.Steps) == 0 {
		fmt.Fprintf(&b, "no steady state was found at the lowest drive asked for, the highest at %s V.", figures(*t.LostAbove))
		return b.String()
	}
	switch {
	case t.LimitVoltage == nil:
		b.WriteString("no limit up to " + figures(t.Steps[len(t.Steps)-1].Voltage) + " V")
	default:
		b.WriteString("first " + LimitWords(t.FirstLimit) + ", at " + figures(*t.LimitVoltage) + " V")
		if t.LimitLevel != nil {
			fmt.Fprintf(&b, " and %.1f dB", *t.LimitLevel)
		}
	}
	part := 0.0
	if t.LimitVoltage != nil {
		part = t.used(*t.LimitVoltage)
	}
	switch t.suits() {
	case clean:
		fmt.Fprintf(&b, ", with %.0f %% of xmax used: the box holds the cone still, and a short-throw driver with a strong motor does well here", 100*part)
	case short:
		fmt.Fprintf(&b, ", with %.0f %% of xmax used: a short-throw driver with a strong motor does well here", 100*part)
	case throw:
		b.WriteString(": this tone needs throw")
	case breath:
		fmt.Fprintf(&b, ", with %.0f %% of xmax used: a wider or rounder port comes before a better driver", 100*part)
	case between:
		fmt.Fprintf(&b, ", with %.0f %% of xmax used", 100*part)
	}
	b.WriteString(". ")
	limit := fmt.Sprintf("%.3g %% distortion", 100*c.o.Clean)
	switch {
	case t.CleanAll:
		b.WriteString("It stays under " + limit + " all the way. ")
	case t.CleanVoltage == nil:
		b.WriteString("It is above " + limit + " from the first step. ")
	default:
		b.WriteString("Up to " + figures(*t.CleanVoltage) + " V")
		if t.CleanLevel != nil {
			fmt.Fprintf(&b, " and %.1f dB", *t.CleanLevel)
		}
		b.WriteString(" it stays under " + limit + ". ")
	}
	for i, s := range t.climbed {
		if s.Tipped {
			from := ""
			if i > 0 {
				from = "Above " + figures(t.climbed[i-1].Voltage) + " V"
			} else {
				from = "From the first step on"
			}
			b.WriteString(from + " the drive no longer leaves the cone its middle: above the resonance a force factor that falls on both sides pushes it away from rest, to either side, even in a symmetric driver. ")
			break
		}
	}
	for i, s := range t.climbed {
		if s.Jumped && i > 0 {
			fmt.Fprintf(&b, "Between %s and %s V the cone jumps to another motion; on the way down it jumps back at a lower drive. ", figures(t.climbed[i-1].Voltage), figures(s.Voltage))
		}
	}
	if t.DoublesAbove != nil {
		fmt.Fprintf(&b, "Above %s V the cone no longer does the same every period but every second one, and half the tone's frequency is heard: what is told there does not last. ", figures(*t.DoublesAbove))
	}
	b.WriteString(c.drift(t, top))
	if t.LostAbove != nil {
		fmt.Fprintf(&b, "Above %s V no steady state was found: the cone may jump to another one there, or never settle. ", figures(*t.LostAbove))
	}
	return strings.TrimSpace(b.String())
}

// drift explains where the cones' middles go at the highest step.
func (c *climber) drift(t *Tone, top *balance.State) string {
	text := ""
	step := t.Steps[len(t.Steps)-1]
	for i, v := range c.a.m.Mounts {
		m := step.Mounts[v.Name]
		if math.Abs(m.Offset) < driftShown*math.Max(v.Xmax*1000, m.Excursion) {
			continue
		}
		d := top.Drift(i)
		way := "outward"
		if m.Offset < 0 {
			way = "inward"
		}
		text += fmt.Sprintf("At %s V the middle of %s drifts %s mm %s: %s. ", figures(step.Voltage), v.Name, figures(math.Abs(m.Offset)), way, cause(d, m.Offset > 0))
	}
	return text
}

// cause names what drives an offset most in its direction.
func cause(d balance.Drift, outward bool) string {
	sign := 1.0
	if !outward {
		sign = -1
	}
	list := []struct {
		part float64
		text string
	}{
		{d.Motor, "the motor is stronger at one end of the stroke than at the other, so its pushes and pulls do not cancel over a cycle"},
		{d.Suspension, "the suspension is stiffer one way, so the cone settles towards its softer side"},
		{d.Field, "the coil's own field pulls it to where its inductance is greater"},
		{d.Air, "a port loses more pressure one way than the other and pumps the box to a steady pressure"},
	}
	sort.SliceStable(list, func(i, j int) bool { return sign*list[i].part > sign*list[j].part })
	return list[0].text
}

// reading compares the tones.
func reading(tones []Tone) string {
	var held, near, far, air []string
	for i := range tones {
		switch tones[i].suits() {
		case clean:
			held = append(held, hertz(tones[i].Frequency))
		case short:
			near = append(near, hertz(tones[i].Frequency))
		case throw:
			far = append(far, hertz(tones[i].Frequency))
		case breath:
			air = append(air, hertz(tones[i].Frequency))
		}
	}
	var parts []string
	if len(held) > 0 {
		parts = append(parts, "At "+list(held)+" the box keeps the cone still and the sound clean: a short-throw driver with a strong motor suits.")
	}
	if len(near) > 0 {
		parts = append(parts, "At "+list(near)+" little travel is used: a short-throw driver with a strong motor suits.")
	}
	if len(far) > 0 {
		parts = append(parts, "At "+list(far)+" travel gives way first: throw is wanted.")
	}
	if len(air) > 0 {
		parts = append(parts, "At "+list(air)+" the air in a port gives way first.")
	}
	return strings.Join(parts, " ")
}

func list(s []string) string {
	if len(s) < 2 {
		return strings.Join(s, "")
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

// Total is the level at the listener with all that is told of harmonics, dB; there
// must be a Level.
func (s *Step) Total() float64 { return *s.Level + 20*math.Log10(math.Hypot(1, s.THD)) }

// burnt is a temperature that no coil's glue and wire outlast, °C; a rule of
// thumb.
const burnt = 300.0

// caution tells where people and coils can be hurt on a ladder.
func (l *Ladder) caution() []string {
	out := []string{}
	loudest, peak := math.Inf(-1), 0.0
	hot := 0.0
	unsafe := false
	for _, t := range l.Tones {
		for _, s := range t.Steps {
			if s.Level != nil {
				loudest = math.Max(loudest, s.Total())
				peak = math.Max(peak, s.peak)
			}
			for _, v := range s.Mounts {
				hot = math.Max(hot, v.Temperature)
			}
			unsafe = unsafe || !s.Safe
		}
	}
	if !math.IsInf(loudest, 0) {
		if a, err := hearing.JudgeWithPeak(loudest, sound.Z, response.Level(complex(peak, 0))); err == nil {
			out = append(out, "Loudest step at the listener's place: "+a.Caution+" Nearer to the box it is louder.")
		}
	}
	switch {
	case hot > burnt:
		out = append(out, fmt.Sprintf("Coils burn on the way up: above %.0f °C the numbers go on where no coil does.", burnt))
	case hot > 70:
		out = append(out, fmt.Sprintf("Coils reach %.0f °C here: let them cool before touching or measuring again.", hot))
	}
	if unsafe {
		out = append(out, "Steps that are not marked safe go beyond xmax, half the rated power or the amplifier: they are predicted, not prescribed.")
	}
	return out
}
