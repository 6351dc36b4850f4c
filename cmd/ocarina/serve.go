package main

import (
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"ocarina/web"
)

func serveCommand() *cobra.Command {
	var opt web.Options
	c := &cobra.Command{
		Use:   "serve [FOLDER | FILE]",
		Short: "Open the bench page on a folder of designs",
		Long: "Serve shows the designs of a folder on one local page: the box as it moves, the\n" +
			"curves, every dimension under your hand. It reaches this folder only and, unless\n" +
			"--addr says otherwise, only this machine can reach it.",
		Example: "  ocarina serve demo\n  ocarina serve demo/dunlin.hcl --open",
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return asked("serve wants one folder or design file, found %d", len(args))
			}
			opt.Dir = "."
			if len(args) == 1 {
				opt.Dir = args[0]
			}
			info, err := os.Stat(opt.Dir)
			if err != nil {
				return asked("%s: wanted a folder of designs, or one of them: %v", opt.Dir, err)
			}
			if !info.IsDir() {
				opt.Dir, opt.File = filepath.Split(opt.Dir)
				if opt.Dir == "" {
					opt.Dir = "."
				}
			}
			opt.Log = c.ErrOrStderr()
			if err := web.Serve(c.Context(), opt); err != nil {
				return &codedError{code: failed, err: err}
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&opt.Addr, "addr", "", "listen here instead of 127.0.0.1:8420; beyond this machine a token is asked for")
	f.StringVar(&opt.Token, "token", "", "the token to ask for; one is made where it is needed")
	f.StringSliceVar(&opt.Hosts, "host", nil, "further `NAMES` the page may be called by")
	f.BoolVar(&opt.Open, "open", false, "open the page in the browser")
	return c
}
