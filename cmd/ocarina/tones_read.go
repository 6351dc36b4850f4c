package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/picture"
	"ocarina/tone"
	"ocarina/tone/beside"
	"ocarina/tone/recording"
	"ocarina/tone/rehearse"
	"ocarina/tone/session"
	"ocarina/tone/signal"
	"ocarina/wav"
)

func tonesReadCommand() *cobra.Command {
	var (
		o                  recording.Options
		planFile, designed string
		asJSON             bool
		plotTo             string
	)
	c := &cobra.Command{
		Use:   "read REC.wav",
		Short: "Read a recording of tones: harmonics, distortion, compression, rattles; beside its prediction",
		Long: "Read finds tones and steps in a recording by itself. With the plan that `tones make`\n" +
			"wrote it knows the drives, and with a design it lays the prediction beside what was\n" +
			"recorded. A calibrator's tone of 94 or 114 dB at 1 kHz in the recording, or a given\n" +
			"sensitivity, turns levels into sound pressure.",
		Example: "  ocarina tones read evening-rec.wav\n  ocarina tones read evening-rec.wav --plan evening.json --design demo/dunlin.hcl",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return asked("%s wants one recording, found %d: %s", c.Name(), len(args), c.UseLine())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if c.Flags().Changed("calibrator") && !(o.Calibrator >= softCalibrator && o.Calibrator <= loudCalibrator) {
				return asked("--calibrator: found %g dB, wanted %g to %g, as calibrators have", o.Calibrator, softCalibrator, loudCalibrator)
			}
			if designed != "" && o.DriveChannel > 0 && o.DriveFullScale == 0 {
				return asked("--drive-channel beside --design wants --drive-full-scale: the volts of full scale in that channel")
			}
			if planFile != "" {
				s, err := readSession(planFile)
				if err != nil {
					return err
				}
				known := s.Known()
				o.Drives = known.Drives
				if len(o.Tones) == 0 {
					o.Tones = known.Tones
				}
			}
			rec, err := wav.ReadFile(args[0])
			if err != nil {
				return fileFault(err)
			}
			r, err := recording.Analyse(rec, o)
			if err != nil {
				var e *recording.Error
				if errors.As(err, &e) {
					return &codedError{code: wrong, err: err}
				}
				return &codedError{code: failed, err: err}
			}
			if designed == "" {
				if plotTo != "" {
					return asked("--plot wants --design: it draws prediction and recording side by side")
				}
				if asJSON {
					return printJSON(c.OutOrStdout(), r)
				}
				showRecording(c.OutOrStdout(), r)
				return nil
			}
			m, err := load(designed, c.ErrOrStderr())
			if err != nil {
				return err
			}
			both, err := beside.Compare(m, r, tone.Options{})
			if err != nil {
				return toneFault(err)
			}
			if plotTo != "" {
				if err := picture.Beside(m, both).WriteFile(plotTo); err != nil {
					return &codedError{code: failed, err: err}
				}
				fmt.Fprintln(c.ErrOrStderr(), "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), struct {
					Recording *recording.Report  `json:"recording"`
					Beside    *beside.Comparison `json:"beside"`
				}{r, both})
			}
			showRecording(c.OutOrStdout(), r)
			fmt.Fprintln(c.OutOrStdout())
			showBeside(c.OutOrStdout(), both)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&planFile, "plan", "", "the `FILE`.json that tones make wrote")
	f.StringVar(&designed, "design", "", "the design `FILE` to predict from")
	numbers(f, &o.Tones, "at", "tones that were played, `HZ`, with commas between; else any are looked for")
	f.IntVar(&o.Channel, "channel", 0, "channel to read, from 1; else the loudest")
	f.IntVar(&o.DriveChannel, "drive-channel", 0, "channel that holds the drive itself")
	f.Float64Var(&o.DriveFullScale, "drive-full-scale", 0, "`V` of full scale in that channel")
	f.Float64Var(&o.Sensitivity, "sensitivity", 0, "full scales for a pascal, in place of a calibrator")
	f.Float64Var(&o.Calibrator, "calibrator", 0, "level of the calibrator, dB; else 94, or 94 and 114")
	f.BoolVar(&o.NoCalibrator, "no-calibrator", false, "take a tone of 1 kHz for one of the tones")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	f.StringVar(&plotTo, "plot", "", "with --design: draw to a `FILE`.svg, .png or .pdf")
	return c
}

// What a microphone's calibrator may give, dB.
const (
	softCalibrator = 60.0
	loudCalibrator = 140.0
)

// fileFault tells a file that is not what it should be from one that cannot be
// read.
func fileFault(err error) error {
	var e *wav.Error
	if errors.As(err, &e) || errors.Is(err, os.ErrNotExist) {
		return &codedError{code: wrong, err: err}
	}
	return &codedError{code: failed, err: err}
}

func readSession(path string) (*session.Session, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, &codedError{code: wrong, err: err}
	}
	defer file.Close()
	raw, err := io.ReadAll(io.LimitReader(file, 4<<20))
	if err != nil {
		return nil, &codedError{code: failed, err: err}
	}
	s, err := session.Read(raw)
	if err != nil {
		return nil, &codedError{code: wrong, err: fmt.Errorf("%s: %w", path, err)}
	}
	return s, nil
}

