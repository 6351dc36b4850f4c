package design

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/hashicorp/hcl/v2"
)

func TestWriteDiagnostics(t *testing.T) {
	source := &Source{Filename: "bo\x1bx.hcl", Bytes: []byte("title = \"ok\"\n\tnotes = \"渋谷 e\u0301 \x1b[2J\" + x\r\n" + strings.Repeat("long ", 40) + "HERE" + strings.Repeat(" tail", 40))}
	at := bytes.Index(source.Bytes, []byte("+ x"))
	far := bytes.Index(source.Bytes, []byte("HERE"))
	warning := wrong("Doubtful", source.span(far, far+4), "Found one; wanted another.")
	warning.Severity = hcl.DiagWarning
	diags := hcl.Diagnostics{
		wrong("Wrong value", source.span(at, at+3), "Found \x1b]0;title\a in %s.", "a rather long sentence that has to be wrapped somewhere"),
		warning,
		wrong("File not read", (&Source{Filename: "other.hcl"}).start(), "Found nothing."),
		{Severity: hcl.DiagError, Summary: "Without a place"},
	}
	for _, c := range []struct {
		columns uint
		color   bool
		want    string
	}{
		{40, false, `
bo␛x.hcl:2:23: error: Wrong value
  2 |  notes = "渋谷 é ␛[2J" + x
    |                        ^^^
  Found ␛]0;title␇ in a rather long
  sentence that has to be wrapped
  somewhere.

bo␛x.hcl:3:201: warning: Doubtful
  3 | …ong long long HERE tail tail tai…
    |                ^^^^
  Found one; wanted another.

other.hcl:1:1: error: File not read
  Found nothing.

error: Without a place
`},
		{0, true, `
bo␛x.hcl:2:23: [1;31merror[0m: Wrong value
  2 |  notes = "渋谷 é ␛[2J" [1;31m+ x[0m
    |                        [1;31m^^^[0m
  Found ␛]0;title␇ in a rather long sentence that has to be wrapped somewhere.

bo␛x.hcl:3:201: [1;33mwarning[0m: Doubtful
  3 | ` + strings.Repeat("long ", 40) + "[1;33mHERE[0m" + strings.Repeat(" tail", 40) + `
    | ` + strings.Repeat(" ", 200) + `[1;33m^^^^[0m
  Found one; wanted another.

other.hcl:1:1: [1;31merror[0m: File not read
  Found nothing.

[1;31merror[0m: Without a place
`},
	} {
		var out bytes.Buffer
		if err := WriteDiagnostics(&out, diags, source.Texts(), c.columns, c.color); err != nil {
			t.Fatal(err)
		}
		// Only the colours may be escapes; here they stand without.
		got := strings.NewReplacer("\x1b[1;31m", "[1;31m", "\x1b[1;33m", "[1;33m", "\x1b[0m", "[0m").Replace(out.String())
		if diff := cmp.Diff(strings.TrimPrefix(c.want, "\n"), strings.ReplaceAll(got, "e\u0301", "é")); diff != "" {
			t.Error(diff)
		}
		checkHarmless(t, got)
	}
	if err := WriteDiagnostics(failing{}, diags, nil, 0, false); err == nil {
		t.Error("a failed write was not told")
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, errors.New("no room") }

// The table is what the page and the help show.
func TestTableIsWhole(t *testing.T) {
	if Keys("nothing") != nil {
		t.Error("keys of an unknown block")
	}
	if _, ok := Block("nothing"); ok {
		t.Error("an unknown block")
	}
	for name := range blockKinds {
		info, ok := Block(name)
		if !ok || info.Doc == "" {
			t.Errorf("block %q: %+v", name, info)
		}
		seen := map[string]bool{}
		for _, k := range Keys(name) {
			if seen[k.Name] || k.Doc == "" {
				t.Errorf("%s of %q: twice or without a word", k.Name, name)
			}
			seen[k.Name] = true
			switch k.Kind {
			case Measure, Number:
				if !(k.Min < k.Max) {
					t.Errorf("%s of %q: range %g to %g", k.Name, name, k.Min, k.Max)
				}
			case Choice, Reference:
				if len(k.Choices)+len(k.Roots) == 0 {
					t.Errorf("%s of %q: nothing to choose", k.Name, name)
				}
			}
		}
	}
}
