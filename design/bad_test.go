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

// As deep as 1 MiB allows: any of these overflows the stack if it is parsed.
func TestDeepest(t *testing.T) {
	for name, unit := range map[string]string{
		"a.hcl 1": "x {\n", "a.hcl 2": "x = [", "a.hcl 3": "(", "a.hcl 4": "{a=", "a.hcl 5": "f(",
		"a.hcl 6": "a[", "a.hcl 7": `"${`, "a.hcl 8": "!", "a.hcl 9": "-", "a.hcl 10": "a?b:",
		"a.hcl 11": "a?", "a.hcl 12": "[*]", "a.hcl 13": "%{if a}", "a.hcl 14": "${<<A\n", "a.hcl 15": "[for a in ",
		"a.hcl 16": "1+", "a.hcl 17": "%{for a in ", "a.hcl 18": "[!", "a.hcl 19": "f(-", "a.hcl 20": "1==-",
		"a.json 1": "[", "a.json 2": `{"a":`, "a.json 3": `[{"driver":`, "a.json 4": "[}", "a.json 5": "{]",
	} {
		for _, before := range []string{"", "x = ", "x = a", "x = (", "x = \"", "x = <<A\n", "}]) ", `{"a" 1, "`} {
			size := MaxFileSize
			if before != "x = " {
				size /= 64 // quicker, and enough to see an error missing
			}
			text := before + strings.Repeat(unit, (size-len(before))/len(unit))
			kind, _, _ := strings.Cut(name, " ")
			if _, diags := Parse([]byte(text), kind); !diags.HasErrors() {
				t.Errorf("%s after %q: no error", name, before)
			}
		}
	}
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
