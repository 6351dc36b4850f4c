package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"ocarina/design"
)

func scaleCommand() *cobra.Command {
	var (
		model, full float64
		out         string
	)
	c := &cobra.Command{
		Use:   "scale FILE",
		Short: "Write the scale model of a design, or the full size of a model",
		Long: "Scale writes the design 1:N smaller, to be played N times higher, or back to full\n" +
			"size. What does not follow from the other size is marked \"not scaled: measure it\".\n" +
			"Wall losses do not scale: predict model and full size each for itself.",
		Example: "  ocarina scale van.hcl --model 4 > model.hcl\n  ocarina scale demo/dunlin.hcl --full 4 --out dunlin-full.hcl",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			toModel, toFull := c.Flags().Changed("model"), c.Flags().Changed("full")
			if toModel == toFull {
				return asked("scale wants either --model N or --full N")
			}
			n := model
			if toFull {
				n = full
			}
			if !(n >= 1.0/1000 && n <= 1000) {
				return asked("found a scale of %g, wanted 0.001 to 1000", n)
			}
			d, diags := design.ReadFile(args[0])
			if err := tell(c.ErrOrStderr(), diags, d); err != nil {
				return err
			}
			scaled, notes, err := d.Scaled(n, toModel)
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			for _, s := range notes {
				fmt.Fprintln(c.ErrOrStderr(), s)
			}
			if out == "" {
				_, err = c.OutOrStdout().Write(scaled.Bytes())
				return err
			}
			return writeNew(out, scaled.Bytes())
		},
	}
	f := c.Flags()
	f.Float64Var(&model, "model", 0, "write the 1:`N` model of a full-size design")
	f.Float64Var(&full, "full", 0, "write the full size of a 1:`N` model")
	f.StringVar(&out, "out", "", "write to a new `FILE` instead of standard output")
	return c
}
