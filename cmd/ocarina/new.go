package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"ocarina/starter"
)

func newCommand() *cobra.Command {
	var out string
	kinds := strings.Join(starter.Kinds(), ", ")
	c := &cobra.Command{
		Use:       "new KIND",
		Short:     "Write a commented starter design",
		Long:      "New writes a full-size design of a common kind, with comments, to start from:\n" + kinds + ".",
		Example:   "  ocarina new ported --out van.hcl\n  ocarina new series",
		ValidArgs: starter.Kinds(),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return asked("new wants one kind of: %s", kinds)
			}
			text, ok := starter.Design(args[0])
			if !ok {
				return asked("found the kind %q, wanted one of: %s", args[0], kinds)
			}
			if out == "" {
				_, err := c.OutOrStdout().Write(text)
				return err
			}
			if err := writeNew(out, text); err != nil {
				return err
			}
			fmt.Fprintf(c.ErrOrStderr(), "written to %s; next: ocarina check %s\n", out, out)
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "write to a new `FILE` instead of standard output")
	return c
}
