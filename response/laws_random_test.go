package response

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"ocarina/design"
)

// lawSeed is where the random designs of the laws begin; each is printed with
// the seed that makes it when a law breaks.
const lawSeed = 20240229

// wild makes up designs that nobody would build, of every part there is.
type wild struct {
	*rand.Rand
	ideal bool // lossless walls everywhere

	text     strings.Builder
	chambers []string
	placed   bool    // openings have positions
	along    float64 // where the last opening's rim lies, m
	parts    int
}

// wildDesign returns the text of a random design.
func wildDesign(seed uint64, ideal bool) string {
	w := &wild{Rand: rand.New(rand.NewPCG(seed, 1)), ideal: ideal}
	w.write()
	return w.text.String()
}

// wildModel builds a random design.
func wildModel(t testing.TB, seed uint64, ideal bool) *design.Model {
	t.Helper()
	return buildText(t, wildDesign(seed, ideal))
}

func parseText(t testing.TB, text string) *design.Design {
	t.Helper()
	d, diags := design.Parse([]byte(text), "wild.hcl")
	if diags.HasErrors() {
		t.Fatalf("%v\n%s", diags, text)
	}
	return d
}

func buildText(t testing.TB, text string) *design.Model {
	t.Helper()
	m, diags := design.Build(parseText(t, text))
	if diags.HasErrors() {
		t.Fatalf("%v\n%s", diags, text)
	}
	return m
}

func (w *wild) chance(p float64) bool { return w.Float64() < p }

// between is even in the logarithm.
func (w *wild) between(low, high float64) float64 { return low * math.Pow(high/low, w.Float64()) }

func (w *wild) pick(list ...string) string { return list[w.IntN(len(list))] }

func (w *wild) add(format string, a ...any) { fmt.Fprintf(&w.text, format+"\n", a...) }

func (w *wild) name(kind string) string {
	w.parts++
	return fmt.Sprintf("%s%d", kind, w.parts)
}

func (w *wild) place() string { return "chamber." + w.chambers[w.IntN(len(w.chambers))] }

// position writes where an opening of an area is: each touches the one before
// or lies further on.
func (w *wild) position(area float64) {
	if !w.placed {
		return
	}
	a := math.Sqrt(area/math.Pi) * (1 + 1e-4) // the file's digits are few
	if !w.chance(0.5) {
		w.along += w.between(0.01, 0.5)
	}
	w.along += a
	w.add(`  position = ["%.17g m", "0.05 m", "%.4g m"]`, w.along, 0.0)
	w.along += a
}

func (w *wild) write() {
	switch w.IntN(3) {
	case 0:
		w.add("air {\n  density = \"1.19 kg/m3\"\n  speed = \"345.1 m/s\"\n  viscosity = \"1.84e-5 Pa*s\"\n  gamma = 1.401\n  prandtl = 0.71\n}")
	case 1:
		w.add("air {\n  temperature = \"%.3g C\"\n  humidity = %.2g\n}", w.between(5, 30), w.Float64())
	}
	drivers := []string{}
	for range 1 + w.IntN(2) {
		drivers = append(drivers, w.driver())
	}
	w.placed = w.chance(0.4)
	for range 1 + w.IntN(4) {
		w.chambers = append(w.chambers, w.chamber())
	}
	drives := w.drives()
	mount := func(front, rear string, drive string) {
		n := w.name("mount")
		d := drivers[w.IntN(len(drivers))]
		name, area, _ := strings.Cut(d, " ")
		var sd float64
		fmt.Sscan(area, &sd)
		w.add("mount %q {\n  driver = driver.%s\n  front = %s\n  rear = %s", n, name, front, rear)
		if w.chance(0.25) {
			w.add("  count = %d\n  wiring = %q", 2+w.IntN(2), w.pick("series", "parallel"))
		}
		if w.chance(0.2) {
			w.add("  reversed = true")
		}
		if drive != "" {
			w.add("  drive = drive.%s", drive)
		}
		if front == "outside" || rear == "outside" {
			w.position(sd)
		}
		w.add("}")
	}
	front := "outside"
	if len(w.chambers) > 1 && w.chance(0.4) {
		front = "chamber." + w.chambers[1]
	}
	mount(front, "chamber."+w.chambers[0], drives[0])
	for i := 1; i < len(w.chambers); i++ {
		w.join("chamber."+w.chambers[w.IntN(i)], "chamber."+w.chambers[i], func() {
			mount("chamber."+w.chambers[0], "chamber."+w.chambers[i], drives[w.IntN(len(drives))])
		})
	}
	for _, d := range drives[1:] { // every drive has something to drive
		front, rear := w.place(), "outside"
		if w.chance(0.5) {
			front, rear = rear, front
		}
		mount(front, rear, d)
	}
	for range w.IntN(3) {
		from, to := w.place(), "outside"
		if w.chance(0.3) {
			from, to = to, from
		}
		w.join(from, to, nil)
	}
	if w.chance(0.3) {
		w.junction()
	}
	w.listen()
}

