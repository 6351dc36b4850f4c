package design

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// By which power of N each kind of value goes in a 1:N model. Lengths, areas,
// volumes and frequencies are geometry; the rest follows from the same equations
// of motion at N times the frequency, with voltage and excursion 1/N:
// Mms ~ density·volume, Cms = 1/(ω²·Mms), Rms = ω·Mms/Q, Bl² = Rms-like·Re,
// Le ~ Re/ω, acoustic resistance ~ pressure/volume velocity = N²·…, power ~ V²/R.
var powers = map[string]float64{
	"re": 0, "r2": 0, "qms": 0, "qes": 0, "qts": 0, "creep": 0, "n": 0,
	"le": -1, "l2": -1, "sd": -2, "fs": 1, "vas": -3, "mms": -3, "mmd": -3, "cms": 1, "rms": -2, "bl": -1,
	"xmax": -1, "displacement": -3,
	"volume": -3, "size": -1, "bracing": -3, "fill": 0, "flow_resistivity": 1, "leak_q": 0, "leak_at": 1,
	"diameter": -1, "area": -2, "length": -1, "count": 0, "wall": -2, "end_correction": -1, "resistance": 2,
	"speed_limit": 0, "inside": -1, "wall_thickness": -1, "position": -1, "edge_radius": -1, "to_area": -2,
	"voltage": -1, "source_resistance": 0, "gain": 0, "delay": -1, "coil_temperature": 0, "max_voltage": -1, "max_current": -1,
	"frequency": 1, "q": 0, "order": 0, "inductance": -1, "capacitance": -1, "distance": -1, "tones": 1,
	"temperature": 0, "pressure": 0, "humidity": 0, "density": 0, "speed": 0, "viscosity": 0, "gamma": 0, "prandtl": 0,
	"x": -1, "i": -1, "le_at_i": -1, "bl_offset": -1, "cms_asymmetry": 0, "bl_shape": 0, "kms_shape": 0, "le_shape": 0,
	"xmech": 0, "coil_thermal": 0, "magnet_thermal": 0, "coil_time": 0, "magnet_time": 0, "coil_limit": 0,
}

func power(at numberAt, d *Design) (float64, bool) {
	key := at.key[strings.LastIndexByte(at.key, '.')+1:]
	kind, _ := d.part(at.part)
	switch {
	case at.key == "coil.k": // |K·(jω)^n| stays
		n, _ := d.Value(at.part, "coil.n", 0)
		return -n.SI, true
	case key == "power" && kind.name == "driver":
		return 0, true // a rating
	case key == "power":
		return -2, true
	case key == "resistance" && kind.name == "drive":
		return 0, true
	}
	p, known := powers[key]
	return p, known
}

func TestScaledNumbers(t *testing.T) {
	for name, d := range everything(t) {
		for _, n := range []float64{2, 6.5} {
			model, _, err := d.Scaled(n, true)
			if err != nil {
				t.Fatal(name, err)
			}
			for _, at := range numbersOf(d) {
				p, known := power(at, d)
				if !known {
					t.Errorf("%s %v: no power known", name, at)
				}
				full, _ := d.Value(at.part, at.key, at.index)
				small, err := model.Value(at.part, at.key, at.index)
				want := full.SI * math.Pow(n, p)
				if err != nil || math.Abs(small.SI-want) > 1e-13*math.Abs(want) {
					t.Errorf("%s %v: %g becomes %g, want %g, %v", name, at, full.SI, small.SI, want, err)
				}
			}
		}
	}
}

func TestScaledThereAndBack(t *testing.T) {
	close := cmp.Options{alike, cmp.Comparer(func(a, b float64) bool {
		return a == b || math.Abs(a-b) <= 1e-12*math.Max(math.Abs(a), math.Abs(b))
	}), cmpopts.IgnoreFields(Quantity{}, "Unit"), cmpopts.IgnoreFields(Driver{}, "NotScaled", "File")}
	for name, d := range everything(t) {
		for _, n := range []float64{6, 0.37} {
			model, notes, err := d.Scaled(n, true)
			if err != nil {
				t.Fatal(name, err)
			}
			back, _, err := model.Scaled(n, false)
			if err != nil {
				t.Fatal(name, err)
			}
			spelt := reread(t, d)
			spelt.spellOut()
			if diff := cmp.Diff(spelt, back, close); diff != "" {
				t.Error(name, diff)
			}
			if rated := d.Drivers[0].Power.Given; rated != (len(notes) > 0) {
				t.Error(name, "notes", notes)
			}
		}
	}
}

func TestScaledText(t *testing.T) {
	d := mustRead(t, "testdata/good/commented.hcl")
	if err := d.SetText("small", "power", "20 W"); err != nil {
		t.Fatal(err)
	}
	model, notes, err := d.Scaled(10, true)
	if err != nil {
		t.Fatal(err)
	}
	text := string(model.Bytes())
	for _, want := range []string{
		`re    = "3.3 ohm" # measured 3.27`,
		`le    = "0.021 mH"`,
		`fs    = "880 Hz"`,
		`vas   = "1.25 cm3" /* at 20 C */`,
		`power = "20 W" # not scaled: measure it`,
		`chamber "near" { volume = "0.95 cm3" }`,
		`"2.4 mm", # high`,
		`tones = ["1120 Hz", "1440 Hz"] # the trial's`,
		`mouth { length = "2 %" }`,
		`distance = "0.1 m" # on the axis`,
		`drive { voltage = "0.283 V" }`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s in\n%s", want, text)
		}
	}
	bare, _, err := mustRead(t, "testdata/good/from-file.hcl").Scaled(4, true)
	if err != nil {
		t.Fatal(err)
	}
	if v, r := bare.Drives[0].Voltage.SI, bare.Listen.Distance.SI; v != DefaultVoltage/4 || r != DefaultDistance/4.0 {
		t.Error("what the full size leaves out is not scaled:", v, r)
	}
	if len(notes) != 1 || notes[0] != "driver small: power = 20 W is not scaled: measure it" {
		t.Error(notes)
	}
	again, _, err := model.Scaled(2, true)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(again.Bytes()), notScaled); n != 1 {
		t.Error("marked", n, "times")
	}
	other, _, err := mustRead(t, "testdata/good/dunlin.hcl.json").Scaled(6, true)
	if err != nil {
		t.Fatal(err)
	}
	if text := string(other.Bytes()); !strings.Contains(text, `"//": "power not scaled: measure it",`) {
		t.Error(text)
	}
}

func TestScaledRefuses(t *testing.T) {
	d := mustRead(t, "testdata/good/dunlin.hcl")
	for _, n := range []float64{0, -1, math.NaN(), math.Inf(1), 1e6} {
		if _, _, err := d.Scaled(n, true); err == nil {
			t.Error(n, "was accepted")
		}
	}
	// What leaves its range is named by its block, and by its key alone where
	// it stands in none.
	d.Drivers[0].Fs.SI = 20
	d.Listen.Distance = Quantity{SI: 0.005, Unit: "m", Given: true}
	for _, c := range []struct {
		n    float64
		want string
	}{
		{500, "found 56 kHz for tones once scaled; wanted "},
		{75, "found 66.66666666666667 um for distance of listen once scaled; wanted "},
	} {
		if _, _, err := d.Scaled(c.n, true); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("1:%g: %v, want %q", c.n, err, c.want)
		}
	}
}
