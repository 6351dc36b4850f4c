package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"

	"github.com/spf13/cobra"

	"ocarina/plot"
	"ocarina/sweep"
)

func sweepCommand() *cobra.Command {
	c := &cobra.Command{
		Use:     "sweep",
		Short:   "Make a signal to measure impedance with, or read a measured sweep",
		Example: "  ocarina sweep make chirp.wav\n  ocarina sweep read demo/sweeps/dunlin.csv",
		Args:    cobra.NoArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(sweepMakeCommand(), sweepReadCommand())
	return c
}

func sweepMakeCommand() *cobra.Command {
	var s sweep.Stimulus
	var kind string
	c := &cobra.Command{
		Use:   "make FILE.wav",
		Short: "Write the signal to play while source and load voltage are recorded",
		Long: "Make writes one channel of 24 bits. Play it through an amplifier and a known series\n" +
			"resistor into the load and record two channels: the voltage at the source, and the\n" +
			"voltage at the load. Read the recording with --series.\n\n" + sweep.Caution,
		Example: "  ocarina sweep make chirp.wav\n  ocarina sweep make steps.wav --kind steps --from 10 --to 500 --level -20",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return asked("make wants one file to write, found %d: %s", len(args), c.UseLine())
			}
			s.Kind = sweep.Kind(kind)
			if _, err := os.Stat(args[0]); !errors.Is(err, fs.ErrNotExist) {
				return &codedError{code: failed, err: fmt.Errorf("%s exists already: name another file, or remove it first", args[0])}
			}
			if _, err := s.Make(); err != nil {
				return asked("make: found %v", err)
			}
			sig, err := s.WriteFile(args[0])
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			w := c.OutOrStdout()
			fmt.Fprintf(w, "%s: %s s at %d Hz, %s.\n", args[0], number(float64(len(sig.Samples))/float64(sig.Rate), 3), sig.Rate, sig.Level())
			paragraph(w, "", sweep.Caution)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&kind, "kind", string(sweep.Chirp), "steps, sweep or noise")
	f.Float64Var(&s.From, "from", 5, "lowest frequency, Hz")
	f.Float64Var(&s.To, "to", 2000, "highest frequency, Hz")
	f.Float64Var(&s.Seconds, "seconds", 30, "length of the signal, s")
	f.Float64Var(&s.Level, "level", -6, "highest peak, dB re full scale")
	f.IntVar(&s.Rate, "rate", 48000, "samples a second, Hz")
	f.IntVar(&s.PerOctave, "per-octave", 6, "tones of steps in an octave")
	f.Uint64Var(&s.Seed, "seed", 0, "which noise")
	return c
}

func sweepReadCommand() *cobra.Command {
	var (
		reading     sweepFlags
		out, plotTo string
		asJSON      bool
	)
	c := &cobra.Command{
		Use:   "read FILE",
		Short: "Read a sweep from a text table, a Touchstone file or a recording, and list its peaks and dips",
		Example: "  ocarina sweep read demo/sweeps/dunlin.csv\n  ocarina sweep read table.txt --columns \"frequency kHz, -, |Z|\"\n" +
			"  ocarina sweep read box.wav --series \"100 ohm\" --calibration known.wav --known \"10 ohm\" --out box.csv",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return asked("read wants one sweep, found %d files: %s", len(args), c.UseLine())
			}
			s, err := reading.read(args[0])
			if err != nil {
				return err
			}
			if out != "" {
				if err := writeNew(out, tabled(s)); err != nil {
					return err
				}
				fmt.Fprintln(c.ErrOrStderr(), "table written to", out)
			}
			if plotTo != "" {
				if err := sweepSheet(s).WriteFile(plotTo); err != nil {
					return &codedError{code: failed, err: err}
				}
				fmt.Fprintln(c.ErrOrStderr(), "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), sweepReport(s))
			}
			return showSweep(c.OutOrStdout(), s)
		},
	}
	f := c.Flags()
	reading.add(f)
	f.StringVar(&out, "out", "", "write the sweep as a table to a new `FILE`")
	f.StringVar(&plotTo, "plot", "", "draw to a `FILE`.svg, .png or .pdf")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	return c
}

