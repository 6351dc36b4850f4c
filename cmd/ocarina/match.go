package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/design"
	"ocarina/fit"
	"ocarina/picture"
	"ocarina/quantity"
)

func matchCommand() *cobra.Command {
	var (
		opt        fit.Options
		reading    sweepFlags
		tolerances []string
		out        string
		plotTo     string
		asJSON     bool
	)
	c := &cobra.Command{
		Use:   "match DESIGN SWEEP",
		Short: "Find the owner of every measured peak and dip, and where the box differs from its drawing",
		Long: "Match fits the design to a measured impedance sweep: it pairs measured and predicted\n" +
			"peaks and dips, corrects what was built otherwise than drawn, and says in words what\n" +
			"it found. Lengths are effective ones: an opening that is smaller looks like a port\n" +
			"that is longer.\n\n" +
			"A part, a key or PART.KEY chooses what may be turned: --free inner.length,volume.\n" +
			"What is built is allowed a usual tolerance; a tolerance block of the design, or\n" +
			"--tolerance near.volume=2%, says better.",
		Example: "  ocarina match demo/dunlin.hcl demo/sweeps/dunlin.csv\n  ocarina match demo/plover.hcl demo/sweeps/plover.csv --out plover-as-built.hcl\n  ocarina match demo/dunlin.hcl demo/sweeps/dunlin.csv --hold small --plot dunlin.svg",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) != 2 {
				return asked("match wants a design and a sweep, found %d files: %s", len(args), c.UseLine())
			}
			for _, f := range []string{"from", "to"} {
				if c.Flags().Changed(f) {
					v, _ := c.Flags().GetFloat64(f)
					if err := checkFrequency("--"+f, v); err != nil {
						return err
					}
				}
			}
			if opt.From > 0 && opt.To > 0 && opt.From >= opt.To {
				return asked("--from %g Hz must be below --to %g Hz", opt.From, opt.To)
			}
			errs := c.ErrOrStderr()
			d, diags := design.ReadFile(args[0])
			if diags.HasErrors() {
				return tell(errs, diags, d)
			}
			if err := addTolerances(d, tolerances, &opt); err != nil {
				return err
			}
			s, err := reading.read(args[1])
			if err != nil {
				return err
			}
			if isTerminal(errs) {
				opt.Progress = func(p fit.Progress) {
					fmt.Fprintf(errs, "\r%s fit, step %d: %.3g dB apart   ", p.Stage, p.Iteration, p.Residual)
				}
			}
			r, err := fit.Match(c.Context(), d, s, opt)
			if opt.Progress != nil {
				fmt.Fprint(errs, "\r\033[K")
			}
			if err != nil {
				return matchFault(errs, err, d)
			}
			if out != "" {
				if err := r.Correct(d); err != nil {
					return &codedError{code: failed, err: fmt.Errorf("the corrected design cannot be written: %w", err)}
				}
				if err := writeNew(out, d.Bytes()); err != nil {
					return err
				}
				fmt.Fprintln(errs, "corrected design written to", out)
			}
			if plotTo != "" {
				if err := picture.Match(d.Title, r).WriteFile(plotTo); err != nil {
					return &codedError{code: failed, err: err}
				}
				fmt.Fprintln(errs, "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), r)
			}
			heading(c.OutOrStdout(), d)
			return showMatch(c.OutOrStdout(), r)
		},
	}
	f := c.Flags()
	f.StringSliceVar(&opt.Free, "free", nil, "turn only these `PARTS` or dimensions, with commas between")
	f.StringSliceVar(&opt.Hold, "hold", nil, "turn none of these `PARTS` or dimensions")
	f.StringSliceVar(&tolerances, "tolerance", nil, "one standard deviation of a dimension, `PART.KEY=AMOUNT`")
	f.Float64Var(&opt.From, "from", 0, "lowest frequency fitted, Hz")
	f.Float64Var(&opt.To, "to", 0, "highest frequency fitted, Hz")
	reading.add(f)
	f.StringVar(&out, "out", "", "write the corrected design to a new `FILE`")
	f.StringVar(&plotTo, "plot", "", "draw to a `FILE`.svg, .png or .pdf")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	return c
}

