// Package house holds the project to the picture drawn in CONTRIBUTING.md.
package house

import (
	"encoding/json"
	"os/exec"
	"strings"
	"testing"
)

// floors lists the packages from the top of the house down. A package may
// import those of floors below, and of its own.
var floors = [][]string{
	{"cmd/ocarina"},
	{"web"},
	{"report", "picture", "plot", "starter"},
	{"fit", "tone", "hearing", "sound"},
	{"sweep", "wav", "response", "design"},
	{"network"},
	{"driver", "acoustic", "leastsquares", "formula", "air", "quantity"},
}

// floor returns on which floor a package is, by the folder it stands in.
func floor(path string) int {
	for i, names := range floors {
		for _, n := range names {
			if path == n || strings.HasPrefix(path, n+"/") {
				return i
			}
		}
	}
	return -1
}

func TestArrowsRunDownwards(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "ocarina/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := d.Decode(&p); err != nil {
			t.Fatal(err)
		}
		path := strings.TrimPrefix(p.ImportPath, "ocarina/")
		if strings.HasPrefix(path, "internal/") {
			continue
		}
		seen++
		at := floor(path)
		if at < 0 {
			t.Errorf("%s is in no room of the house: draw it in CONTRIBUTING.md and here", path)
			continue
		}
		for _, i := range p.Imports {
			other, ours := strings.CutPrefix(i, "ocarina/")
			if ours && !strings.HasPrefix(other, "internal/") && floor(other) < at {
				t.Errorf("%s imports %s, which is above it", path, other)
			}
		}
	}
	if seen < 20 {
		t.Fatalf("only %d packages seen", seen)
	}
}
