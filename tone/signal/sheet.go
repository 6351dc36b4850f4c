package signal

import (
	"fmt"
	"math"
	"strings"
	"text/tabwriter"

	"ocarina/hearing"
	"ocarina/sound"
)

// Sheet is the text that goes with the file of the given name: what to set, in
// which order, and what to beware of.
func (l *Ladder) Sheet(file string) string {
	p := l.Plan
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	if p.Title != "" {
		say("%s", p.Title)
		say("")
	}
	format := fmt.Sprintf("%d bits", p.Bits)
	if p.Float {
		format += " float"
	}
	channels := "one channel"
	if p.Channels > 1 {
		channels = fmt.Sprintf("%d channels", p.Channels)
	}
	say("%s: %s, %d Hz, %s, %s", file, clock(l.Seconds()), p.Rate, format, channels)
	say("")
	say("To set")
	say("  A full-scale sine must give %.4g V RMS at the loudspeaker's terminals.", p.FullScale)
	if r := p.Reference; r != nil {
		say("  1. Player at full volume, tone controls and effects off; amplifier turned all the way down.")
		say("  2. Meter for AC volts (true RMS) across the terminals. Play the first %.0f s: %.4g Hz.", r.Seconds, r.Frequency)
		say("  3. Turn the amplifier up until the meter reads %.4g V. Leave it there.", r.Volts)
	} else {
		soft := l.softest()
		say("  1. Player at full volume, tone controls and effects off; amplifier turned all the way down.")
		say("  2. Meter for AC volts (true RMS) across the terminals. Play the softest step, at %s.", clock(float64(soft.Start)/float64(p.Rate)))
		say("  3. Turn the amplifier up until the meter reads %.4g V. Leave it there.", soft.Volts)
	}
	say("  Record the whole file without a change of gain, and with automatic level control off.")
	say("")
	say("Beware")
	for _, line := range l.cautions() {
		say("  %s", line)
	}
	say("")
	say("Steps")
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "at\tHz\tdB re full scale\tvolts\thold s\tperiods\tdB expected\t")
	for _, c := range l.Pieces {
		expected := "-"
		if level := l.expected(&c); level > 0 {
			expected = fmt.Sprintf("%.1f", level)
		}
		level, volts := fmt.Sprintf("%.2f", c.Level), fmt.Sprintf("%.4g", c.Volts)
		if c.ToVolts != c.Volts {
			level += fmt.Sprintf(" to %.2f", p.level(c.ToVolts))
			volts += fmt.Sprintf(" to %.4g", c.ToVolts)
		}
		fmt.Fprintf(w, "%s\t%.5g\t%s\t%s\t%.2f\t%d\t%s\t\n", clock(float64(c.Start)/float64(p.Rate)), c.Frequency,
			level, volts, float64(c.Hold)/float64(p.Rate), c.Periods, expected)
	}
	if err := w.Flush(); err != nil {
		panic(err) // a strings.Builder takes everything
	}
	return b.String()
}

// softest is the softest piece that holds still, or begins to glide if none does.
func (l *Ladder) softest() Piece {
	soft := l.Pieces[0]
	for _, c := range l.Pieces[1:] {
		still, was := c.Periods > 0, soft.Periods > 0
		if (still && !was) || (still == was && c.Volts < soft.Volts) {
			soft = c
		}
	}
	return soft
}

// cautions are the lines about ears, coil and amplifier.
func (l *Ladder) cautions() []string {
	var out []string
	day, ok := l.exposure()
	switch {
	case !ok:
		out = append(out, "Ears: the sound levels are not known. Wear protection, stay away from the box, warn others.")
	default:
		out = append(out, "Ears: "+day.Caution)
	}
	out = append(out, "Coil and amplifier: a steady sine heats a coil more than music does. Stop at a smell, a rattle or a stutter.")
	return append(out, l.Plan.Notes...)
}

// expected is the level where people are that goes with a piece's voltage, dB; 0
// if it is not known.
func (l *Ladder) expected(c *Piece) float64 {
	if c.Tone < 0 {
		return l.Plan.Reference.Level
	}
	return l.Plan.Tones[c.Tone].Steps[c.Step].Level
}

// exposure adds up the pieces for the ears; ok is false unless the level of every
// step is known. Levels are unweighted and counted as if they were A-weighted. A
// glide counts with its louder end all the time.
func (l *Ladder) exposure() (hearing.Day, bool) {
	var parts []hearing.Part
	for i := range l.Pieces {
		c := &l.Pieces[i]
		level := l.expected(c)
		switch {
		case c.Tone >= 0 && l.Plan.Tones[c.Tone].Glide > 0:
			steps := l.Plan.Tones[c.Tone].Steps
			level = max(level, steps[len(steps)-1].Level)
		case c.Tone < 0 && level == 0:
			continue // soft beside the steps
		}
		if level == 0 {
			return hearing.Day{}, false
		}
		parts = append(parts, hearing.Part{Level: level, Seconds: float64(c.Settle+c.Hold) / float64(l.Plan.Rate)})
	}
	day, err := hearing.Add(sound.Z, parts...)
	return day, err == nil
}

// clock writes seconds as minutes and seconds.
func clock(seconds float64) string {
	tenths := int(math.Round(10 * seconds))
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}
