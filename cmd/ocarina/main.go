// Command ocarina is a bench for bass enclosures: a design file goes in, what
// the box will do and why comes out.
//
// Exit status: 0 done, 1 failed at the work, 2 asked wrongly.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// The exit codes.
const (
	done   = 0
	failed = 1 // at the work
	wrong  = 2 // asked wrongly
)

// codedError carries the exit code of an error. With told set it has been
// written for people already.
type codedError struct {
	code int
	err  error
	told bool
}

func (e *codedError) Error() string { return e.err.Error() }
func (e *codedError) Unwrap() error { return e.err }

// asked marks an error as a wrong question.
func asked(format string, args ...any) error {
	return &codedError{code: wrong, err: fmt.Errorf(format, args...)}
}

// run does what the arguments say and returns the exit code.
func run(ctx context.Context, args []string, out, errs io.Writer) int {
	root := command(out, errs)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return done
	}
	var coded *codedError
	if errors.As(err, &coded) {
		if !coded.told {
			fmt.Fprintln(errs, "ocarina:", err)
		}
		return coded.code
	}
	// What is left are cobra's own complaints about commands and flags.
	fmt.Fprintln(errs, "ocarina:", err)
	fmt.Fprintln(errs, "Try: ocarina --help")
	return wrong
}

// version is the module's, or the revision it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 10 && (v == "" || v == "(devel)") {
			v = s.Value[:10]
		}
	}
	if v == "" {
		return "unknown"
	}
	return v
}

func command(out, errs io.Writer) *cobra.Command {
	root := &cobra.Command{
		Use:   "ocarina",
		Short: "A bench for bass enclosures",
		Long: "Ocarina computes what a bass enclosure will do, shows which part owns every\n" +
			"peak and dip of its impedance, and says what to change.",
		Example:       "  ocarina explain demo/dunlin.hcl\n  ocarina predict demo/dunlin.hcl --plot dunlin.svg",
		Version:       version(),
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },

		PersistentPreRunE: finite,
	}
	root.SetOut(out)
	root.SetErr(errs)
	root.SetFlagErrorFunc(flagFault)
	root.SetVersionTemplate("ocarina {{.Version}}\n")
	root.AddCommand(predictCommand(), explainCommand(), checkCommand(), scaleCommand(), newCommand(), serveCommand(), reportCommand(), matchCommand(), driverCommand(), compareCommand(), sweepCommand(), tonesCommand())
	return root
}

// oneFile demands exactly one argument, a file.
func oneFile(c *cobra.Command, args []string) error {
	if len(args) != 1 {
		return asked("%s wants one design file, found %d: %s", c.Name(), len(args), c.UseLine())
	}
	return nil
}
