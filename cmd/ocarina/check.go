package main

import (
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/spf13/cobra"

	"ocarina/response"
)

func checkCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "check FILE",
		Short: "Say whether a design is sound: derived driver values, net volumes, tunings",
		Long: "Check reads a design, reports every error in it at once, and shows what follows from\n" +
			"it: the driver's mass, spring and motor, net volumes, each port's own tuning, and what\n" +
			"looks wrong.",
		Example: "  ocarina check demo/dunlin.hcl\n  ocarina check demo/dunlin.hcl --json",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			k := response.CheckDesign(m)
			if asJSON {
				return printJSON(c.OutOrStdout(), k)
			}
			heading(c.OutOrStdout(), m.Design)
			showCheck(c.OutOrStdout(), k)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON at full precision")
	return c
}

func showCheck(w io.Writer, k *response.Check) {
	t := newTable("Driver", "count", "fs Hz", "Qms", "Qes", "Qts", "Vas L", "Mms g", "Cms mm/N", "Rms N·s/m", "Bl T·m", "dB/W/m")
	t.words(0)
	for _, d := range k.Drivers {
		t.row(d.Mount+" ("+d.Name+")", number(d.Count, 1), number(d.Fs, 3), number(d.Qms, 3), number(d.Qes, 3), number(d.Qts, 3), number(d.Vas, 3),
			number(d.Mms, 3), number(d.Cms, 3), number(d.Rms, 3), number(d.Bl, 3), fixed(d.Sensitivity, 1))
	}
	t.write(w)
	if len(k.Chambers) > 0 {
		fmt.Fprintln(w)
		t = newTable("Chamber", "net L", "taken off")
		t.words(0, 2)
		for _, c := range k.Chambers {
			taken := ""
			for _, name := range slices.Sorted(maps.Keys(c.Taken)) {
				if taken != "" {
					taken += ", "
				}
				taken += fmt.Sprintf("%s %s L", name, number(c.Taken[name], 2))
			}
			t.row(c.Name, number(c.Net, 4), taken)
		}
		t.write(w)
	}
	if len(k.Ports) > 0 {
		fmt.Fprintln(w)
		t = newTable("Port", "area cm²", "acts as mm", "tuned to Hz", "half wave Hz", "caution m/s")
		t.words(0)
		for _, p := range k.Ports {
			tuning := "–"
			if p.Tuning != nil {
				tuning = number(*p.Tuning, 3)
			}
			t.row(p.Name, number(p.Area, 3), number(p.Length, 3), tuning, number(p.Half, 3), number(p.Limit, 3))
		}
		t.write(w)
	}
	fmt.Fprintln(w)
	if len(k.Warnings) == 0 {
		fmt.Fprintln(w, "Nothing looks wrong.")
	}
	warnings(w, k.Warnings)
}