// tabled writes a sweep as the table that every reader of sweeps knows.
func tabled(s *sweep.Sweep) []byte {
	var b bytes.Buffer
	b.WriteString("frequency Hz, |Z| ohm")
	if s.Phase != nil {
		b.WriteString(", phase deg")
	}
	if s.Coherence != nil {
		b.WriteString(", coherence")
	}
	b.WriteByte('\n')
	for i, f := range s.Frequency {
		fmt.Fprintf(&b, "%.6g, %.6g", f, s.Magnitude[i])
		if s.Phase != nil {
			fmt.Fprintf(&b, ", %.4f", 180/math.Pi*s.Phase[i])
		}
		if s.Coherence != nil {
			fmt.Fprintf(&b, ", %.5f", s.Coherence[i])
		}
		b.WriteByte('\n')
	}
	return b.Bytes()
}

type sweepFeature struct {
	Kind           string  `json:"kind"`
	Frequency      float64 `json:"frequency_hz"`
	FrequencyError float64 `json:"frequency_hz_se"`
	Height         float64 `json:"impedance_ohm"`
	HeightError    float64 `json:"impedance_ohm_se"`
	Q              float64 `json:"q"`
	QError         float64 `json:"q_se"`
	Prominence     float64 `json:"prominence_db"`
}

type sweepJSON struct {
	Points    int            `json:"points"`
	Skipped   int            `json:"skipped"`
	Frequency []float64      `json:"frequency_hz"`
	Magnitude []float64      `json:"impedance_ohm"`
	Phase     []float64      `json:"impedance_phase_deg"` // null if unknown
	Coherence []float64      `json:"coherence"`           // null if unknown
	Features  []sweepFeature `json:"features"`
	Warnings  []string       `json:"warnings"`
}

func sweepReport(s *sweep.Sweep) sweepJSON {
	v := sweepJSON{Points: s.Len(), Skipped: s.Skipped, Frequency: s.Frequency, Magnitude: s.Magnitude, Coherence: s.Coherence,
		Features: []sweepFeature{}, Warnings: append([]string{}, s.Warnings...)}
	for _, p := range s.Phase {
		v.Phase = append(v.Phase, 180/math.Pi*p)
	}
	for _, f := range s.Features() {
		v.Features = append(v.Features, sweepFeature{f.Kind, f.Frequency, f.FrequencyError, f.Height, f.HeightError, f.Q, f.QError, f.Prominence})
	}
	return v
}

func sweepSheet(s *sweep.Sweep) plot.Sheet {
	panel := plot.Panel{Axis: plot.Axis{Title: "Impedance", Unit: "ohm", Log: true}, Curves: []plot.Curve{{X: s.Frequency, Y: s.Magnitude}}}
	for _, f := range s.Features() {
		panel.Features = append(panel.Features, plot.Feature{X: f.Frequency, Y: f.Height, Label: number(f.Frequency, 4)})
	}
	return plot.Sheet{Panels: []plot.Panel{panel}, XTitle: "Frequency", XUnit: "Hz", LogX: true}
}

func showSweep(w io.Writer, s *sweep.Sweep) error {
	with := "without phase"
	if s.Phase != nil {
		with = "with phase"
	}
	fmt.Fprintf(w, "%s: %d points, %s to %s Hz, %s.\n\n", s.Name, s.Len(), number(s.Frequency[0], 3), number(s.Frequency[s.Len()-1], 3), with)
	t := newTable("", "Hz", "± one s.e.", "ohm", "Q", "stands out, dB")
	t.words(0)
	for _, f := range s.Features() {
		t.row(f.Kind, number(f.Frequency, 4), number(f.FrequencyError, 2), number(f.Height, 3), number(f.Q, 2), number(f.Prominence, 2))
	}
	if len(t.rows) == 0 {
		fmt.Fprintln(w, "No peak or dip stands out from the noise.")
	} else {
		t.write(w)
	}
	fmt.Fprintln(w)
	if err := sweepSheet(s).Terminal(w, columns(w), 14, true); err != nil {
		return err
	}
	if s.Skipped > 0 {
		fmt.Fprintf(w, "\n%d faulty rows were left out.\n", s.Skipped)
	}
	warnings(w, s.Warnings)
	return nil
}
