module ocarina

go 1.26.0

require (
	codeberg.org/go-fonts/liberation v0.5.0
	codeberg.org/go-pdf/fpdf v0.11.1
	github.com/agext/levenshtein v1.2.1
	github.com/danielgtaylor/huma/v2 v2.37.2
	github.com/go-audio/audio v1.0.0
	github.com/go-audio/wav v1.1.0
	github.com/google/go-cmp v0.7.0
	github.com/hashicorp/hcl/v2 v2.25.0
	github.com/mitchellh/go-wordwrap v1.0.1
	github.com/rogpeppe/go-internal v1.16.0
	github.com/spf13/cobra v1.10.2
	github.com/spf13/pflag v1.0.10
	github.com/zclconf/go-cty v1.20.0
	golang.org/x/image v0.30.0
	golang.org/x/term v0.48.0
	golang.org/x/text v0.34.0
	gonum.org/v1/gonum v0.17.0
	gonum.org/v1/plot v0.17.0
)

require (
	codeberg.org/go-latex/latex v0.2.0 // indirect
	git.sr.ht/~sbinet/gg v0.7.0 // indirect
	github.com/apparentlymart/go-textseg/v15 v15.0.0 // indirect
	github.com/apparentlymart/go-textseg/v17 v17.0.1 // indirect
	github.com/go-audio/riff v1.0.0 // indirect
	github.com/golang/freetype v0.0.0-20170609003504-e2365dfdc4a0 // indirect
	github.com/inconshreveable/mousetrap v1.1.0 // indirect
	golang.org/x/mod v0.32.0 // indirect
	golang.org/x/sync v0.25.0 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/tools v0.41.0 // indirect
)
