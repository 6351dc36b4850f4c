package design

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/hashicorp/hcl/v2"
)

// alike ignores where things stand and which file they came from.
var alike = cmp.Options{
	cmpopts.IgnoreTypes(hcl.Range{}),
	cmpopts.IgnoreFields(Design{}, "Source"),
	cmpopts.EquateEmpty(),
}

func mustRead(t *testing.T, path string) *Design {
	t.Helper()
	d, diags := ReadFile(path)
	for _, problem := range diags {
		t.Error(problem, problem.Subject)
	}
	if diags.HasErrors() {
		t.FailNow()
	}
	return d
}

func good(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("testdata/good/*")
	if err != nil || len(files) == 0 {
		t.Fatal("no designs", err)
	}
	return files
}

func TestGoodDesigns(t *testing.T) {
	for _, path := range good(t) {
		mustRead(t, path)
	}
}

func TestBothFormsReadAlike(t *testing.T) {
	a := mustRead(t, "testdata/good/dunlin.hcl")
	b := mustRead(t, "testdata/good/dunlin.hcl.json")
	if diff := cmp.Diff(a, b, alike); diff != "" {
		t.Error(diff)
	}
	if got := a.Chambers[0].Volume; got.SI != 0.95e-3 || got.Unit != "L" || got.Range.Start.Line != 15 {
		t.Error("volume of near", got)
	}
}

func TestDriverFileStaysInTheFolder(t *testing.T) {
	folder := t.TempDir()
	inner := filepath.Join(folder, "inner")
	if err := os.Mkdir(inner, 0o755); err != nil {
		t.Fatal(err)
	}
	copyTo := func(from, to string) {
		src, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, src, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	copyTo("testdata/good/from-file.hcl", filepath.Join(inner, "box.hcl"))
	copyTo("testdata/good/dunlin.hcl", filepath.Join(folder, "secret.hcl"))
	if err := os.Symlink("../secret.hcl", filepath.Join(inner, "dunlin.hcl")); err != nil {
		t.Fatal(err)
	}
	if _, diags := ReadFile(filepath.Join(inner, "box.hcl")); !diags.HasErrors() {
		t.Error("a link out of the folder was followed")
	}
	if err := os.Remove(filepath.Join(inner, "dunlin.hcl")); err != nil {
		t.Fatal(err)
	}
	copyTo("testdata/good/dunlin.hcl", filepath.Join(inner, "dunlin.hcl"))
	d := mustRead(t, filepath.Join(inner, "box.hcl"))
	if len(d.Drivers) != 1 || d.Drivers[0].Fs.SI != 88 || d.Drivers[0].Name != "small" {
		t.Errorf("%+v", d.Drivers[0])
	}
	if len(d.Source.Texts()) != 2 {
		t.Error("the driver file's text is not kept")
	}
}

func TestParseReadsNoOtherFile(t *testing.T) {
	src, err := os.ReadFile("testdata/good/from-file.hcl")
	if err != nil {
		t.Fatal(err)
	}
	if _, diags := Parse(src, "testdata/good/from-file.hcl"); !diags.HasErrors() {
		t.Error("a driver file was read by Parse")
	}
}
