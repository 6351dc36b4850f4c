package main

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Every flag of every verb that cannot hold what it is given says so in words of
// its own, with the flag, what was found and what is wanted.
func TestEveryFlagSaysWhatItWants(t *testing.T) {
	tried := 0
	var visit func(path []string, c *cobra.Command)
	visit = func(path []string, c *cobra.Command) {
		for _, inner := range c.Commands() {
			visit(append(path[:len(path):len(path)], inner.Name()), inner)
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if f.Value.Type() == "string" {
				return
			}
			tried++
			var errs bytes.Buffer
			value := "1e\"x" // neither a number, nor a word, nor a list
			code := run(context.Background(), append(path[:len(path):len(path)], "--"+f.Name+"="+value), io.Discard, &errs)
			want := "ocarina: --" + f.Name + `: found "1e\"x", wanted `
			if code != wrong || !strings.HasPrefix(errs.String(), want) || strings.Contains(errs.String(), "strconv") {
				t.Errorf("%s --%s: exit %d, %s", strings.Join(path, " "), f.Name, code, errs.String())
			}
		})
	}
	visit(nil, command(io.Discard, io.Discard))
	if tried < 40 {
		t.Errorf("only %d flags tried", tried)
	}
}