// addTolerances reads "near.volume=2%" and the like.
func addTolerances(d *design.Design, list []string, opt *fit.Options) error {
	for _, text := range list {
		name, amount, ok := strings.Cut(text, "=")
		part, key, dotted := strings.Cut(name, ".")
		if !ok || !dotted {
			return asked("--tolerance: found %q, wanted PART.KEY=AMOUNT such as near.volume=2%%", text)
		}
		info, err := d.Info(part, key)
		if err != nil {
			return asked("--tolerance %s: %v", text, err)
		}
		t := design.Tolerance{Part: part, Key: key, Relative: strings.HasSuffix(amount, "%")}
		kind := info.Dimension
		if t.Relative {
			kind = quantity.Ratio
		}
		if t.Amount.SI, t.Amount.Unit, err = quantity.Parse(amount, kind); err != nil {
			return asked("--tolerance %s: %v", text, err)
		}
		if !(t.Amount.SI > 0) {
			return asked("--tolerance %s: wanted an amount above nothing", text)
		}
		t.Amount.Given = true
		opt.Tolerances = append(opt.Tolerances, t)
	}
	return nil
}

// matchFault says whose fault a failed match is.
func matchFault(errs io.Writer, err error, d *design.Design) error {
	var build *fit.BuildError
	var choice *fit.ChoiceError
	switch {
	case errors.As(err, &build):
		return tell(errs, build.Diagnostics, d)
	case errors.As(err, &choice), errors.Is(err, fit.ErrFewPoints):
		return &codedError{code: wrong, err: err}
	}
	return &codedError{code: failed, err: err}
}

func showMatch(w io.Writer, r *fit.Result) error {
	hertz := func(f *float64) string {
		if f == nil {
			return "–"
		}
		return number(*f, 4)
	}
	t := newTable("", "measured Hz", "drawn", "fitted", "owner")
	t.words(0, 4)
	for _, v := range r.Features {
		owner := v.Owner
		if v.Note != "" {
			owner += " (" + v.Note + ")"
		}
		t.row(v.Kind, hertz(v.Measured), hertz(v.Drawn), hertz(v.Fitted), owner)
	}
	t.write(w)
	fmt.Fprintln(w)
	t = newTable("", "drawn", "fitted", "± one s.e.", "change", "")
	t.words(0, 5)
	for _, p := range r.Parameters {
		change := "–"
		if p.Drawn != 0 {
			change = signed(100*p.Change()/p.Drawn, 1) + " %"
		}
		told := p.Unit
		if !p.Determined {
			told = strings.TrimSpace(told + "  not told by the sweep")
		}
		t.row(p.Part+" "+p.Key, number(p.Drawn, 4), number(p.Fitted, 4), number(p.StandardError, 2), change, told)
	}
	t.write(w)
	fmt.Fprintln(w)
	paragraph(w, "", fmt.Sprintf("Between model and sweep, %s to %s Hz: %s dB as drawn, %s dB fitted; the noise of one reading is about %s dB.",
		number(r.From, 3), number(r.To, 3), number(r.Residual.Drawn, 3), number(r.Residual.Fitted, 2), number(r.Noise, 2)))
	fmt.Fprintln(w)
	if len(r.Findings) == 0 {
		fmt.Fprintln(w, "The box is as drawn, as far as its build tolerance and this sweep can tell.")
	}
	for _, v := range r.Findings {
		paragraph(w, "• ", v.Reading)
	}
	for _, v := range r.IllDetermined {
		paragraph(w, "? ", v.Reading)
	}
	warnings(w, r.Warnings)
	return nil
}
