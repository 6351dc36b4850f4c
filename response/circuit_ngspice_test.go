package response

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"ocarina/internal/need"
)

// simulate runs the circuit through ngspice and returns its frequencies [Hz]
// and vectors.
func (k *circuit) simulate(t *testing.T, name string) (frequency []float64, vectors map[string][]complex128) {
	t.Helper()
	program := need.Program(t, "ngspice")
	dir := t.TempDir()
	deck := filepath.Join(dir, "deck.cir")
	// Forty points a decade, both ends included to within a rounding.
	text := "* " + name + "\n" + k.lines.String() + `.options noopac gmin=1e-40
.control
set filetype=ascii
ac dec 40 5 1000.0001
write log.raw
ac lin 81 200 1000
write even.raw
quit 0
.endc
.end
`
	if err := os.WriteFile(deck, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	run := exec.Command(program, "-b", "deck.cir")
	run.Dir = dir
	if out, err := run.CombinedOutput(); err != nil {
		t.Fatalf("ngspice: %v\n%s\n%s", err, out, text)
	}
	vectors = map[string][]complex128{}
	for _, file := range []string{"log.raw", "even.raw"} {
		raw, err := os.ReadFile(filepath.Join(dir, file))
		if err != nil {
			t.Fatal(err)
		}
		f, v, err := rawFile(raw)
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		frequency = append(frequency, f...)
		for n, z := range v {
			vectors[n] = append(vectors[n], z...)
		}
	}
	return frequency, vectors
}

// rawFile reads the simulator's text output: named complex vectors, the first
// of them the frequency.
func rawFile(raw []byte) (frequency []float64, vectors map[string][]complex128, err error) {
	vectors = map[string][]complex128{}
	var names []string
	s := bufio.NewScanner(bytes.NewReader(raw))
	section, at := "", 0
	for s.Scan() {
		line := strings.TrimSpace(s.Text())
		switch {
		case line == "Variables:" || line == "Values:":
			section = line
			continue
		case line == "" || section == "":
			continue
		}
		fields := strings.Fields(line)
		if section == "Variables:" {
			names = append(names, fields[1])
			continue
		}
		re, im, ok := strings.Cut(fields[len(fields)-1], ",")
		x, e1 := strconv.ParseFloat(re, 64)
		y, e2 := strconv.ParseFloat(im, 64)
		if !ok || e1 != nil || e2 != nil {
			return nil, nil, fmt.Errorf("a value was wanted, found %q", line)
		}
		if at == 0 {
			frequency = append(frequency, x)
		} else {
			vectors[names[at]] = append(vectors[names[at]], complex(x, y))
		}
		at = (at + 1) % len(names)
	}
	return frequency, vectors, s.Err()
}
