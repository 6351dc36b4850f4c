package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"ocarina/design"
	"ocarina/picture"
	"ocarina/response"
)

func predictCommand() *cobra.Command {
	var (
		at       []float64
		from, to float64
		points   int
		asJSON   bool
		plotTo   string
	)
	c := &cobra.Command{
		Use:   "predict FILE",
		Short: "Compute impedance, level, cone travel and air speeds over frequency",
		Long: "Predict solves the design at each frequency. Alone it sweeps 400 points from 10 Hz\n" +
			"to 1 kHz, or to four times the highest tone.\n\n" +
			"Levels are RMS dB re 20 µPa, cone travel is peak one way, air speed is peak. Levels\n" +
			"that a box reaches can harm hearing: see `ocarina explain`.",
		Example: "  ocarina predict demo/dunlin.hcl\n  ocarina predict demo/dunlin.hcl --at 106.7,112 --json\n  ocarina predict demo/dunlin.hcl --from 10 --to 500 --plot dunlin.pdf",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			if c.Flags().Changed("at") {
				for _, name := range []string{"from", "to", "points"} {
					if c.Flags().Changed(name) {
						return asked("predict: found --%s beside --at, wanted one of them: --at for single frequencies, or a sweep by --from, --to and --points", name)
					}
				}
			}
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			if !c.Flags().Changed("to") {
				to = picture.Top(m)
			}
			list, err := frequencies(at, from, to, points)
			if err != nil {
				return err
			}
			b := response.NewBench(m)
			p, err := b.Predict(list)
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			if plotTo != "" {
				if err := drawTo(plotTo, b, p); err != nil {
					return err
				}
				fmt.Fprintln(c.ErrOrStderr(), "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), p)
			}
			return showPrediction(c.OutOrStdout(), b, p, at)
		},
	}
	f := c.Flags()
	numbers(f, &at, "at", "only these frequencies, `HZ`, with commas between")
	f.Float64Var(&from, "from", 10, "lowest frequency, Hz")
	f.Float64Var(&to, "to", 1000, "highest frequency, Hz")
	f.IntVar(&points, "points", 400, "how many frequencies, evenly spaced in their logarithm")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	f.StringVar(&plotTo, "plot", "", "draw to a `FILE`.svg, .png or .pdf")
	return c
}

// drawTo draws a prediction with the design's tones and named features.
func drawTo(path string, b *response.Bench, p *response.Prediction) error {
	features, err := picture.Features(b, p)
	if err != nil {
		return &codedError{code: failed, err: err}
	}
	if err := picture.Sheet(b.Model, p, features).WriteFile(path); err != nil {
		return &codedError{code: failed, err: err}
	}
	return nil
}

func showPrediction(w io.Writer, b *response.Bench, p *response.Prediction, at []float64) error {
	m := b.Model
	heading(w, m.Design)
	rows := p
	if len(at) == 0 {
		var list []float64
		for _, q := range m.Design.Tones {
			list = append(list, q.SI)
		}
		if len(list) == 0 {
			list = response.LogSpaced(p.Frequency[0], p.Frequency[len(p.Frequency)-1], min(12, len(p.Frequency)))
		}
		var err error
		if rows, err = b.Predict(list); err != nil {
			return &codedError{code: failed, err: err}
		}
	}
	t := newTable("Hz", "ohm", "phase °", "dB")
	for _, v := range m.Mounts {
		t.column(v.Name + " mm")
	}
	for _, v := range m.Passives {
		t.column(v.Name + " mm")
	}
	for _, list := range [][]*design.DuctModel{m.Ports, m.Lines} {
		for _, v := range list {
			t.column(v.Name + " m/s")
		}
	}
	for i, f := range rows.Frequency {
		row := []string{number(f, 4), number(rows.Impedance[i], 3), fixed(rows.ImpedancePhase[i], 0), "–"}
		if rows.Level != nil {
			row[3] = fixed(rows.Level[i], 1)
		}
		for _, v := range m.Mounts {
			row = append(row, number(rows.Mounts[v.Name].Excursion[i], 2))
		}
		for _, v := range m.Passives {
			row = append(row, number(rows.Passives[v.Name].Excursion[i], 2))
		}
		for _, v := range m.Ports {
			row = append(row, number(rows.Ports[v.Name].Speed[i], 2))
		}
		for _, v := range m.Lines {
			row = append(row, number(rows.Lines[v.Name].Speed[i], 2))
		}
		t.row(row...)
	}
	t.write(w)
	fmt.Fprintln(w)
	if len(p.Frequency) > 1 && len(at) == 0 {
		features, err := picture.Features(b, p)
		if err != nil {
			return &codedError{code: failed, err: err}
		}
		if err := picture.Impedance(m, p, features).Terminal(w, columns(w), 14, true); err != nil {
			return err
		}
		fmt.Fprintln(w)
	}
	warnings(w, p.Warnings)
	return nil
}
