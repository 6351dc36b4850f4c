package main

import (
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"ocarina/hearing"
	"ocarina/response"
	"ocarina/sound"
)

func explainCommand() *cobra.Command {
	var (
		from, to float64
		asJSON   bool
		plotTo   string
	)
	c := &cobra.Command{
		Use:   "explain FILE",
		Short: "Say what every peak and dip is, what each trial tone does, and what to change",
		Long: "Explain finds the peaks and dips of the impedance and says which air moves against\n" +
			"which spring at each. For each trial tone it gives the level, what limits the drive\n" +
			"and at which voltage, and the dimensions whose change moves the tone most.",
		Example: "  ocarina explain demo/dunlin.hcl\n  ocarina explain demo/dunlin.hcl --from 20 --to 400 --json",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkBand(from, to); err != nil {
				return err
			}
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			b := response.NewBench(m)
			e, err := b.Explain(from, to)
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			if plotTo != "" {
				list, err := frequencies(nil, math.Max(from, 10), math.Min(to, 1000), 500)
				if err != nil {
					return err
				}
				p, err := b.Predict(list)
				if err != nil {
					return &codedError{code: failed, err: err}
				}
				if err := drawTo(plotTo, b, p); err != nil {
					return err
				}
				fmt.Fprintln(c.ErrOrStderr(), "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), e)
			}
			heading(c.OutOrStdout(), m.Design)
			showExplanation(c.OutOrStdout(), e)
			return nil
		},
	}
	f := c.Flags()
	f.Float64Var(&from, "from", response.DefaultFrom, "lowest frequency, Hz")
	f.Float64Var(&to, "to", response.DefaultTo, "highest frequency, Hz")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	f.StringVar(&plotTo, "plot", "", "draw to a `FILE`.svg, .png or .pdf")
	return c
}

func showExplanation(w io.Writer, e *response.Explanation) {
	if len(e.Features) == 0 {
		fmt.Fprintln(w, "The impedance shows no peak or dip in this band.")
	}
	for i := range e.Features {
		f := &e.Features[i]
		paragraph(w, "  ", fmt.Sprintf("%s (%s, %s ohm, Q %s)", f.Reading, response.Rank(e.Features, i), number(f.Impedance, 3), number(f.Q, 2)))
	}
	for i := range e.Tones {
		t := &e.Tones[i]
		fmt.Fprintln(w)
		paragraph(w, "♪ ", t.Reading)
		if len(t.Changes) > 0 {
			text := "To change it: "
			for n, c := range t.Changes {
				if n == 3 {
					break
				}
				if n > 0 {
					text += "; "
				}
				text += change(c)
			}
			paragraph(w, "  ", text+".")
		}
	}
	fmt.Fprintln(w)
	warnings(w, e.Warnings)
	if level, ok := loudest(e); ok {
		if advice, err := hearing.Judge(level, sound.Z); err == nil {
			paragraph(w, "Hearing: ", advice.Caution)
		}
	}
}

// change says what a step a builder can cut does: "mouth length +1 mm: −0.13 dB".
func change(c response.Change) string {
	key := c.Key
	if c.Index != nil {
		key = fmt.Sprintf("%s (side %d)", c.Key, *c.Index+1)
	}
	step, unit := 1.0, c.Unit
	if unit == "L" {
		step = 0.1
	}
	return fmt.Sprintf("%s %s %+g %s: %s dB", c.Part, key, step, unit, signed(c.Slope*step, 2))
}

// loudest returns the highest level any tone reaches at its limit.
func loudest(e *response.Explanation) (level float64, ok bool) {
	for i := range e.Tones {
		t := &e.Tones[i]
		for _, l := range []*float64{t.Level, t.MaxLevel} {
			if l != nil && (!ok || *l > level) {
				level, ok = *l, true
			}
		}
	}
	return level, ok
}
