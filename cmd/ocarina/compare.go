package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/fit"
	"ocarina/picture"
	"ocarina/response"
)

// mostCompared is how many files one table and one picture hold.
const mostCompared = 8

func compareCommand() *cobra.Command {
	var (
		at      []float64
		reading sweepFlags
		plotTo  string
		asJSON  bool
	)
	c := &cobra.Command{
		Use:   "compare FILE FILE...",
		Short: "Set several sweeps or designs side by side",
		Long: "Compare reads designs (.hcl, .hcl.json) and sweeps and sets them side by side: where\n" +
			"each has its peaks and dips, and what they have at the tones. The first is what the\n" +
			"others are compared with: before and after a change, a drawing and two builds of it.",
		Example: "  ocarina compare demo/dunlin.hcl demo/sweeps/dunlin.csv\n  ocarina compare before.csv after.csv --at 112,144 --plot change.svg",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) < 2 || len(args) > mostCompared {
				return asked("compare wants 2 to %d designs or sweeps, found %d: %s", mostCompared, len(args), c.UseLine())
			}
			for _, f := range at {
				if err := checkFrequency("--at", f); err != nil {
					return err
				}
			}
			tones := at
			var items []fit.Item
			for i, path := range args {
				item := fit.Item{Name: short(args, i)}
				if isDesign(path) {
					m, err := load(path, c.ErrOrStderr())
					if err != nil {
						return err
					}
					item.Bench = response.NewBench(m)
					if len(at) == 0 && len(tones) == 0 {
						for _, q := range m.Design.Tones {
							tones = append(tones, q.SI)
						}
					}
				} else {
					s, err := reading.read(path)
					if err != nil {
						return err
					}
					item.Sweep = s
				}
				items = append(items, item)
			}
			r, err := fit.Compare(items, tones)
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			if plotTo != "" {
				if err := picture.Compare(r).WriteFile(plotTo); err != nil {
					return &codedError{code: failed, err: err}
				}
				fmt.Fprintln(c.ErrOrStderr(), "drawn to", plotTo)
			}
			if asJSON {
				return printJSON(c.OutOrStdout(), r)
			}
			showComparison(c.OutOrStdout(), r)
			return nil
		},
	}
	f := c.Flags()
	numbers(f, &at, "at", "tones, `HZ`, with commas between; else those of the first design that has some")
	reading.add(f)
	f.StringVar(&plotTo, "plot", "", "draw to a `FILE`.svg, .png or .pdf")
	f.BoolVar(&asJSON, "json", false, "print JSON at full precision")
	return c
}

func isDesign(path string) bool {
	return strings.HasSuffix(path, ".hcl") || strings.HasSuffix(path, ".hcl.json")
}

// short names a file among others: by its name alone, or, where two have one, by
// its whole path.
func short(paths []string, i int) string {
	name := filepath.Base(paths[i])
	for j, p := range paths {
		if j != i && filepath.Base(p) == name {
			return paths[i]
		}
	}
	return name
}

func showComparison(w io.Writer, r *fit.Comparison) {
	share := func(v, first float64) string { return signed(100*(v/first-1), 1) + " %" }
	ratio := func(v, first float64) string {
		return signed(response.Level(complex(v, 0))-response.Level(complex(first, 0)), 2) + " dB"
	}
	less := func(v, first float64) string { return signed(v-first, 2) + " dB" }
	show := func(what string, rows func(t *table)) {
		t := newTable(what)
		t.words(0)
		for _, name := range r.Items {
			t.column(name)
		}
		rows(t)
		if len(t.rows) > 0 {
			t.write(w)
			fmt.Fprintln(w)
		}
	}
	cells := func(head string, list []*float64, digits int, how func(v, first float64) string) []string {
		row := []string{head}
		for i, v := range list {
			cell := "–"
			if v != nil {
				cell = number(*v, digits)
				if i > 0 && list[0] != nil {
					cell += " (" + how(*v, *list[0]) + ")"
				}
			}
			row = append(row, cell)
		}
		return row
	}
	show("Hz", func(t *table) {
		for _, v := range r.Features {
			head := v.Kind
			if v.Owner != "" {
				head += ", " + v.Owner
			}
			t.row(cells(head, v.Frequency, 4, share)...)
		}
	})
	show("ohm", func(t *table) {
		for _, v := range r.Features {
			t.row(cells(v.Kind, v.Impedance, 3, ratio)...)
		}
	})
	show("ohm at tone", func(t *table) {
		for _, v := range r.Tones {
			t.row(cells(number(v.Frequency, 4)+" Hz", v.Impedance, 3, ratio)...)
		}
	})
	show("level, dB", func(t *table) {
		for _, v := range r.Tones {
			some := false
			for _, l := range v.Level {
				some = some || l != nil
			}
			if some {
				t.row(cells(number(v.Frequency, 4)+" Hz", v.Level, 4, less)...)
			}
		}
	})
	for i, a := range r.Apart[1:] {
		fmt.Fprintf(w, "%s and %s are %s dB apart in |Z|, %s to %s Hz (RMS).\n", r.Items[0], r.Items[i+1], number(a, 2), number(r.From, 3), number(r.To, 3))
	}
	warnings(w, r.Warnings)
}
