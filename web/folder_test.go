package web

import (
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
)

type saved struct {
	Text    string `json:"text"`
	Version string `json:"version"`
}

func TestSaveKeepsWhatOthersWrote(t *testing.T) {
	text := sample(t, "dunlin.hcl")
	b, dir := bench(t, map[string]string{"a.hcl": text})
	var opened Opened
	if w := call(t, b, "GET", "/api/designs/a.hcl", nil, &opened); w.Code != 200 || opened.Text.Text != text {
		t.Fatal(w.Code, w.Body)
	}
	mine := strings.Replace(text, "30 mm", "31 mm", 1)
	if w := call(t, b, "PUT", "/api/designs/a.hcl", saved{mine, opened.Version}, nil); w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	// The version of before no longer holds, whoever changed the file.
	if w := call(t, b, "PUT", "/api/designs/a.hcl", saved{text, opened.Version}, nil); w.Code != http.StatusConflict {
		t.Errorf("an old version: %d %s", w.Code, w.Body)
	}
	if now, _ := os.ReadFile(filepath.Join(dir, "a.hcl")); string(now) != mine {
		t.Error("the refused save changed the file")
	}
	// A new name must be new.
	if w := call(t, b, "PUT", "/api/designs/a.hcl", saved{text, ""}, nil); w.Code != http.StatusConflict {
		t.Errorf("as a new file: %d", w.Code)
	} else if !strings.Contains(w.Body.String(), errExists.Error()) {
		t.Errorf("as a new file: %s", w.Body)
	}
	if w := call(t, b, "PUT", "/api/designs/b.hcl", saved{text, ""}, nil); w.Code != 200 {
		t.Errorf("a new file: %d %s", w.Code, w.Body)
	}
	// A file taken away meanwhile is not brought back in silence.
	os.Remove(filepath.Join(dir, "b.hcl"))
	if w := call(t, b, "PUT", "/api/designs/b.hcl", saved{text, version([]byte(text))}, nil); w.Code != http.StatusConflict {
		t.Errorf("a file that is gone: %d", w.Code)
	}
}

// Of many that save at once upon the same version, one wins and the rest know.
func TestSavesAtOnce(t *testing.T) {
	text := sample(t, "dunlin.hcl")
	b, dir := bench(t, map[string]string{"a.hcl": text})
	was := version([]byte(text))
	var group sync.WaitGroup
	codes := make([]int, 16)
	for i := range codes {
		group.Go(func() {
			mine := strings.Replace(text, "Dunlin", "Dunlin "+short(float64(i)), 1)
			codes[i] = call(t, b, "PUT", "/api/designs/a.hcl", saved{mine, was}, nil).Code
		})
	}
	group.Wait()
	won := 0
	for _, c := range codes {
		if c == 200 {
			won++
		} else if c != http.StatusConflict {
			t.Errorf("answered %d", c)
		}
	}
	if won != 1 {
		t.Errorf("%d saves won, want 1", won)
	}
	left, _ := os.ReadDir(dir)
	if len(left) != 1 {
		t.Errorf("left behind: %v", left)
	}
}

func TestPathsStayInTheFolder(t *testing.T) {
	text := sample(t, "dunlin.hcl")
	b, dir := bench(t, map[string]string{"a.hcl": text, "notes.txt": "private", ".hidden.hcl": text})
	outside := filepath.Join(t.TempDir(), "outside.hcl")
	if err := os.WriteFile(outside, []byte("title = \"secret\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, filepath.Join(dir, "link.hcl")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(dir, "a.hcl"), filepath.Join(dir, "inner.hcl")); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "folder.hcl"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{
		"..%2foutside.hcl", "%2e%2e%2f%2e%2e%2fetc%2fpasswd", "link.hcl", "inner.hcl", "folder.hcl", "notes.txt",
		".hidden.hcl", "a.hcl%00.txt", "sub%2fa.hcl", "C:%5ca.hcl", "..", "a%0a.hcl", strings.Repeat("a", 300) + ".hcl",
	} {
		w := call(t, b, "GET", "/api/designs/"+name, nil, nil)
		if w.Code == 200 || strings.Contains(w.Body.String(), "secret") || strings.Contains(w.Body.String(), "private") {
			t.Errorf("read %s: %d", name, w.Code)
		}
		if strings.Contains(w.Body.String(), dir) {
			t.Errorf("%s: the answer tells where the folder is: %s", name, w.Body)
		}
		w = call(t, b, "PUT", "/api/designs/"+name, saved{"title = \"x\"\n", ""}, nil)
		if w.Code == 200 {
			t.Errorf("wrote %s", name)
		}
		w = call(t, b, "PUT", "/api/designs/"+name, saved{"title = \"x\"\n", version([]byte("title = \"secret\"\n"))}, nil)
		if w.Code == 200 {
			t.Errorf("wrote over %s", name)
		}
	}
	if now, _ := os.ReadFile(outside); string(now) != "title = \"secret\"\n" {
		t.Error("the file outside was changed")
	}
	var list struct{ Designs []DesignFile }
	call(t, b, "GET", "/api/designs", nil, &list)
	if len(list.Designs) != 1 || list.Designs[0].Name != "a.hcl" || list.Designs[0].Title != "Dunlin" {
		t.Errorf("listed %+v", list.Designs)
	}
}

func TestSaveKeepsPermissions(t *testing.T) {
	text := sample(t, "dunlin.hcl")
	b, dir := bench(t, map[string]string{"a.hcl": text})
	file := filepath.Join(dir, "a.hcl")
	if err := os.Chmod(file, 0o600); err != nil {
		t.Fatal(err)
	}
	if w := call(t, b, "PUT", "/api/designs/a.hcl", saved{text + "\n", version([]byte(text))}, nil); w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v", info.Mode())
	}
}

// A driver may stand in a file of its own beside the design, and nowhere else.
func TestDriverFileBesideTheDesign(t *testing.T) {
	whole := sample(t, "dunlin.hcl")
	at := strings.Index(whole, "driver \"")
	end := at + strings.Index(whole[at:], "\n}\n") + 3
	b, _ := bench(t, map[string]string{"bought.hcl": whole[at:end]})
	name := strings.Split(whole[at:], "\"")[1]
	named := func(file string) string {
		return whole[:at] + "driver \"" + name + "\" { file = \"" + file + "\" }\n" + whole[end:]
	}
	var plain, got, refused Result
	for text, into := range map[string]*Result{whole: &plain, named("bought.hcl"): &got, named("../bought.hcl"): &refused} {
		if w := call(t, b, "POST", "/api/bench", asked(text), into); w.Code != http.StatusOK {
			t.Fatal(w.Code, w.Body)
		}
	}
	if got.Curves == nil || !slices.Equal(got.Curves.Impedance, plain.Curves.Impedance) {
		t.Errorf("a driver read from a file beside is not the same driver: %v", got.Problems)
	}
	if refused.Curves != nil || len(refused.Problems) == 0 {
		t.Error("a driver file outside the folder was read")
	}
}
