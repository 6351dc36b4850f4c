package design

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew")

// told is what a person reads about a file.
func told(t *testing.T, path string) string {
	t.Helper()
	d, diags := ReadFile(path)
	var out bytes.Buffer
	if err := WriteDiagnostics(&out, diags, d.Source.Texts(), 80, false); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// Each design in testdata/bad has one fault, which its name says, and beside it
// the exact message.
func TestBadDesigns(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*")
	if err != nil {
		t.Fatal(err)
	}
	designs := 0
	for _, path := range files {
		if strings.HasSuffix(path, ".txt") {
			continue
		}
		designs++
		t.Run(filepath.Base(path), func(t *testing.T) {
			_, diags := ReadFile(path)
			if !diags.HasErrors() {
				t.Error("read without an error")
			}
			got := told(t, path)
			golden := path + ".txt"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got); diff != "" {
				t.Error(diff)
			}
			checkHarmless(t, got)
			for _, d := range diags {
				if d.Subject == nil || d.Detail == "" || d.Summary == "" {
					t.Errorf("incomplete: %+v", d)
				}
			}
		})
	}
	if designs < 50 {
		t.Error("only", designs, "bad designs found")
	}
	for _, golden := range files {
		if design, ok := strings.CutSuffix(golden, ".txt"); ok && !slices.Contains(files, design) {
			t.Error(golden, "belongs to no design")
		}
	}
}

func TestLimits(t *testing.T) {
	long := filepath.Join(t.TempDir(), "long.hcl")
	if err := os.WriteFile(long, bytes.Repeat([]byte("# nothing\n"), 1<<20), 0o644); err != nil {
		t.Fatal(err)
	}
	_, diags := ReadFile(long)
	if len(diags) != 1 || diags[0].Summary != "File too large" {
		t.Error("10 MB:", diags)
	}
	if _, diags := ReadFile(t.TempDir()); !diags.HasErrors() {
		t.Error("a folder was read")
	}
	if _, diags := ReadFile(filepath.Join(t.TempDir(), "none.hcl")); !diags.HasErrors() {
		t.Error("a file that is not there was read")
	}
}

// Each way to nest, as often as is refused, behind several beginnings that a
// parser may take differently: an overflow of the stack cannot be caught.
func TestNestingIsCounted(t *testing.T) {
	native := []string{
		"x {\n", "x = [", "(", "{a=", "f(", "a[", `"${`, "!", "-", "a?b:", "a?", "[*]", "${<<A\n",
		"[for a in ", "1+", "[!", "f(-", "1==-", "[(", "{a=[", "(\n!", "a[*].b", "a[!",
	}
	for _, before := range []string{"", "x = ", "x = 1", "x = (", "}]) ", "x = \"${", "# a\n", "x {\n y = ["} {
		for _, unit := range native {
			refusedAsDeep(t, "a.hcl", before+strings.Repeat(unit, MaxNesting+1))
		}
	}
	for _, unit := range []string{"%{if a}", "%{for a in b}", "%{if ", "${!", "%{if a}b%{endif}"} {
		refusedAsDeep(t, "a.hcl", "x = \""+strings.Repeat(unit, MaxNesting+1))
		refusedAsDeep(t, "a.hcl", "x = <<A\n"+strings.Repeat(unit, MaxNesting+1))
	}
	for _, before := range []string{"", "x", "]", `{"a" 1, "b": `, "{\"a\": \"b\n", `"\\"`} {
		for _, unit := range []string{"[", `{"a":`, `[{"driver":`, "[}", "{]", `["]",`, `["\"",`} {
			refusedAsDeep(t, "a.json", before+strings.Repeat(unit, MaxNesting+1))
		}
	}
}

func refusedAsDeep(t *testing.T, filename, text string) {
	t.Helper()
	if _, diags := Parse([]byte(text), filename); len(diags) != 1 || diags[0].Summary != "Nested too deeply" {
		t.Errorf("%s %q: %v", filename, text, diags)
	}
}

// What is not nested is not refused for it, however much there is.
func TestManyAreNotDeep(t *testing.T) {
	for filename, text := range map[string]string{
		"a.hcl 1": strings.Repeat("air { gamma = -1.4 }\n", 1000),
		"a.hcl 2": "tones = [" + strings.Repeat("-1, ", 1000) + "]\n",
		"a.hcl 3": strings.Repeat("title = \"${a}\"\n", 1000),
		"a.json":  "[" + strings.Repeat(`{"a": [[[1]], {}]},`, 1000) + "{}]",
	} {
		name, _, _ := strings.Cut(filename, " ")
		_, diags := Parse([]byte(text), name)
		for _, d := range diags {
			if d.Summary == "Nested too deeply" {
				t.Error(filename, d)
			}
		}
	}
}

// As deep as fits a file: any of these would overflow the stack.
func TestDeepest(t *testing.T) {
	refusedAsDeep(t, "a.hcl", "x = "+strings.Repeat("!", MaxFileSize-4))
	refusedAsDeep(t, "a.json", strings.Repeat("[", MaxFileSize))
}

func checkHarmless(t *testing.T, text string) {
	t.Helper()
	if !utf8.ValidString(text) {
		t.Error("not UTF-8")
	}
	for _, r := range text {
		if r != '\n' && !unicode.IsGraphic(r) {
			t.Errorf("%U is passed on to the terminal", r)
		}
	}
}