func (w *wild) driver() string {
	n := w.name("driver")
	sd := w.between(40e-4, 800e-4)
	fs := w.between(20, 90)
	mass := 1200 * math.Pow(sd, 1.5) * 10 * w.between(0.6, 1.6) / 1e3 * 3 // kg: 70 g for 490 cm²
	cms := 1 / (math.Pow(2*math.Pi*fs, 2) * mass)
	qms, qes := w.between(2.5, 9), w.between(0.3, 0.9)
	re := w.between(2, 8)
	w.add("driver %q {\n  re = \"%.5g ohm\"\n  sd = \"%.6g cm2\"", n, re, sd*1e4)
	move := 2 * math.Pi * fs * mass
	switch w.IntN(4) {
	case 0:
		w.add("  mms = \"%.6g g\"\n  cms = \"%.6g mm/N\"\n  rms = \"%.5g N*s/m\"\n  bl = \"%.5g T*m\"", mass*1e3, cms*1e3, move/qms, math.Sqrt(move*re/qes))
	case 1:
		w.add("  mmd = \"%.6g g\"\n  fs = \"%.5g Hz\"\n  qms = %.5g\n  qes = %.5g", mass*1e3, fs, qms, qes)
	default:
		w.add("  fs = \"%.5g Hz\"\n  qms = %.5g\n  qes = %.5g\n  vas = \"%.6g L\"", fs, qms, qes, cms*1.19*345*345*sd*sd*1e3)
		if w.chance(0.4) {
			w.add("  creep = %.3g", w.between(0.02, 0.1))
		}
	}
	switch w.IntN(4) {
	case 0:
		w.add("  coil {\n    k = %.4g\n    n = %.4g\n  }", w.between(0.01, 0.05), w.between(0.5, 0.9))
	case 1:
		w.add("  coil {\n    le = \"%.4g mH\"\n    l2 = \"%.4g mH\"\n    r2 = \"%.4g ohm\"\n  }", w.between(0.1, 1), w.between(0.2, 2), w.between(1, 10))
	case 2:
		w.add("  le = \"%.4g mH\"", w.between(0.1, 1.5))
	}
	if w.chance(0.3) {
		w.add("  displacement = \"%.4g L\"", w.between(0.05, 0.4))
	}
	w.add("}")
	return fmt.Sprintf("%s %.17g", n, sd)
}

func (w *wild) chamber() string {
	n := w.name("chamber")
	w.add("chamber %q {", n)
	if w.chance(0.5) {
		w.add("  volume = \"%.6g L\"", w.between(8, 120))
	} else {
		w.add("  size = [\"%.5g mm\", \"%.5g mm\", \"%.5g mm\"]", w.between(200, 400), w.between(200, 400), w.between(200, 500))
	}
	if w.chance(0.4) {
		w.add("  gross = true")
		if w.chance(0.5) {
			w.add("  bracing = \"%.3g L\"", w.between(0.1, 0.5))
		}
	}
	if w.chance(0.3) {
		w.add("  leak_q = %.4g\n  leak_at = \"%.4g Hz\"", w.between(5, 50), w.between(20, 80))
	}
	if w.chance(0.3) {
		w.add("  fill = %.3g\n  flow_resistivity = \"%.4g Pa*s/m2\"", w.between(0.05, 0.9), w.between(1e3, 1e4))
	}
	if w.chance(0.3) && !w.ideal {
		w.add("  walls = \"real\"")
	}
	if w.chance(0.15) && !w.ideal {
		w.add("  temperature = \"%.3g C\"", w.between(20, 34))
	}
	w.add("}")
	return n
}

// walls writes how a duct's walls act.
func (w *wild) walls() {
	if w.ideal || w.chance(0.2) {
		w.add("  walls = \"ideal\"")
	}
}

// join puts a random part between two places.
func (w *wild) join(from, to string, mount func()) {
	kind := w.IntN(10)
	switch {
	case kind < 5:
		w.port(from, to)
	case kind < 7:
		w.line(from, to, 1+w.IntN(3))
	case kind == 7:
		w.passive(from, to)
	case kind == 8:
		w.add("leak %q {\n  from = %s\n  to = %s\n  resistance = \"%.4g Pa*s/m3\"", w.name("leak"), from, to, w.between(1e3, 1e6))
		if w.chance(0.5) && (from == "outside" || to == "outside") {
			w.add("  radiates = true")
		}
		w.add("}")
	case mount != nil:
		mount()
	default:
		w.port(from, to)
	}
}

