package sweep

import (
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"unicode/utf16"
)

var update = flag.Bool("update", false, "write the golden files anew")

// near reports whether a and b agree within a relative tol.
func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol*math.Max(math.Abs(a), math.Abs(b)) }

// The same three points written in every way the reader promises to know.
// 20 Hz 6.1 ohm −12.5°, 100 Hz 31.25 ohm 4°, 1500 Hz 7 ohm 20°.
var (
	threeF = []float64{20, 100, 1500}
	threeZ = []float64{6.1, 31.25, 7}
	threeP = []float64{-12.5, 4, 20}
)

func TestTableDialects(t *testing.T) {
	re := func(i int) float64 { return threeZ[i] * math.Cos(threeP[i]*math.Pi/180) }
	im := func(i int) float64 { return threeZ[i] * math.Sin(threeP[i]*math.Pi/180) }
	for _, c := range []struct {
		name, text string
		opt        Options
		noPhase    bool
	}{
		{name: "bare, blanks", text: "20 6.1 -12.5\n100 31.25 4\n1500 7 20\n"},
		{name: "bare, |Z| alone", text: "20\t6.1\n100\t31.25\n1500\t7\n", noPhase: true},
		{name: "comma", text: "Frequency,|Z|,Phase\n20,6.1,-12.5\n100,31.25,4\n1500,7,20\n"},
		{name: "comma and blank", text: "20, 6.1, -12.5\n100, 31.25, 4\n1500, 7, 20"},
		{name: "CRLF", text: "Frequency,|Z|,Phase\r\n20,6.1,-12.5\r\n100,31.25,4\r\n1500,7,20\r\n"},
		{name: "CR", text: "20,6.1,-12.5\r100,31.25,4\r1500,7,20\r"},
		{name: "semicolon, decimal comma", text: "f;Z;phi\n20,0;6,1;-12,5\n100;31,25;4\n1500;7;20\n"},
		{name: "tab, decimal comma", text: "20,0\t6,1\t-12,5\n100,0\t31,25\t4,0\n1500,0\t7,0\t20,0\n"},
		{name: "blanks, decimal comma", text: "20,0 6,1 -12,5\n100,0 31,25 4,0\n1500,0 7,0 20,0\n"},
		{name: "quoted, decimal comma", text: "\"f\",\"Z\",\"phase\"\n\"20,0\",\"6,1\",\"-12,5\"\n\"100,0\",\"31,25\",\"4,0\"\n\"1500,0\",\"7,0\",\"20,0\"\n"},
		{name: "any order", text: "phase (deg), Z (ohm), freq (Hz)\n-12.5,6.1,20\n4,31.25,100\n20,7,1500\n"},
		{name: "kHz", text: "Freq [kHz];|Z| [Ω];Phase [°]\n0.020;6.1;-12.5\n0.1;31.25;4\n1.5;7;20\n"},
		{name: "kHz and radians", text: fmt.Sprintf("f/kHz, |Z|/ohm, arg/rad\n0.02,6.1,%.15g\n0.1,31.25,%.15g\n1.5,7,%.15g\n",
			threeP[0]*math.Pi/180, threeP[1]*math.Pi/180, threeP[2]*math.Pi/180)},
		{name: "unit line", text: "f\tZ\tphase\nkHz\tohm\tdeg\n0.02\t6.1\t-12.5\n0.1\t31.25\t4\n1.5\t7\t20\n"},
		{name: "real and imaginary", text: fmt.Sprintf("Hz, Re(Z), Im(Z)\n20,%.15g,%.15g\n100,%.15g,%.15g\n1500,%.15g,%.15g\n",
			re(0), im(0), re(1), im(1), re(2), im(2))},
		{name: "resistance, reactance, unit line", text: fmt.Sprintf("# f   R   X\n# Hz mohm mohm\n20 %.15g %.15g\n100 %.15g %.15g\n1500 %.15g %.15g\n",
			1e3*re(0), 1e3*im(0), 1e3*re(1), 1e3*im(1), 1e3*re(2), 1e3*im(2))},
		{name: "minus Z''", text: fmt.Sprintf("f (Hz);Z' (ohm);-Z'' (ohm)\n20;%.15g;%.15g\n100;%.15g;%.15g\n1500;%.15g;%.15g\n",
			re(0), -im(0), re(1), -im(1), re(2), -im(2))},
		{name: "decibel", text: fmt.Sprintf("f,|Z| dB,phase\n20,%.15g,-12.5\n100,%.15g,4\n1500,%.15g,20\n",
			20*math.Log10(threeZ[0]), 20*math.Log10(threeZ[1]), 20*math.Log10(threeZ[2]))},
		{name: "free text above", text: "Godwit, second box\nmeasured 3 May, 21 C, 2 people in the room\n\n* swept twice\n48000 16384\nFreq(Hz)  Z(Ohm)  Phase(Deg)\n20  6.1  -12.5\n100  31.25  4\n1500  7  20\n"},
		{name: "free text above, no header", text: "Godwit, second box, 12 litres and 3 ports\nall is well\n20  6.1  -12.5\n100  31.25  4\n1500  7  20\n"},
		{name: "columns of other things", text: "No,Freq,SPL,Z,Phase,Note\n1,20,81,6.1,-12.5,ok\n2,100,84,31.25,4,ok\n3,1500,90,7,20,hum\n"},
		{name: "comments between", text: "20 6.1 -12.5\n# a door slammed\n100 31.25 4\n\n1500 7 20\n"},
		{name: "header by word", text: "a,b,c\n6.1,-12.5,0.020\n31.25,4,.1\n7,20,1.5\n", opt: Options{Header: "|Z|, phase, kHz"}},
		{name: "header by word, passing over", text: "x;20;6.1;-12.5\ny;100;31.25;4\nz;1500;7;20\n", opt: Options{Header: "-, frequency, impedance, phase"}},
		{name: "exponents", text: "2.0D+01 6.1E0 -1.25e1\n1.0D+02 3.125E1 4\n1.5d3 7 20\n"},
		{name: "typographic minus", text: "20 6.1 \u221212.5\n100 31.25 4\n1500 7 20\n"},
		{name: "byte-order mark", text: "\ufeffFrequency,|Z|,Phase\n20,6.1,-12.5\n100,31.25,4\n1500,7,20\n"},
		{name: "one byte a character", text: "Freq;Z (ohm);Phase (\xb0)\n20;6.1;-12.5\n100;31.25;4\n1500;7;20\n"},
		{name: "UTF-16", text: utf16LE("Freq\tImp\tPhase\r\n20\t6.1\t-12.5\r\n100\t31.25\t4\r\n1500\t7\t20\r\n")},
		{name: "trailing separators", text: "f;Z;p;\n20;6.1;-12.5;\n100;31.25;4;\n1500;7;20;\n"},
		{name: "old end-of-file mark", text: "20 6.1 -12.5\r\n100 31.25 4\r\n1500 7 20\r\n\x1a"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Read([]byte(c.text), "three.txt", c.opt)
			if err != nil {
				t.Fatal(err)
			}
			if s.Len() != 3 || (s.Phase == nil) != c.noPhase {
				t.Fatalf("read %+v", s)
			}
			for i := range threeF {
				if !near(s.Frequency[i], threeF[i], 1e-12) || !near(s.Magnitude[i], threeZ[i], 1e-12) ||
					!c.noPhase && !near(s.Phase[i], threeP[i]*math.Pi/180, 1e-12) {
					t.Errorf("point %d: %v Hz %v ohm, want %v Hz %v ohm %v°; %+v", i, s.Frequency[i], s.Z(i), threeF[i], threeZ[i], threeP[i], s)
				}
			}
		})
	}
}

