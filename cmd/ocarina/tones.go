package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/picture"
	"ocarina/tone"
)

func tonesCommand() *cobra.Command {
	var (
		o      tone.Options
		clean  float64
		with   float64
		ratio  float64
		all    bool
		asJSON bool
		plotTo string
	)
	c := &cobra.Command{
		Use:   "tones FILE",
		Short: "Turn the drive up at each trial tone: how loud, how clean, what gives way first",
		Long: "Tones predicts what each trial tone does as the drive goes up: harmonics, cone travel\n" +
			"and drift, air speeds, coil temperature and compression, the first limit and the\n" +
			"highest clean level. The driver's large block says how it changes with travel; where\n" +
			"only xmax is known, curves that its published definition implies are taken and said.\n\n" +
			"It predicts beyond limits; what it prescribes to be played (tones make) stays within\n" +
			"xmax, half the rated power and the amplifier.",
		Example: "  ocarina tones demo/dunlin.hcl\n  ocarina tones demo/dunlin.hcl --at 112 --drives 1,2,4,8 --json\n  ocarina tones demo/dunlin.hcl --at 144 --with 700 --drives 6",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			if err := aboveZero(c, "seconds", "steps", "waveform"); err != nil {
				return err
			}
			o.Clean = clean / 100
			if !(clean > 0 && clean <= 100) {
				return asked("--clean: found %g %%, wanted a distortion above zero, at most 100 %%", clean)
			}
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			if c.Flags().Changed("with") {
				return mix(c, args[0], o, with, ratio, asJSON)
			}
			l, err := tone.Predict(m, o)
			if err != nil {
				return toneFault(err)
			}
			if plotTo != "" {
				if err := picture.Ladder(m, l).WriteFile(plotTo); err != nil {
					return &codedError{code: failed, err: err}
				}
				fmt.Fprintln(c.ErrOrStderr(), "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), l)
			}
			heading(c.OutOrStdout(), m.Design)
			showLadder(c.OutOrStdout(), l, all)
			return nil
		},
	}
	f := c.Flags()
	numbers(f, &o.Tones, "at", "these tones, `HZ`, with commas between, in place of the design's")
	numbers(f, &o.Drives, "drives", "these drives, `V` RMS, with commas between, ascending; else each tone has its own up to half past the first limit")
	f.IntVar(&o.Steps, "steps", 20, "how many drives where none are given")
	f.Float64Var(&o.Seconds, "seconds", 60, "how long each drive has lasted when the coil's temperature is read")
	f.BoolVar(&o.Cold, "cold", false, "leave the coils at their temperature")
	f.Float64Var(&clean, "clean", 3, "total harmonic distortion that still counts as clean, %")
	f.IntVar(&o.Waveform, "waveform", 0, "with --json: points of one period of each waveform")
	f.Float64Var(&with, "with", 0, "a second tone at the same time, Hz: what the two make of one another")
	f.Float64Var(&ratio, "ratio", 0.25, "its voltage over the first's")
	f.BoolVar(&all, "all", false, "show every step")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	f.StringVar(&plotTo, "plot", "", "draw to a `FILE`.svg, .png or .pdf")
	c.AddCommand(tonesMakeCommand(), tonesReadCommand(), tonesRehearseCommand())
	return c
}

// toneFault tells a question that cannot be answered from work that failed.
func toneFault(err error) error {
	if strings.Contains(err.Error(), "wanted") {
		return &codedError{code: wrong, err: err}
	}
	return &codedError{code: failed, err: err}
}

// shownSteps is how many steps of a tone are shown unless all are asked for.
const shownSteps = 7

func showLadder(w io.Writer, l *tone.Ladder, all bool) {
	for i := range l.Tones {
		t := &l.Tones[i]
		paragraph(w, "♪ ", t.Reading)
		if len(t.Steps) > 0 {
			fmt.Fprintln(w)
			ladderTable(t, all).write(w)
		}
		fmt.Fprintln(w)
	}
	if l.Reading != "" {
		paragraph(w, "", l.Reading)
		fmt.Fprintln(w)
	}
	paragraph(w, "  ", fmt.Sprintf("H2, H3: dB re the fundamental. THD: over the fundamental (over the total is in --json). Out, in: farthest travel of the cone that goes farthest, mm. Lag: dB the fundamental stays behind a linear, cold driver. Temperatures after %g s. ! marks what is beyond a limit, · what is inside xmax, half the power and the amplifier.", l.Seconds))
	fmt.Fprintln(w)
	for _, s := range l.Assumed {
		paragraph(w, "Assumed: ", s)
	}
	warnings(w, l.Warnings)
	for _, s := range l.Cautions {
		paragraph(w, "Beware: ", s)
	}
}