func (w *wild) port(from, to string) {
	w.add("port %q {\n  from = %s\n  to = %s\n  length = \"%.5g mm\"", w.name("port"), from, to, w.between(15, 400))
	area := 0.0
	rectangle := false
	switch w.IntN(3) {
	case 0:
		d := w.between(30, 150)
		area = math.Pi / 4 * d * d * 1e-6
		w.add("  diameter = \"%.5g mm\"", d)
	case 1:
		a, b := w.between(20, 60), w.between(60, 250)
		area = a * b * 1e-6
		rectangle = true
		w.add("  size = [\"%.5g mm\", \"%.5g mm\"]", b, a)
	default:
		area = w.between(10e-4, 150e-4)
		w.add("  area = \"%.6g cm2\"", area*1e4)
	}
	if w.chance(0.3) {
		w.add("  count = %d", 2+w.IntN(3))
	}
	shapes := []string{"flush", "free", "none"}
	if rectangle {
		shapes = append(shapes, "slot")
	}
	if w.chance(0.4) {
		w.add("  ends = [%q, %q]", w.pick(shapes...), w.pick(shapes...))
	}
	if w.chance(0.2) {
		w.add("  end_correction = [\"%.4g mm\", \"%.4g mm\"]", w.between(1, 30), w.between(1, 30))
	}
	if w.chance(0.2) {
		w.add("  resistance = \"%.4g Pa*s/m3\"", w.between(10, 1000))
	}
	if w.chance(0.2) {
		w.add("  wall = \"%.4g cm2\"", w.between(400, 2000))
	}
	if w.chance(0.3) {
		w.add("  inside = [\"%.4g mm\", \"%.4g mm\"]\n  wall_thickness = \"%.3g mm\"", w.between(1, 20), w.between(1, 20), w.between(2, 6))
	}
	w.walls()
	if from == "outside" || to == "outside" {
		w.position(area)
	}
	w.add("}")
}

func (w *wild) line(from, to string, sections int) {
	w.add("line %q {\n  from = %s\n  to = %s", w.name("line"), from, to)
	if w.chance(0.3) {
		w.add("  fill = %.3g", w.between(0.05, 0.5))
		if w.chance(0.7) {
			w.add("  flow_resistivity = \"%.4g Pa*s/m2\"", w.between(1e3, 1e4))
		}
	}
	w.walls()
	widest := 0.0
	for range sections {
		length, area := w.between(50, 500), w.between(40, 300)
		widest = math.Max(widest, area)
		switch w.IntN(4) {
		case 0:
			far := w.between(40, 300)
			widest = math.Max(widest, far)
			w.add("  section {\n    length = \"%.5g mm\"\n    area = \"%.5g cm2\"\n    to_area = \"%.5g cm2\"\n    shape = %q\n  }", length, area, far, w.pick("conical", "exponential"))
		case 1:
			a, b := math.Sqrt(area)*10/1.4, math.Sqrt(area)*10*1.4
			w.add("  section {\n    length = \"%.5g mm\"\n    size = [\"%.5g mm\", \"%.5g mm\"]\n  }", length, a, b)
			widest = math.Max(widest, a*b/100)
		case 2:
			w.add("  section {\n    length = \"%.5g mm\"\n    diameter = \"%.5g mm\"\n  }", length, math.Sqrt(area*4/math.Pi)*10)
		default:
			w.add("  section {\n    length = \"%.5g mm\"\n    area = \"%.5g cm2\"\n  }", length, area)
		}
	}
	if from == "outside" || to == "outside" {
		w.position(widest * 1e-4 * 1.0001)
	}
	w.add("}")
}

func (w *wild) passive(front, rear string) {
	sd := w.between(100, 900)
	w.add("passive %q {\n  sd = \"%.6g cm2\"\n  front = %s\n  rear = %s", w.name("passive"), sd, front, rear)
	if w.chance(0.5) {
		w.add("  mms = \"%.5g g\"\n  cms = \"%.5g mm/N\"\n  rms = \"%.4g N*s/m\"", w.between(50, 400), w.between(0.1, 1), w.between(0.5, 3))
	} else {
		w.add("  fs = \"%.5g Hz\"\n  qms = %.4g\n  vas = \"%.5g L\"", w.between(12, 40), w.between(3, 12), w.between(20, 200))
	}
	if w.chance(0.3) {
		w.add("  count = 2")
	}
	if front == "outside" || rear == "outside" {
		w.position(sd * 1e-4)
	}
	w.add("}")
}