// Names of columns as people write them, and names that are something else.
func TestClassify(t *testing.T) {
	for _, c := range []struct {
		name  string
		role  role
		scale float64
	}{
		{"Frequency", frequency, 0}, {"freq(Hz)", frequency, 1}, {"f / kHz", frequency, 1e3}, {"FREQ_HZ", frequency, 1}, {"Frequenz [Hz]", frequency, 1}, {"Hz", frequency, 1},
		{"Z", magnitude, 0}, {"|Z| (Ω)", magnitude, 1}, {"|Z| (\u2126)", magnitude, 1}, {"Impedance (Ohms)", magnitude, 1}, {"impedance_ohm", magnitude, 1}, {"Z_mag [mΩ]", magnitude, 1e-3}, {"Modulus", magnitude, 0}, {"ohm", magnitude, 1},
		{"Phase", phase, 0}, {"Phase (Deg)", phase, math.Pi / 180}, {"arg Z / rad", phase, 1}, {"Z-phase [°]", phase, math.Pi / 180}, {"impedance_phase_deg", phase, math.Pi / 180}, {"θ", phase, 0},
		{"Re(Z)", realPart, 0}, {"R [ohm]", realPart, 1}, {"Z'", realPart, 0}, {"Real part of impedance", realPart, 0},
		{"Im(Z)", imaginary, 0}, {"X (Ohm)", imaginary, 1}, {"-Z'' (ohm)", imaginary, -1}, {"Imag", imaginary, 0},
		{"Coherence", coherence, 0}, {"γ²", coherence, 0},
		{"-", passed, 0},
		{"", unknown, 0}, {"SPL (dB)", unknown, 0}, {"frequency (deg)", unknown, 0}, {"phase (ohm)", unknown, 0}, {"Temperature", unknown, 0}, {"No", unknown, 0},
		{"Impedance of the woofer as it came from the shop", unknown, 0},
	} {
		if f := classify(c.name); f.role != c.role || f.scale != c.scale {
			t.Errorf("%q is %v with scale %v, want %v with %v", c.name, f.role, f.scale, c.role, c.scale)
		}
	}
}

