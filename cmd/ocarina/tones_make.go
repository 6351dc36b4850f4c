package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/tone"
	"ocarina/tone/session"
	"ocarina/tone/signal"
)

func tonesMakeCommand() *cobra.Command {
	var (
		choice session.Choice
		at     []float64
		out    string
		rate   int
		bits   int
		hold   float64
		gap    float64
		full   float64
		ramp   float64
	)
	c := &cobra.Command{
		Use:   "make FILE",
		Short: "Make a sound file of stepped tones at levels that are safe, with a sheet of what to set",
		Long: "Make predicts each tone's ladder and writes three new files: NAME.wav with the tones\n" +
			"stepped or ramped up, NAME.txt, a sheet that says what to set and to beware of, and NAME.json,\n" +
			"the plan by which `ocarina tones read` lays a recording beside the prediction.\n\n" +
			"Unless asked with --beyond, no step takes a cone past xmax, a coil past half its rated\n" +
			"power or the amplifier past its limits.",
		Example: "  ocarina tones make demo/dunlin.hcl --out evening\n  ocarina tones make demo/dunlin.hcl --out short --steps 5 --span 12 --at 112,144\n  ocarina tones make demo/dunlin.hcl --out rising --ramp 25",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			if err := aboveZero(c, "steps", "span", "hold", "ramp", "top", "full-scale"); err != nil {
				return err
			}
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			if ramp != 0 && (c.Flags().Changed("hold") || c.Flags().Changed("gap")) {
				return asked("--ramp beside --hold or --gap: a ramp has no steps that hold")
			}
			l, err := tone.Predict(m, tone.Options{Tones: at})
			if err != nil {
				return toneFault(err)
			}
			if out == "" {
				name := filepath.Base(args[0])
				out = strings.TrimSuffix(strings.TrimSuffix(name, ".json"), ".hcl") + "-tones"
			}
			s := &session.Session{Title: m.Design.Title, Wave: filepath.Base(out) + ".wav", Rate: rate, Bits: bits, Full: full, Hold: hold, StepGap: gap, Ramp: ramp}
			if err := s.Add(m, l, choice); err != nil {
				return toneFault(err)
			}
			laid, err := signal.Lay(s.Plan())
			if err != nil {
				return &codedError{code: wrong, err: err}
			}
			raw, err := s.Bytes()
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			if err := absent(out+".wav", out+".txt", out+".json"); err != nil {
				return err
			}
			if err := laid.WriteFile(out + ".wav"); err != nil {
				return &codedError{code: failed, err: err}
			}
			sheet := laid.Sheet(s.Wave)
			if err := writeNew(out+".txt", []byte(sheet)); err != nil {
				return err
			}
			if err := writeNew(out+".json", raw); err != nil {
				return err
			}
			fmt.Fprint(c.OutOrStdout(), sheet)
			fmt.Fprintf(c.ErrOrStderr(), "written: %s.wav, %s.txt, %s.json\n", out, out, out)
			return nil
		},
	}
	f := c.Flags()
	numbers(f, &at, "at", "these tones, `HZ`, with commas between, in place of the design's")
	f.IntVar(&choice.Steps, "steps", 8, "drives of each tone")
	f.Float64Var(&choice.Span, "span", 21, "dB from the softest to the loudest")
	f.Float64Var(&choice.Top, "top", 0, "`V` RMS that no step passes; wanted where nothing in the design bounds a tone")
	f.Float64Var(&choice.Beyond, "beyond", 0, "`dB` by which the loudest step goes past what is safe: only for what may be risked")
	f.StringVar(&out, "out", "", "`NAME` of the three files; else the design's with -tones")
	f.IntVar(&rate, "rate", 48000, "samples a second")
	f.IntVar(&bits, "bits", 24, "bits of a sample: 16, 24 or 32")
	f.Float64Var(&hold, "hold", 1.5, "seconds a step holds once settled")
	f.Float64Var(&gap, "gap", 0, "seconds of pause between steps, in which coils cool")
	f.Float64Var(&ramp, "ramp", 0, "`seconds` in which each tone's level rises evenly, in place of steps")
	f.Float64Var(&choice.Reference, "reference", 15, "`seconds` of a steady tone put first to set the amplifier by; 0 for none")
	f.Float64Var(&full, "full-scale", 0, "`V` RMS of a full-scale sine; else the loudest step lies 1 dB under full scale")
	return c
}
