package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"ocarina/design"
	"ocarina/fit/parameters"
	"ocarina/quantity"
)

func driverCommand() *cobra.Command {
	var (
		sd, re, box, mass string
		name, out         string
		reading           sweepFlags
		asJSON            bool
	)
	c := &cobra.Command{
		Use:   "driver FREE [LOADED]",
		Short: "Find a driver's Thiele-Small parameters from impedance sweeps",
		Long: "Driver measures a bare driver. FREE is its sweep in free air, LOADED that in a closed\n" +
			"box of known net volume (--box) or with a known mass on the cone (--added-mass). The\n" +
			"classical graphical method and a fit to the whole curves, with a lossy coil and creep,\n" +
			"stand side by side.\n\n" +
			"Measure small: a volt or less. Stick the mass on with something that lets go again.",
		Example: "  ocarina driver free.csv --sd \"490 cm2\" --re \"5.81 ohm\" --box \"1 ft3\" boxed.csv\n  ocarina driver free.csv --sd \"51 cm2\" --re \"3.3 ohm\" --added-mass \"3 g\" loaded.csv --name small --out small.hcl",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return asked("driver wants one or two sweeps, found %d files: %s", len(args), c.UseLine())
			}
			in := parameters.Input{}
			var err error
			measure := func(flag, text string, kind quantity.Dimension) float64 {
				if text == "" || err != nil {
					return 0
				}
				v, _, e := quantity.Parse(text, kind)
				if e != nil {
					err = asked("%s: %v", flag, e)
				} else if !(v > 0) {
					err = asked("%s: found %q, wanted more than nothing", flag, text)
				}
				return v
			}
			in.Sd = measure("--sd", sd, quantity.Area)
			in.Re = measure("--re", re, quantity.Resistance)
			in.Volume = measure("--box", box, quantity.Volume)
			in.Mass = measure("--added-mass", mass, quantity.Mass)
			switch {
			case err != nil:
				return err
			case in.Sd == 0:
				return asked("driver wants the piston area: --sd \"490 cm2\"")
			case in.Volume > 0 && in.Mass > 0:
				return asked("driver wants --box or --added-mass, not both")
			case len(args) == 2 && in.Volume == 0 && in.Mass == 0:
				return asked("the second sweep wants --box VOLUME or --added-mass MASS")
			case len(args) == 1 && (in.Volume > 0 || in.Mass > 0):
				return asked("--box and --added-mass want a second sweep, made with it: %s", c.UseLine())
			}
			if in.Free, err = reading.read(args[0]); err != nil {
				return err
			}
			if len(args) == 2 {
				if in.Loaded, err = reading.read(args[1]); err != nil {
					return err
				}
			}
			r, err := parameters.Extract(c.Context(), in)
			if errors.Is(err, parameters.ErrNoResonance) {
				return &codedError{code: wrong, err: err}
			}
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			d := &design.Design{Drivers: []*design.Driver{r.Block(name, in.Sd)}}
			d.Listen.Radiation = true
			if out != "" {
				if err := writeNew(out, d.Bytes()); err != nil {
					return err
				}
				fmt.Fprintln(c.ErrOrStderr(), "driver written to", out)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), driverReport(r))
			}
			showDriver(c.OutOrStdout(), r)
			if out == "" {
				fmt.Fprintf(c.OutOrStdout(), "\n%s", d.Bytes())
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&sd, "sd", "", "piston area, such as \"490 cm2\"")
	f.StringVar(&re, "re", "", "resistance of the coil at direct current, such as \"5.81 ohm\"")
	f.StringVar(&box, "box", "", "net volume of the closed box of the second sweep, such as \"1 ft3\"")
	f.StringVar(&mass, "added-mass", "", "mass on the cone in the second sweep, such as \"10 g\"")
	f.StringVar(&name, "name", "measured", "name of the driver block")
	reading.add(f)
	f.StringVar(&out, "out", "", "write the driver block to a new `FILE`")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	return c
}

// driverKeys are the numbers of a driver as printed: in their units.
var driverKeys = []struct {
	key, name, unit string
	si              float64
	of              func(*parameters.Set) float64
}{
	{"re_ohm", "Re", "ohm", 1, func(s *parameters.Set) float64 { return s.Re }},
	{"fs_hz", "fs", "Hz", 1, func(s *parameters.Set) float64 { return s.Fs }},
	{"qms", "Qms", "", 1, func(s *parameters.Set) float64 { return s.Qms }},
	{"qes", "Qes", "", 1, func(s *parameters.Set) float64 { return s.Qes }},
	{"qts", "Qts", "", 1, func(s *parameters.Set) float64 { return s.Qts }},
	{"vas_l", "Vas", "L", 1e-3, func(s *parameters.Set) float64 { return s.Vas }},
	{"mms_g", "Mms", "g", 1e-3, func(s *parameters.Set) float64 { return s.Mms }},
	{"cms_mm_n", "Cms", "mm/N", 1e-3, func(s *parameters.Set) float64 { return s.Cms }},
	{"rms_n_s_m", "Rms", "N*s/m", 1, func(s *parameters.Set) float64 { return s.Rms }},
	{"bl_t_m", "Bl", "T*m", 1, func(s *parameters.Set) float64 { return s.Bl }},
	{"le_mh", "Le at 1 kHz", "mH", 1e-3, func(s *parameters.Set) float64 { return s.Le }},
	{"coil_k", "coil K", "", 1, func(s *parameters.Set) float64 { return s.K }},
	{"coil_n", "coil n", "", 1, func(s *parameters.Set) float64 { return s.N }},
	{"creep", "creep", "", 1, func(s *parameters.Set) float64 { return s.Creep }},
}

type driverJSON struct {
	Graphical map[string]float64 `json:"graphical"`
	Fitted    map[string]float64 `json:"fitted"`
	Residual  float64            `json:"residual_db"`
	Warnings  []string           `json:"warnings"`
}

func driverReport(r *parameters.Result) driverJSON {
	v := driverJSON{map[string]float64{}, map[string]float64{}, r.Residual, append([]string{}, r.Warnings...)}
	for _, k := range driverKeys {
		if g := k.of(&r.Graphical); g != 0 {
			v.Graphical[k.key] = g / k.si
		}
		if f, se := k.of(&r.Fitted), k.of(&r.Error); f != 0 || se != 0 {
			v.Fitted[k.key], v.Fitted[k.key+"_se"] = f/k.si, se/k.si
		}
	}
	return v
}

func showDriver(w io.Writer, r *parameters.Result) {
	t := newTable("", "graphical", "fitted", "± one s.e.", "")
	t.words(0, 4)
	for _, k := range driverKeys {
		g, f, se := k.of(&r.Graphical)/k.si, k.of(&r.Fitted)/k.si, k.of(&r.Error)/k.si
		if f == 0 && se == 0 {
			continue
		}
		graphical := "–"
		if g != 0 {
			graphical = number(g, 4)
		}
		t.row(k.name, graphical, number(f, 4), number(se, 2), k.unit)
	}
	t.write(w)
	fmt.Fprintln(w)
	fmt.Fprintf(w, "The fit is %s dB off the sweep.\n", number(r.Residual, 2))
	warnings(w, r.Warnings)
}