func utf16LE(s string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(s)) {
		b = binary.LittleEndian.AppendUint16(b, u)
	}
	return string(b)
}

// What is doubtful is read, with a word about it.
func TestTableWarnings(t *testing.T) {
	driver := func(row func(f, mag, deg float64) string) string {
		var s strings.Builder
		for i := range 60 {
			f := 10 * math.Pow(100, float64(i)/59)
			z := complex(6, 2*math.Pi*f*0.5e-3) + complex(40, 0)/complex(1, 4*(f/50-50/f))
			s.WriteString(row(f, math.Hypot(real(z), imag(z)), math.Atan2(imag(z), real(z))*180/math.Pi))
		}
		return s.String()
	}
	plain := func(f, m, p float64) string { return fmt.Sprintf("%.3f %.4f %.3f\n", f, m, p) }
	for _, c := range []struct {
		name, text, want string
		first            float64 // Hz, |Z| and phase must still be right
	}{
		{"clean", driver(plain), "", 10},
		{"radians", driver(func(f, m, p float64) string { return plain(f, m, p*math.Pi/180) }), "as radians read as degrees would be", 10},
		{"reversed sign", driver(func(f, m, p float64) string { return plain(f, m, -p) }), "its sign seems reversed", 10},
		{"swapped f and |Z|", driver(func(f, m, p float64) string { return plain(m, f, p) }), "column 2, not column 1, rises steadily", 10},
		{"swapped |Z| and phase", driver(func(f, m, p float64) string { return plain(f, p, m) }), "column 2 goes below zero", 10},
		{"swapped and |Z| alone", driver(func(f, m, p float64) string { return fmt.Sprintf("%.3f\t%.3f\n", m, f) }), "column 2, not column 1, rises steadily", 10},
		{"negative resistance", "10 5 120\n20 5 110\n30 5 0\n", "passes ±90° at 2 of 3 points", 10},
		{"kHz unsaid", "0.01 6\n0.02 7\n1.5 9\n", "no unit is named", 0.01},
		{"zero hertz", "0 6\n20 7\n30 9\n", "row at 0 Hz is dropped", 20},
		{"descending", "30 6\n20 7\n10 9\n", "the frequencies descend", 10},
		{"out of order", "10 6\n30 7\n20 9\n40 6\n", "out of order at 1 place, first at line 3", 10},
		{"repeated", "10 6\n20 7\n20 9\n20 8\n40 6\n", "2 rows repeat a frequency, first at line 3", 10},
		{"unknown column", "f,Z,humidity\n10,6,1\n20,7,1\n", "column 3 is passed over", 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Read([]byte(c.text), "x.txt", Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := strings.Join(s.Warnings, "\n")
			if c.want == "" && got != "" || !strings.Contains(got, c.want) || len(s.Warnings) > 1 {
				t.Errorf("warnings %q, want one with %q", s.Warnings, c.want)
			}
			if !near(s.Frequency[0], c.first, 1e-3) || !sort.Float64sAreSorted(s.Frequency) {
				t.Errorf("first frequency %v, want %v", s.Frequency[0], c.first)
			}
		})
	}
	s, err := Read([]byte("f,Z,p\n10,6,0\n20,1,90\n20,1,0\n40,6,0\n"), "x", Options{})
	if err != nil || !near(s.Magnitude[1], math.Sqrt2/2, 1e-12) || !near(s.Phase[1], math.Pi/4, 1e-12) {
		t.Errorf("the mean of 1∠90° and 1∠0° is %v, %v", s, err)
	}
}

func TestLeaveOut(t *testing.T) {
	text := "f,Z\n10,6\n20,six\n30,-4\n40\n50,7\nthe end\n"
	s, err := Read([]byte(text), "x.csv", Options{LeaveOut: true})
	if err != nil {
		t.Fatal(err)
	}
	if s.Skipped != 4 || s.Len() != 2 {
		t.Errorf("left out %d, kept %d", s.Skipped, s.Len())
	}
	if want := `left out 4 faulty rows, the first at line 3: "six" is not a number`; len(s.Warnings) != 1 || s.Warnings[0] != want {
		t.Errorf("warnings %q", s.Warnings)
	}
}

