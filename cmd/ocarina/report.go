package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/quantity"
	"ocarina/report"
)

func reportCommand() *cobra.Command {
	var (
		out    string
		inches bool
	)
	c := &cobra.Command{
		Use:     "report FILE",
		Short:   "Write a design on one page to print",
		Long:    "Report writes one page with the parts, the curves, every peak and dip with its owner,\nand the tones with what limits them: as PDF, or as HTML for a browser to print.",
		Example: "  ocarina report demo/dunlin.hcl --out dunlin.pdf\n  ocarina report demo/dunlin.hcl --out dunlin.html --inches",
		Args:    oneFile,
		RunE: func(c *cobra.Command, args []string) error {
			var write func(*report.Page, io.Writer) error
			switch strings.ToLower(filepath.Ext(out)) {
			case ".pdf":
				write = (*report.Page).PDF
			case ".html":
				write = (*report.Page).HTML
			default:
				return asked("report wants --out FILE.pdf or --out FILE.html, found %q", out)
			}
			m, err := load(args[0], c.ErrOrStderr())
			if err != nil {
				return err
			}
			system := quantity.Metric
			if inches {
				system = quantity.Inch
			}
			page, err := report.Of(m, system)
			if err != nil {
				return &codedError{code: failed, err: err}
			}
			var text bytes.Buffer
			if err := write(page, &text); err != nil {
				return &codedError{code: failed, err: err}
			}
			if err := writeNew(out, text.Bytes()); err != nil {
				return err
			}
			fmt.Fprintln(c.ErrOrStderr(), "written to", out)
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "write to a new `FILE`.pdf or .html")
	c.Flags().BoolVar(&inches, "inches", false, "in inches, cubic feet and square inches")
	return c
}