func showRecording(w io.Writer, r *recording.Report) {
	unit := "dB re full scale"
	if r.Calibration != nil {
		unit = "dB re 20 µPa"
	}
	fmt.Fprintf(w, "%.1f s read, levels in %s.\n", r.Seconds, unit)
	for i := range r.Tones {
		t := &r.Tones[i]
		fmt.Fprintf(w, "\n♪ %.5g Hz ± %.2g\n", t.Frequency, t.FrequencyError)
		table := newTable("at s", "drive dB", "dB", "H2", "H3", "THD %", "± %", "THD+N %", "asym %", "lag", "")
		table.words(10)
		for k := range t.Steps {
			s := &t.Steps[k]
			if len(s.Harmonics) == 0 {
				continue
			}
			harmonic := func(n int) string {
				if n >= len(s.Harmonics) {
					return "–"
				}
				h := s.Harmonics[n]
				if h.RMS < 2*h.Error {
					return fmt.Sprintf("<%.0f", h.Relative)
				}
				return fixed(h.Relative, 0)
			}
			drive, lag := "–", "–"
			if s.Drive != nil {
				drive = fixed(*s.Drive, 1)
			}
			if s.Compression != nil {
				lag = fixed(*s.Compression, 2)
			}
			var signs []string
			if t.Deformed != nil && t.Deformed.Step == k {
				signs = append(signs, "first deformed: "+strings.Join(t.Deformed.Causes, ", "))
			}
			if s.Rattle {
				signs = append(signs, "rattles or buzzes")
			}
			if s.Clipped > 0 {
				signs = append(signs, "the recorder clips")
			}
			table.row(fixed(s.Start, 1), drive, fixed(s.Harmonics[0].Level, 2), harmonic(1), harmonic(2),
				number(100*s.OfFundamental, 3), number(100*s.Error, 1), number(100*s.Noise, 3), number(100*s.Asymmetry, 2), lag, strings.Join(signs, "; "))
		}
		table.write(w)
	}
	fmt.Fprintln(w)
	warnings(w, r.Warnings)
}

func showBeside(w io.Writer, c *beside.Comparison) {
	fmt.Fprintln(w, "Beside the prediction (predicted | recorded)")
	for i := range c.Tones {
		t := &c.Tones[i]
		fmt.Fprintln(w)
		paragraph(w, "♪ ", t.Reading)
		table := newTable("V", "dB", "|", "lag", "|", "THD %", "|", "H2", "|", "H3", "|", "asym %", "|")
		for _, s := range t.Steps {
			row := []string{number(s.Voltage, 3)}
			add := func(p beside.Pair, decimals int, scale float64) {
				row = append(row, fixed(p.Predicted*scale, decimals))
				if p.Recorded == nil {
					row = append(row, "–")
					return
				}
				row = append(row, fixed(*p.Recorded*scale, decimals))
			}
			add(s.Level, 1, 1)
			add(s.Compression, 2, 1)
			add(s.THD, 2, 100)
			for k := range 2 {
				if k >= len(s.Harmonics) {
					row = append(row, "–", "–")
					continue
				}
				h := s.Harmonics[k]
				predicted := fixed(math.Max(h.Predicted, -199), 1)
				if h.Predicted < s.Told {
					predicted = "–"
				}
				told := "–"
				if h.Recorded != nil && *h.Recorded > s.Told+3 {
					told = fixed(*h.Recorded, 1)
				}
				row = append(row, predicted, told)
			}
			add(s.Asymmetry, 1, 100)
			table.row(row...)
		}
		table.write(w)
	}
	for _, f := range c.Missing {
		fmt.Fprintf(w, "\n%.5g Hz: its drives are not known, so it is not compared.\n", f)
	}
	fmt.Fprintln(w)
	for _, s := range c.Cautions {
		paragraph(w, "Beware: ", s)
	}
}

func tonesRehearseCommand() *cobra.Command {
	var (
		planFile, out string
		o             rehearse.Options
	)
	c := &cobra.Command{
		Use:   "rehearse FILE",
		Short: "Make the recording a design would give of a session: invented sound, to practise on",
		Long: "Rehearse plays the plan that `tones make` wrote on a design, as predicted, and writes\n" +
			"the recording. Play the plan of one design on another that differs a little, and read\n" +
			"it with `tones read` to learn what a fault looks like.",
		Example: "  ocarina tones rehearse demo/dunlin.hcl --plan evening.json --out rehearsed.wav",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			if planFile == "" {
				return asked("rehearse wants --plan FILE.json, as tones make wrote it")
			}
			s, err := readSession(planFile)
			if err != nil {
				return err
			}
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			l, err := signal.Lay(s.Plan())
			if err != nil {
				return &codedError{code: wrong, err: fmt.Errorf("%s: %w", planFile, err)}
			}
			x, sensitivity, err := rehearse.Record(m, l, o)
			if err != nil {
				return toneFault(err)
			}
			if out == "" {
				out = strings.TrimSuffix(filepath.Base(planFile), ".json") + "-rehearsed.wav"
			}
			if err := absent(out); err != nil {
				return err
			}
			if err := wav.WriteFile(out, wav.Format{Rate: s.Rate, Bits: s.Bits}, [][]float64{x}); err != nil {
				return &codedError{code: failed, err: err}
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %.1f s of invented sound, %.6g full scales for a pascal\n", out, float64(len(x))/float64(s.Rate), sensitivity)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&planFile, "plan", "", "the `FILE`.json that tones make wrote")
	f.StringVar(&out, "out", "", "write to a new `FILE`.wav")
	f.Float64Var(&o.Calibrator, "calibrator", 94, "level of a calibrator's tone put first, dB; 0 for none")
	f.Float64Var(&o.Noise, "noise", 40, "level of the noise, dB; 0 for none")
	f.Float64Var(&o.Hum, "hum", 0, "level of mains hum, dB; 0 for none")
	f.Uint64Var(&o.Seed, "seed", 1, "of the noise")
	return c
}

// absent demands that files do not exist yet.
func absent(paths ...string) error {
	for _, p := range paths {
		if _, err := os.Stat(p); err == nil {
			return &codedError{code: failed, err: fmt.Errorf("%s exists already: name another file, or remove it first", p)}
		}
	}
	return nil
}
