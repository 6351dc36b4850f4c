package design

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// FuzzParse and FuzzParseJSON: nothing panics, every message can be told
// harmlessly, no number is infinite, and whatever reads without an error is
// written and read back alike, changed or not.
func FuzzParse(f *testing.F)     { fuzz(f, "a.hcl") }
func FuzzParseJSON(f *testing.F) { fuzz(f, "a.hcl.json") }

func fuzz(f *testing.F, filename string) {
	for _, folder := range []string{"good", "bad"} {
		paths, err := filepath.Glob(filepath.Join("testdata", folder, "*"))
		if err != nil {
			f.Fatal(err)
		}
		for _, path := range paths {
			if filepath.Ext(path) == ".txt" || FormOf(path) != FormOf(filename) {
				continue
			}
			src, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(src)
			if d, diags := Parse(src, path); !diags.HasErrors() && FormOf(filename) == JSON {
				f.Add(d.Fresh(JSON))
			}
		}
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		d, diags := Parse(src, filename)
		var out bytes.Buffer
		if err := WriteDiagnostics(&out, diags, d.Source.Texts(), 60, false); err != nil {
			t.Fatal(err)
		}
		checkHarmless(t, out.String())
		if diags.HasErrors() {
			return
		}
		if got := d.Bytes(); !bytes.Equal(got, src) {
			t.Fatalf("unchanged, but written as %q", got)
		}
		for _, form := range []Form{Native, JSON} {
			again, diags := Parse(d.Fresh(form), map[Form]string{Native: "a.hcl", JSON: "a.json"}[form])
			if diags.HasErrors() {
				t.Fatalf("%v in\n%s", diags, d.Fresh(form))
			}
			if diff := cmp.Diff(d, again, alike); diff != "" {
				t.Fatal(diff)
			}
		}
		for _, at := range numbersOf(d) {
			q, err := d.Value(at.part, at.key, at.index)
			if err != nil || math.IsNaN(q.SI) || math.IsInf(q.SI, 0) {
				t.Fatal(at, q, err)
			}
		}
		if len(d.Chambers) == 0 {
			return
		}
		name := d.Chambers[0].Name
		if d.Rename(name, name+"x") != nil || d.AddBlock("leak", "added-leak") != nil {
			return
		}
		if err := setAll(d, "added-leak", "from", "chamber."+name+"x", "to", "outside", "resistance", "1 Pa*s/m3"); err != nil {
			t.Fatal(err)
		}
		if err := setAll(d, "", "title", `"${x}" %%{y} $`, "tones", "40 Hz"); err != nil {
			t.Fatal(err)
		}
		again, diags := d.Reread()
		if diags.HasErrors() {
			for _, one := range diags {
				if one.Summary == "Too many parts" || one.Summary == "File too large" {
					return
				}
			}
			t.Fatalf("%v in\n%s", diags, d.Bytes())
		}
		if diff := cmp.Diff(d, again, alike); diff != "" {
			t.Fatal(diff)
		}
	})
}
