package web

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"ocarina/design"
	"ocarina/internal/need"
	"ocarina/response"
)

// The page is tried in a real browser by the scripts in ui/test; each of their
// checks is a test here.

// bed is a running bench over a copy of the demo, and what the scripts need.
type bed struct {
	folder      string
	environment []string
}

func newBed(t *testing.T) *bed {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes its time")
	}
	chromium := need.Program(t, "chromium")
	need.Program(t, "node")
	for _, needed := range []string{"ui/node_modules/playwright-core", "ui/dist/index.html"} {
		need.File(t, needed, "make ui makes it")
	}
	folder := t.TempDir()
	files, err := filepath.Glob("../demo/*.hcl")
	if err != nil || len(files) == 0 {
		t.Fatal("no demo designs", err)
	}
	crowd, err := filepath.Glob("testdata/*.hcl")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range append(crowd, files...) {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, filepath.Base(file)), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		ended <- Serve(ctx, Options{Dir: folder, Addr: "127.0.0.1:0", Ready: func(url string) { ready <- url }})
	}()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	var url string
	select {
	case url = <-ready:
	case err := <-ended:
		ended <- nil
		t.Fatal(err)
	}
	return &bed{folder, append(os.Environ(), "OCARINA_PAGE="+url, "OCARINA_FOLDER="+folder, "OCARINA_CHROMIUM="+chromium)}
}

// run runs a script; each line it prints is a check.
func (b *bed) run(t *testing.T, script string) {
	t.Helper()
	command := exec.Command("node", "test/"+script)
	command.Dir = "ui"
	command.Env = b.environment
	var errs bytes.Buffer
	command.Stderr = &errs
	out, err := command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := command.Start(); err != nil {
		t.Fatal(err)
	}
	checks := 0
	for lines := bufio.NewScanner(out); lines.Scan(); {
		var c struct {
			Name, Detail string
			OK           bool
		}
		if err := json.Unmarshal(lines.Bytes(), &c); err != nil {
			t.Log(lines.Text())
			continue
		}
		checks++
		t.Run(c.Name, func(t *testing.T) {
			if !c.OK {
				t.Error(c.Detail)
			}
		})
	}
	err = command.Wait()
	if errs.Len() > 0 {
		t.Log(strings.TrimSpace(errs.String()))
	}
	if checks == 0 || err != nil && !t.Failed() {
		t.Errorf("%s: %d checks, %v", script, checks, err)
	}
}

// program is the command itself, built once for all tests.
var program = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "ocarina-web")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "ocarina")
	if out, err := exec.Command("go", "build", "-o", path, "../cmd/ocarina").CombinedOutput(); err != nil {
		return "", fmt.Errorf("%v\n%s", err, out)
	}
	return path, nil
})

func TestMain(m *testing.M) {
	code := m.Run()
	if path, err := program(); err == nil {
		os.RemoveAll(filepath.Dir(path))
	}
	os.Exit(code)
}

// command runs the command and returns what it prints.
func command(t testing.TB, args ...string) []byte {
	t.Helper()
	path, err := program()
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(path, args...).Output()
	if err != nil {
		t.Fatalf("%v: %v", args, err)
	}
	return out
}

func TestPageCutaway(t *testing.T) { newBed(t).run(t, "cutaway.mjs") }
func TestPageEditing(t *testing.T) { newBed(t).run(t, "editing.mjs") }
func TestPageAccess(t *testing.T)  { newBed(t).run(t, "access.mjs") }
func TestPageLatency(t *testing.T) { newBed(t).run(t, "latency.mjs") }

// The numbers to compare with come from the command itself.
func TestPageCurves(t *testing.T) {
	b := newBed(t)
	predicted := command(t, "predict", filepath.Join(b.folder, "dunlin.hcl"), "--at", "112,144,192,252", "--json")
	file := filepath.Join(t.TempDir(), "predicted.json")
	if err := os.WriteFile(file, predicted, 0o644); err != nil {
		t.Fatal(err)
	}
	b.environment = append(b.environment, "OCARINA_PREDICTED="+file)
	b.run(t, "curves.mjs")
}

// The sweep is of a box whose mouth was made 80 mm long instead of 70.
func TestPageSweep(t *testing.T) {
	b := newBed(t)
	text := strings.Replace(sample(t, "dunlin.hcl"), `length = "70 mm"`, `length = "80 mm"`, 1)
	d, diags := design.Parse([]byte(text), "made.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	p, err := response.Predict(m, response.LogSpaced(20, 700, 300))
	if err != nil {
		t.Fatal(err)
	}
	var csv strings.Builder
	csv.WriteString("frequency Hz,|Z| ohm,phase deg\n")
	for i, f := range p.Frequency {
		ripple := 1 + 0.002*math.Sin(float64(i)*1.7)
		fmt.Fprintf(&csv, "%.5f,%.5f,%.4f\n", f, p.Impedance[i]*ripple, p.ImpedancePhase[i])
	}
	file := filepath.Join(t.TempDir(), "box.csv")
	if err := os.WriteFile(file, []byte(csv.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	b.environment = append(b.environment, "OCARINA_SWEEP="+file)
	b.run(t, "sweep.mjs")
}

// The drive turned up, and the demo's recording beside its prediction, with the
// command's own numbers to compare with.
func TestPageLadder(t *testing.T) {
	b := newBed(t)
	design := filepath.Join(b.folder, "dunlin.hcl")
	for name, told := range map[string][]byte{
		"OCARINA_LADDER": command(t, "tones", design, "--json"),
		"OCARINA_BESIDE": command(t, "tones", "read", "../demo/recordings/dunlin-recorded.wav", "--plan", "../demo/recordings/dunlin.json", "--design", design, "--json"),
	} {
		file := filepath.Join(t.TempDir(), name+".json")
		if err := os.WriteFile(file, told, 0o644); err != nil {
			t.Fatal(err)
		}
		b.environment = append(b.environment, name+"="+file)
	}
	b.run(t, "ladder.mjs")
}