func ladderTable(t *tone.Tone, all bool) *table {
	table := newTable("V", "dB", "H2", "H3", "THD %", "out", "in", "drift", "air m/s", "A", "°C", "lag", "")
	table.words(12)
	every := 1
	if !all && len(t.Steps) > shownSteps {
		every = (len(t.Steps) - 1 + shownSteps - 2) / (shownSteps - 1)
	}
	for i := range t.Steps {
		if (len(t.Steps)-1-i)%every != 0 {
			continue
		}
		s := &t.Steps[i]
		var far tone.Travel
		hot := math.Inf(-1)
		for _, v := range s.Mounts {
			if math.Max(v.Outward, v.Inward) >= math.Max(far.Outward, far.Inward) {
				far = v
			}
			hot = math.Max(hot, v.Temperature)
		}
		air := 0.0
		for _, list := range []map[string]float64{s.Ports, s.Lines} {
			for _, v := range list {
				air = math.Max(air, v)
			}
		}
		level, second, third := "–", "–", "–"
		if s.Level != nil {
			level = fixed(*s.Level, 1)
			second, third = relative(s, 1), relative(s, 2)
		}
		sign := strings.Join(s.Beyond, ", ")
		switch {
		case sign != "":
			sign = "! " + sign
		case s.Safe:
			sign = "·"
		}
		if s.Jumped {
			sign += " (jumped)"
		}
		table.row(number(s.Voltage, 3), level, second, third, number(100*s.THD, 2), number(far.Outward, 2), number(far.Inward, 2),
			fixed(far.Offset, 3), number(air, 2), number(s.Current, 2), fixed(hot, 0), fixed(s.Compression, 1), sign)
	}
	return table
}

// relative is a harmonic re the fundamental.
func relative(s *tone.Step, k int) string {
	if k >= len(s.Harmonics) || s.Harmonics[k] == nil {
		return "–"
	}
	return fixed(*s.Harmonics[k]-*s.Level, 0)
}

// mix shows what two tones make of one another.
func mix(c *cobra.Command, path string, o tone.Options, second, ratio float64, asJSON bool) error {
	if len(o.Tones) != 1 || len(o.Drives) != 1 {
		return asked("--with wants one tone (--at HZ) and one drive (--drives V) for the first")
	}
	if !(ratio > 0) {
		return asked("--ratio: found %g, wanted more than zero", ratio)
	}
	m, err := load(path, c.ErrOrStderr())
	if err != nil {
		return err
	}
	x, err := tone.Mix(m, tone.Pair{First: o.Tones[0], Second: second, Voltage: o.Drives[0], Ratio: ratio, Seconds: o.Seconds, Cold: o.Cold})
	if err != nil {
		return toneFault(err)
	}
	if asJSON {
		return printJSON(c.OutOrStdout(), x)
	}
	w := c.OutOrStdout()
	heading(w, m.Design)
	fmt.Fprintf(w, "%.4g Hz at %.3g V and %.4g Hz at %.3g V: the first modulates the second by %.2g %% in second and %.2g %% in third order.\n\n",
		o.Tones[0], o.Drives[0], second, ratio*o.Drives[0], 100*x.SecondOrder, 100*x.ThirdOrder)
	t := newTable("Hz", "dB", "first ×", "second ×")
	for i, p := range x.Products {
		if i == 16 {
			break
		}
		t.row(number(p.Frequency, 4), fixed(p.Level, 1), fmt.Sprint(p.First), fmt.Sprint(p.Second))
	}
	t.write(w)
	fmt.Fprintln(w)
	for _, s := range x.Assumed {
		paragraph(w, "Assumed: ", s)
	}
	warnings(w, x.Warnings)
	return nil
}