// junction adds a point where several ducts meet, one of them from a chamber.
func (w *wild) junction() {
	n := w.name("junction")
	w.add("junction %q {}", n)
	j := "junction." + n
	w.line(w.place(), j, 1+w.IntN(2))
	switch w.IntN(3) {
	case 0:
		w.line(j, "closed", 1+w.IntN(3))
	case 1:
		w.line("closed", j, 1+w.IntN(3))
	}
	if w.chance(0.5) {
		w.line(j, "outside", 2)
	} else {
		w.port(w.place(), j)
	}
}

// drives writes amplifiers and returns their names, "" for a nameless one.
func (w *wild) drives() (names []string) {
	n := 1
	if w.chance(0.3) {
		n = 2
	}
	for range n {
		if n == 1 && w.chance(0.5) {
			names = append(names, "")
			w.add("drive {")
		} else {
			names = append(names, w.name("drive"))
			w.add("drive %q {", names[len(names)-1])
		}
		if w.chance(0.5) {
			w.add("  voltage = \"%.4g V\"", w.between(1, 20))
		} else {
			w.add("  power = \"%.4g W\"", w.between(0.5, 50))
		}
		if w.chance(0.4) {
			w.add("  source_resistance = \"%.3g ohm\"", w.between(0.05, 1))
		}
		if w.chance(0.3) {
			w.add("  gain = %.3g", 6*(w.Float64()-0.5))
		}
		if w.chance(0.3) {
			w.add("  delay = \"%.3g ms\"", w.between(0.1, 3))
		}
		if w.chance(0.2) {
			w.add("  reversed = true")
		}
		if w.chance(0.3) {
			w.add("  coil_temperature = \"%.3g C\"", w.between(20, 150))
		}
		w.add("  wiring = %q", w.pick("series", "parallel"))
		for range w.IntN(3) {
			switch w.IntN(5) {
			case 0:
				w.add("  filter {\n    kind = %q\n    frequency = \"%.4g Hz\"\n    order = %d\n  }", w.pick("high-pass", "low-pass"), w.between(15, 300), 1+w.IntN(5))
			case 1:
				w.add("  filter {\n    kind = %q\n    frequency = \"%.4g Hz\"\n    q = %.3g\n  }", w.pick("high-pass", "low-pass"), w.between(15, 300), w.between(0.5, 2))
			case 2:
				w.add("  filter {\n    kind = %q\n    frequency = \"%.4g Hz\"\n    q = %.3g\n    gain = %.3g\n  }", w.pick("low-shelf", "high-shelf", "bell"), w.between(15, 300), w.between(0.5, 3), 12*(w.Float64()-0.5))
			case 3:
				w.add("  filter {\n    kind = \"series\"\n    resistance = \"%.3g ohm\"\n    inductance = \"%.3g mH\"\n  }", w.between(0.05, 1), w.between(0.1, 5))
				if w.chance(0.3) {
					w.add("  filter {\n    kind = \"series\"\n    capacitance = \"%.4g uF\"\n  }", w.between(500, 3000))
				}
			default:
				w.add("  filter {\n    kind = \"shunt\"\n    resistance = \"%.3g ohm\"\n    capacitance = \"%.3g uF\"\n  }", w.between(1, 10), w.between(20, 300))
			}
		}
		w.add("}")
	}
	return names
}

func (w *wild) listen() {
	w.add("listen {\n  space = %q", w.pick("full", "half", "quarter", "eighth"))
	if w.chance(0.6) {
		w.add("  distance = \"%.4g m\"", w.between(0.5, 4))
	}
	if w.placed && w.chance(0.7) {
		w.add("  position = [\"%.4g m\", \"%.4g m\", \"%.4g m\"]", w.between(0.1, 1), w.between(0.1, 1), w.between(1, 4))
	}
	if w.chance(0.1) {
		w.add("  radiation = \"none\"")
	}
	w.add("}")
}

// eachWild visits random designs; what fails prints the seed and the design.
func eachWild(t *testing.T, n int, ideal bool, visit func(t *testing.T, seed uint64, r *rand.Rand, m *design.Model)) {
	for i := range n {
		seed := uint64(lawSeed + i)
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			m := wildModel(t, seed, ideal)
			visit(t, seed, rand.New(rand.NewPCG(seed, 2)), m)
			if t.Failed() && !testing.Verbose() {
				t.Logf("the design of seed %d:\n%s", seed, wildDesign(seed, ideal))
			}
		})
	}
}
