// Package starter holds commented designs to begin from, one of each common
// kind.
package starter

import (
	"embed"
	"slices"
	"strings"
)

//go:embed designs/*.hcl
var designs embed.FS

// Kinds lists the kinds there are, in alphabetical order.
func Kinds() []string {
	entries, err := designs.ReadDir("designs")
	if err != nil {
		panic(err) // embedded with the program
	}
	var kinds []string
	for _, e := range entries {
		kinds = append(kinds, strings.TrimSuffix(e.Name(), ".hcl"))
	}
	slices.Sort(kinds)
	return kinds
}

// Design returns the starter design of a kind.
func Design(kind string) (text []byte, ok bool) {
	if !slices.Contains(Kinds(), kind) {
		return nil, false
	}
	text, err := designs.ReadFile("designs/" + kind + ".hcl")
	return text, err == nil
}