// Every file of testdata/bad is named for its fault; the messages are kept in
// testdata/bad.txt.
func TestBadFiles(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join("testdata", "bad", "*"))
	if err != nil || len(paths) == 0 {
		t.Fatal("no files", err)
	}
	var out strings.Builder
	for _, path := range paths {
		s, err := ReadFile(path, Options{Series: 10})
		if err == nil {
			t.Errorf("%s: read without complaint: %+v", path, s)
			continue
		}
		fmt.Fprintln(&out, filepath.ToSlash(err.Error()))
	}
	golden := filepath.Join("testdata", "bad.txt")
	if *update {
		if err := os.WriteFile(golden, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got := out.String(); got != string(want) {
		t.Errorf("messages differ from %s:\n%s", golden, got)
	}
}

// A sparse file stands in for one that is too large.
func TestTooLarge(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{"f,Z\n10,6\n", "is too large; wanted at most 64 MiB"},
		{"RIFF\x00\x00\x00\x80WAVE", "file of 2 GiB is too large"},
	} {
		path := filepath.Join(t.TempDir(), "long")
		if err := os.WriteFile(path, []byte(c.head), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Truncate(path, 2<<30); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadFile(path, Options{Series: 10}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want %q", err, c.want)
		}
	}
}

// Whatever is written in a dialect is read back, over random numbers.
func TestTableRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 0))
	for trial := range 200 {
		form := dialects[rng.IntN(len(dialects))]
		n := 3 + rng.IntN(40)
		quote := form.sep == ',' && form.comma
		num := func(v float64) string {
			s := fmt.Sprintf("%.*f", 1+rng.IntN(5), v)
			if form.comma {
				s = strings.Replace(s, ".", ",", 1)
			}
			if quote {
				s = `"` + s + `"`
			}
			return s
		}
		var text strings.Builder
		f := 5.0
		var fs []float64
		for range n {
			f *= 1.05 + rng.Float64()
			fs = append(fs, f)
			fmt.Fprintf(&text, "%s%c%s%c%s\n", num(f), form.sep, num(1+50*rng.Float64()), form.sep, num(160*rng.Float64()-80))
		}
		s, err := Read([]byte(text.String()), "x", Options{})
		if err != nil {
			t.Fatalf("trial %d, %c %v: %v\n%s", trial, form.sep, form.comma, err, text.String())
		}
		if s.Len() != n || s.Phase == nil {
			t.Fatalf("trial %d: %d points of %d\n%s", trial, s.Len(), n, text.String())
		}
		for i := range fs {
			if math.Abs(s.Frequency[i]-fs[i]) > 0.051 {
				t.Fatalf("trial %d: %v read as %v", trial, fs[i], s.Frequency[i])
			}
		}
	}
}

// sound fails unless s keeps the promises of Sweep.
func sound(t *testing.T, s *Sweep) {
	t.Helper()
	n := s.Len()
	if n < 2 || len(s.Magnitude) != n || s.Phase != nil && len(s.Phase) != n ||
		s.Coherence != nil && len(s.Coherence) != n || s.Error != nil && len(s.Error) != n {
		t.Fatalf("lengths %d %d %d %d %d", n, len(s.Magnitude), len(s.Phase), len(s.Coherence), len(s.Error))
	}
	for i := range n {
		if f := s.Frequency[i]; !(f > 0) || !finite(f) || i > 0 && f <= s.Frequency[i-1] {
			t.Fatalf("frequency %d: %v", i, f)
		}
		if m := s.Magnitude[i]; !(m > 0) || !finite(m) {
			t.Fatalf("|Z| %d: %v", i, m)
		}
		if s.Phase != nil && !(math.Abs(s.Phase[i]) <= math.Pi) {
			t.Fatalf("phase %d: %v", i, s.Phase[i])
		}
		if s.Coherence != nil && !(s.Coherence[i] >= 0 && s.Coherence[i] <= 1) {
			t.Fatalf("coherence %d: %v", i, s.Coherence[i])
		}
		if s.Error != nil && !(s.Error[i] >= 0 && finite(s.Error[i])) {
			t.Fatalf("error %d: %v", i, s.Error[i])
		}
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte("f;Z;phi\n20,0;6,1;-12,5\n100;31,25;4\n1500;7;20\n"), "", false)
	f.Add([]byte("# f R X\n# kHz mohm mohm\n20 1 2\n100 2 3\n"), "", true)
	f.Add([]byte("1,2,3\n4,5,6\n1,1,1\n"), "phase, |Z|, kHz", true)
	f.Add([]byte("f,|Z| dB\n1,400\n2,1e300\n"), "", true)
	paths, _ := filepath.Glob(filepath.Join("testdata", "bad", "*.txt"))
	for _, p := range paths {
		if b, err := os.ReadFile(p); err == nil {
			f.Add(b, "", true)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, head string, leaveOut bool) {
		s, err := Read(b, "fuzz.txt", Options{Header: head, LeaveOut: leaveOut})
		if err != nil {
			_ = err.Error()
			return
		}
		sound(t, s)
	})
}
