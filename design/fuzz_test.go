package design

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
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
	f.Fuzz(func(t *testing.T, src []byte) { checkFile(t, src, filename) })
}

// checkFile holds whatever a file may contain to the laws above.
func checkFile(t *testing.T, src []byte, filename string) {
	t.Helper()
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
}

// The good designs with words, lines and signs moved about: nearer to what people
// write than what the fuzzer comes by.
func TestMangledDesigns(t *testing.T) {
	for _, filename := range []string{"a.hcl", "a.hcl.json"} {
		var sources []string
		for name, d := range everything(t) {
			if FormOf(filename) == d.Source.Form && name != "from-file.hcl" {
				sources = append(sources, string(d.Bytes()))
			}
		}
		slices.Sort(sources)
		for run := range mangled {
			random := rand.New(rand.NewPCG(uint64(run), 1))
			text := sources[random.IntN(len(sources))]
			for range 1 + random.IntN(3) {
				text = mangle(random, text, sources[random.IntN(len(sources))])
			}
			checkFile(t, []byte(text), filename)
			if t.Failed() {
				t.Fatalf("run %d: %s", run, text)
			}
		}
	}
}

const mangled = 300 // runs for each form

func mangle(random *rand.Rand, text, other string) string {
	split := func(s, at string) []string { return strings.SplitAfter(s, at) }
	lines := split(text, "\n")
	i := random.IntN(len(lines))
	switch random.IntN(7) {
	case 0: // a line less
		lines = slices.Delete(lines, i, i+1)
	case 1: // a line of another design
		from := split(other, "\n")
		lines = slices.Insert(lines, i, from[random.IntN(len(from))])
	case 2: // two lines change places
		j := random.IntN(len(lines))
		lines[i], lines[j] = lines[j], lines[i]
	case 3: // two lines become one
		lines[i] = strings.TrimSuffix(lines[i], "\n")
	case 4: // a sign more
		signs := []string{"{", "}", "\"", "[", "]", ",", "=", ":", "#", "/*", "*/", "//", "${", "%{", "\\", "é", "\t", "\r", "\ufeff", "<<A\n", "-", ".", "0", "1e9", " "}
		at := random.IntN(len(lines[i]) + 1)
		lines[i] = lines[i][:at] + signs[random.IntN(len(signs))] + lines[i][at:]
	case 5: // a word of another design in place of one
		words := split(lines[i], " ")
		from := split(other, " ")
		words[random.IntN(len(words))] = from[random.IntN(len(from))]
		lines[i] = strings.Join(words, "")
	case 6: // a piece less
		at := random.IntN(len(text))
		return text[:at] + text[min(len(text), at+random.IntN(20)):]
	}
	return strings.Join(lines, "")
}
