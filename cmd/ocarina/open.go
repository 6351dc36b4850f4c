package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/hashicorp/hcl/v2"
	"golang.org/x/term"

	"ocarina/design"
	"ocarina/response"
)

// columns returns the width of a stream, 96 where it is no terminal.
func columns(w io.Writer) int {
	if f, ok := w.(*os.File); ok {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n > 20 {
			return min(n, 140)
		}
	}
	return 96
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// tell writes problems of a file and turns errors among them into an exit.
func tell(errs io.Writer, diags hcl.Diagnostics, d *design.Design) error {
	if len(diags) == 0 {
		return nil
	}
	var texts map[string][]byte
	if d != nil && d.Source != nil {
		texts = d.Source.Texts()
	}
	_, plain := os.LookupEnv("NO_COLOR")
	if err := design.WriteDiagnostics(errs, diags, texts, uint(columns(errs)), isTerminal(errs) && !plain); err != nil {
		return err
	}
	if diags.HasErrors() {
		return &codedError{code: wrong, err: errors.New("the design has errors"), told: true}
	}
	return nil
}

// load reads and builds a design. Its problems are told on errs; warnings that
// the answer repeats are not.
func load(path string, errs io.Writer) (*design.Model, error) {
	d, diags := design.ReadFile(path)
	if diags.HasErrors() {
		return nil, tell(errs, diags, d)
	}
	m, more := design.Build(d)
	if more.HasErrors() {
		return nil, tell(errs, append(diags, more...), d)
	}
	for _, w := range diags {
		m.Warnings = append(m.Warnings, w.Summary+": "+w.Detail)
	}
	return m, nil
}

// printJSON writes a value as indented JSON at full precision. A number that is
// not finite cannot be written and is an error.
func printJSON(w io.Writer, v any) error {
	raw, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return fmt.Errorf("the answer cannot be written: %w", err)
	}
	_, err = w.Write(append(raw, '\n'))
	return err
}

// The limits of a sweep.
const (
	lowest     = 0.1  // Hz
	highest    = 20e3 // Hz
	mostPoints = 200_000
)

// checkFrequency refuses what no sweep takes.
func checkFrequency(flag string, f float64) error {
	if !(f >= lowest && f <= highest) || math.IsNaN(f) {
		return asked("%s: found %g Hz, wanted a frequency from %g Hz to %g kHz", flag, f, lowest, highest/1000)
	}
	return nil
}

// frequencies returns what to sweep: the given list, or n points from one to
// another.
func frequencies(at []float64, from, to float64, points int) ([]float64, error) {
	if len(at) > 0 {
		if len(at) > mostPoints {
			return nil, asked("--at: found %d frequencies, wanted at most %d", len(at), mostPoints)
		}
		for _, f := range at {
			if err := checkFrequency("--at", f); err != nil {
				return nil, err
			}
		}
		return at, nil
	}
	if err := checkBand(from, to); err != nil {
		return nil, err
	}
	if points < 1 || points > mostPoints {
		return nil, asked("--points: found %d, wanted 1 to %d", points, mostPoints)
	}
	return response.LogSpaced(from, to, points), nil
}

func checkBand(from, to float64) error {
	if err := checkFrequency("--from", from); err != nil {
		return err
	}
	if err := checkFrequency("--to", to); err != nil {
		return err
	}
	if from >= to {
		return asked("--from %g Hz must be below --to %g Hz", from, to)
	}
	return nil
}
