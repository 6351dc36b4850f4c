package response

import (
	"fmt"
	"math"
	"math/cmplx"
	"path/filepath"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/network"
)

// How far two solvers of the same circuit may differ.
const (
	circuitDecibels = 0.001
	circuitDegrees  = 0.01
)

// Every design of testdata/circuits is solved here and, as an equivalent
// circuit, by a general-purpose circuit simulator: impedance, every velocity
// and every pressure agree from 5 Hz to 1 kHz.
func TestAgainstCircuitSimulator(t *testing.T) {
	files, err := filepath.Glob("testdata/circuits/*.hcl")
	if err != nil || len(files) < 8 {
		t.Fatalf("%d designs, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".hcl"), func(t *testing.T) {
			t.Parallel()
			d, diags := design.ReadFile(file)
			if diags.HasErrors() {
				t.Fatal(diags)
			}
			m, diags := design.Build(d)
			if diags.HasErrors() {
				t.Fatal(diags)
			}
			k := netlist(d)
			frequency, vectors := k.simulate(t, file)
			compare(t, m, k, frequency, vectors)
		})
	}
}

func compare(t *testing.T, m *design.Model, k *circuit, frequency []float64, vectors map[string][]complex128) {
	b := NewBench(m)
	seen := map[string]bool{}
	var worst, turned float64
	for i, f := range frequency {
		if err := b.Solve(f); err != nil {
			t.Fatal(err)
		}
		check := func(what string, got, want complex128) {
			r := cmplx.Log(got / want)
			worst = math.Max(worst, math.Abs(real(r))*decibelsPer)
			turned = math.Max(turned, math.Abs(imag(r))*180/math.Pi)
			if !(math.Abs(real(r))*decibelsPer <= circuitDecibels && math.Abs(imag(r))*180/math.Pi <= circuitDegrees) {
				t.Fatalf("%s at %.6g Hz: %.8g, the circuit %.8g", what, f, got, want)
			}
		}
		wanted := func(name string) complex128 {
			r, ok := k.readings[name]
			if !ok {
				t.Fatalf("the circuit has no %s", name)
			}
			v, ok := vectors[r.vector]
			if !ok {
				t.Fatalf("the simulator gave no %s", r.vector)
			}
			seen[name] = true
			return v[i] * complex(r.factor, 0)
		}
		velocity := func(u network.Unknown) complex128 { return complex(0, 2*math.Pi*f) * b.Solution()[u] }
		for n := range m.Drives {
			load := wanted(fmt.Sprintf("terminal %d", n)) / wanted(fmt.Sprintf("current %d", n))
			check(fmt.Sprintf("impedance %d", n), b.Impedance(n), load)
			check(fmt.Sprintf("current %d", n), b.Current(n), wanted(fmt.Sprintf("current %d", n)))
		}
		for _, v := range m.Mounts {
			check("velocity "+v.Name, velocity(v.Diaphragm.Displacement), wanted("velocity "+v.Name))
			check("coil "+v.Name, b.Solution()[v.Coil.Current], wanted("coil "+v.Name))
		}
		for _, v := range m.Passives {
			check("velocity "+v.Name, velocity(v.Diaphragm.Displacement), wanted("velocity "+v.Name))
		}
		for _, v := range m.Ports {
			check("entry "+v.Name, velocity(v.Sections[0].Entry), wanted("entry "+v.Name))
			check("flow "+v.Name, velocity(v.Sections[0].Flow), wanted("flow "+v.Name))
		}
		for _, v := range m.Lines {
			for n, s := range v.Sections {
				at, first, last, sign := n, "entry ", "flow ", complex128(1)
				if v.Turned {
					at, first, last, sign = len(v.Sections)-1-n, last, first, -1
				}
				name := fmt.Sprintf("%s %d", v.Name, at)
				if s.From != network.Sealed {
					check(first+name, sign*velocity(s.Entry), wanted(first+name))
				} else {
					seen[first+name] = true // nothing moves at a closed end
				}
				check(last+name, sign*velocity(s.Flow), wanted(last+name))
			}
		}
		for _, v := range m.Chambers {
			check("pressure "+v.Name, b.ChamberPressure(v), wanted("pressure "+v.Name))
		}
	}
	for name := range k.readings {
		if !seen[name] {
			t.Errorf("%s of the circuit was compared with nothing", name)
		}
	}
	t.Logf("%d readings at %d frequencies: largest difference %.1e dB, %.1e°", len(seen), len(frequency), worst, turned)
}
