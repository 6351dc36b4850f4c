package design

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// everything returns the good designs in both forms.
func everything(t *testing.T) map[string]*Design {
	t.Helper()
	all := map[string]*Design{}
	for _, path := range good(t) {
		d := mustRead(t, path)
		all[filepath.Base(path)] = d
		if d.Source.Form == JSON || slices.ContainsFunc(d.Drivers, func(one *Driver) bool { return one.File != "" }) {
			continue
		}
		name := path + ".json"
		other, diags := Parse(d.Fresh(JSON), name)
		if diags.HasErrors() {
			t.Fatalf("%s as JSON: %v\n%s", path, diags, d.Fresh(JSON))
		}
		all[filepath.Base(name)+" (made)"] = other
	}
	return all
}

func reread(t *testing.T, d *Design) *Design {
	t.Helper()
	again, diags := d.Reread()
	if diags.HasErrors() {
		t.Fatalf("%v\n%s", diags, d.Bytes())
	}
	return again
}

func TestUnchangedIsTheSameBytes(t *testing.T) {
	for name, d := range everything(t) {
		if got := d.Bytes(); !bytes.Equal(got, d.Source.Bytes) {
			t.Error(name, cmp.Diff(string(d.Source.Bytes), string(got)))
		}
	}
}

func TestFreshReadsAlike(t *testing.T) {
	for name, d := range everything(t) {
		for _, form := range []Form{Native, JSON} {
			filename := map[Form]string{Native: "a.hcl", JSON: "a.json"}[form]
			r := parse(&Source{Filename: filename, Form: form, Bytes: d.Fresh(form)}, d.Source.opener())
			if r.diags.HasErrors() {
				t.Fatalf("%s: %v\n%s", name, r.diags, d.Fresh(form))
			}
			if diff := cmp.Diff(d, r.design, alike); diff != "" {
				t.Error(name, form, diff)
			}
		}
	}
}

// The everything design holds every key there is but those that exclude others.
func TestEverythingHoldsEveryKey(t *testing.T) {
	d := mustRead(t, "testdata/good/everything.hcl")
	text := string(d.Source.Bytes)
	for block := range blockKinds {
		for _, k := range Keys(block) {
			if k.Name == "file" || block == "driver" && k.Name == "le" || k.Name == "voltage" {
				continue
			}
			if !strings.Contains(text, k.Name+" ") {
				t.Errorf("%s of %q is in no test design", k.Name, block)
			}
		}
	}
}

type numberAt struct {
	part, key string
	index     int
}

// numbersOf returns the address of every number that is given.
func numbersOf(d *Design) []numberAt {
	var found []numberAt
	var walk func(kind *blockKind, owner any, part, prefix string)
	walk = func(kind *blockKind, owner any, part, prefix string) {
		for i := range kind.keys {
			s := &kind.keys[i]
			switch slot := s.slot(owner).(type) {
			case *Quantity:
				if slot.Given {
					found = append(found, numberAt{part, prefix + s.Name, 0})
				}
			case *[]Quantity:
				for i := range *slot {
					found = append(found, numberAt{part, prefix + s.Name, i})
				}
			}
		}
		for _, name := range kind.order {
			inner := kind.inner[name]
			for i, one := range inner.list(owner) {
				if kind.name != "" {
					walk(inner, one, part, prefix+inner.address(i+1))
					continue
				}
				name := inner.name
				if n, ok := one.(interface{ identity() *Named }); ok && n.identity().Name != "" {
					name = n.identity().Name
				}
				walk(inner, one, name, "")
			}
		}
	}
	walk(blockKinds[""], d, "", "")
	return found
}

func TestSetEveryNumber(t *testing.T) {
	for name, original := range everything(t) {
		all := numbersOf(original)
		if len(all) < 8 {
			t.Error(name, "has only", len(all), "numbers")
		}
		d := reread(t, original)
		for _, at := range all {
			q, err := d.Value(at.part, at.key, at.index)
			if err != nil {
				t.Fatal(name, at, err)
			}
			info, err := d.Info(at.part, at.key)
			if err != nil {
				t.Fatal(name, at, err)
			}
			to := q.SI*0.83 + map[bool]float64{true: 1e-4}[q.SI == 0]
			if info.Whole {
				to = q.SI + 1
			}
			if err := d.Set(at.part, at.key, at.index, to); err != nil {
				t.Error(name, at, err)
				continue
			}
			again, diags := d.Reread()
			if diags.HasErrors() && !info.Whole { // a filter's order may forbid its q
				t.Errorf("%s %v: %v\n%s", name, at, diags, d.Bytes())
				continue
			}
			if diff := cmp.Diff(d, again, alike); diff != "" {
				t.Error(name, at, diff)
			}
			fromOther := slices.ContainsFunc(original.Drivers, func(one *Driver) bool { return one.File != "" && one.Name == at.part })
			if n := linesChanged(original.Bytes(), d.Bytes()); n != 1 && !fromOther {
				t.Errorf("%s %v: %d lines changed", name, at, n)
			}
			if now, _ := again.Value(at.part, at.key, at.index); now.SI != to || now.Unit != q.Unit {
				t.Errorf("%s %v: got %v %q, want %v %q", name, at, now.SI, now.Unit, to, q.Unit)
			}
			if fromOther {
				d = reread(t, original)
			} else if err := d.Set(at.part, at.key, at.index, q.SI); err != nil {
				t.Error(name, at, err)
			}
		}
	}
}

func linesChanged(a, b []byte) int {
	was, is := bytes.Split(a, []byte("\n")), bytes.Split(b, []byte("\n"))
	n := max(len(was), len(is)) - min(len(was), len(is))
	for i := range min(len(was), len(is)) {
		if !bytes.Equal(was[i], is[i]) {
			n++
		}
	}
	return n
}

func TestSetRefuses(t *testing.T) {
	d := mustRead(t, "testdata/good/everything.hcl")
	before := d.Bytes()
	for _, c := range []struct {
		part, key string
		index     int
		si        float64
	}{
		{"nobody", "length", 0, 1}, {"vent", "lenght", 0, 1}, {"vent", "length", 1, 1}, {"vent", "length", 0, -1},
		{"vent", "length", 0, math.NaN()}, {"vent", "length", 0, math.Inf(1)}, {"vent", "size", 2, 0.1}, {"vent", "size", -1, 0.1},
		{"vent", "from", 0, 1}, {"vent", "count", 0, 1.5}, {"horn", "section.4.length", 0, 1}, {"horn", "section.x.length", 0, 1},
		{"horn", "section.0.length", 0, 1}, {"horn", "section", 0, 1}, {"horn", "section.1", 0, 1}, {"second", "coil.k", 0, 1},
		{"woofer", "coil.", 0, 1}, {"", "tones", 3, 40}, {"", "tones", 0, 30e3},
	} {
		if err := d.Set(c.part, c.key, c.index, c.si); err == nil {
			t.Errorf("%v was accepted", c)
		}
	}
	if !bytes.Equal(before, d.Bytes()) {
		t.Error("a refused value changed the design")
	}
	if err := d.Set("", "tones", 2, 48); err != nil || len(d.Tones) != 3 {
		t.Error("a tone could not be added", err)
	}
}

func TestTextInPlaceOfHeredoc(t *testing.T) {
	d := mustRead(t, "testdata/good/everything.hcl")
	if err := d.SetText("", "notes", "one line"); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(d, reread(t, d), alike); diff != "" {
		t.Error(diff)
	}
	if text := string(d.Bytes()); !strings.Contains(text, "notes  = \"one line\"\ntones  = [") {
		t.Error(text[:200])
	}
}

// Blocks inside are counted in keys and tolerances, which move when one goes.
func TestTolerancesFollow(t *testing.T) {
	d := mustRead(t, "testdata/good/everything.hcl")
	if err := d.RemoveInside("horn", "section", 1); err != nil {
		t.Fatal(err)
	}
	if err := d.Rename("horn", "mouthpiece"); err != nil {
		t.Fatal(err)
	}
	var keys []string
	for _, one := range reread(t, d).Tolerances {
		if one.Part == "mouthpiece" || one.Part == "horn" {
			keys = append(keys, one.Part+" "+one.Key)
		}
	}
	if diff := cmp.Diff([]string{"mouthpiece section.1.to_area"}, keys); diff != "" {
		t.Error(diff)
	}
}

// Files from other systems keep their line ends and the mark before the text.
func TestOtherSystems(t *testing.T) {
	for _, form := range []Form{Native, JSON} {
		src := mustRead(t, "testdata/good/commented.hcl").Fresh(form)
		src = append([]byte("\ufeff"), bytes.ReplaceAll(src, []byte("\n"), []byte("\r\n"))...)
		d, diags := Parse(src, map[Form]string{Native: "a.hcl", JSON: "a.json"}[form])
		if diags.HasErrors() {
			t.Fatal(diags)
		}
		if !bytes.Equal(d.Bytes(), src) {
			t.Error(form, "written otherwise")
		}
		if err := setAll(d, "near", "volume", "1.5 L", "fill", "40 %"); err != nil {
			t.Fatal(err)
		}
		if err := setAll(d, "mouth", "count", "2"); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(d, reread(t, d), alike); diff != "" {
			t.Error(diff)
		}
		if got := d.Bytes(); form == Native && bytes.Count(got, []byte("\n")) != bytes.Count(got, []byte("\r\n")) {
			t.Error("line ends mixed")
		}
	}
}

// Changes of every sort, shown in both forms.
func TestEdits(t *testing.T) {
	source := mustRead(t, "testdata/good/commented.hcl")
	for _, form := range []Form{Native, JSON} {
		var out strings.Builder
		for _, edit := range []struct {
			name string
			do   func(d *Design) error
		}{
			{"nothing", func(d *Design) error { return nil }},
			{"set a value", func(d *Design) error { return d.Set("near", "volume", 0, 1.1e-3) }},
			{"give a key to a one-line block", func(d *Design) error { return d.Set("near", "fill", 0, 0.5) }},
			{"a value and a key in a one-line block", func(d *Design) error {
				return setAll(d, "near", "volume", "1.5 L", "walls", "real", "leak_q", "7", "leak_at", "40 Hz")
			}},
			{"give a key in the middle", func(d *Design) error { return d.Set("mouth", "count", 0, 2) }},
			{"give a list", func(d *Design) error { return d.SetText("mouth", "end_correction", "12 mm, 0.5 in") }},
			{"one of a list", func(d *Design) error { return d.Set("mouth", "size", 1, 0.06) }},
			{"another opening", func(d *Design) error {
				if err := d.SetText("mouth", "size", ""); err != nil {
					return err
				}
				return d.SetText("mouth", "diameter", "41 mm")
			}},
			{"size in place of volume", func(d *Design) error {
				if err := d.SetText("near", "volume", ""); err != nil {
					return err
				}
				return d.SetText("near", "size", "100 mm, 100 mm, 95 mm")
			}},
			{"a title's quotes", func(d *Design) error { return d.SetText("", "title", `a "b" ${c} %{d} $${e} \ é`) }},
			{"author and notes", func(d *Design) error {
				d.Author, d.Notes = "nobody", "one\ntwo"
				return nil
			}},
			{"tones", func(d *Design) error { return d.SetText("", "tones", "40 Hz, 0.05 kHz") }},
			{"no tones", func(d *Design) error { return d.SetText("", "tones", "") }},
			{"rename a chamber", func(d *Design) error { return d.Rename("near", "behind") }},
			{"rename a driver", func(d *Design) error { return d.Rename("small", "tiny") }},
			{"add a port", func(d *Design) error {
				if err := d.AddBlock("port", "third"); err != nil {
					return err
				}
				return setAll(d, "third", "from", "chamber.near", "to", "outside", "diameter", "20 mm", "length", "50 mm", "ends", "free, none")
			}},
			{"add a chamber and a leak", func(d *Design) error {
				d.Chambers = append(d.Chambers, &Chamber{Named: Named{Name: "attic"}, Volume: Quantity{SI: 0.002, Unit: "L", Given: true}})
				d.Leaks = append(d.Leaks, &Leak{Named: Named{Name: "gap"}, From: Place{Kind: InChamber, Name: "attic"}, To: Place{Kind: Outside},
					Resistance: Quantity{SI: 4e4, Unit: "Pa*s/m3", Given: true}})
				return nil
			}},
			{"remove a port", func(d *Design) error { return d.RemoveBlock("inner") }},
			{"a coil in place of le", func(d *Design) error {
				if err := d.AddInside("small", "coil"); err != nil {
					return err
				}
				return setAll(d, "small", "le", "", "coil.k", "0.02", "coil.n", "0.7")
			}},
			{"another section in the middle", func(d *Design) error {
				l := d.Lines[0]
				l.Sections = slices.Insert(l.Sections, 1, &Section{Length: Quantity{SI: 0.1, Unit: "mm", Given: true}, Area: Quantity{SI: 0.002, Unit: "cm2", Given: true}})
				return nil
			}},
			{"sections swapped", func(d *Design) error {
				slices.Reverse(d.Lines[0].Sections)
				return nil
			}},
			{"first section removed", func(d *Design) error { return d.RemoveInside("pipe", "section", 1) }},
			{"listen", func(d *Design) error { return setAll(d, "listen", "distance", "2 m", "space", "full") }},
			{"listen changed, then nothing left", func(d *Design) error { return d.RemoveBlock("listen") }},
			{"a filter", func(d *Design) error {
				if err := d.AddInside("drive", "filter"); err != nil {
					return err
				}
				return setAll(d, "drive", "filter.1.kind", "low-pass", "filter.1.frequency", "120 Hz", "filter.1.order", "4")
			}},
			{"a second drive", func(d *Design) error {
				if err := d.AddBlock("drive", "left"); err != nil {
					return err
				}
				return setAll(d, "left", "power", "2 W", "reversed", "true")
			}},
			{"a tolerance's amount", func(d *Design) error { d.Tolerances[0].Amount.SI = 0.03; return nil }},
			{"another tolerance", func(d *Design) error {
				d.Tolerances = append(d.Tolerances, Tolerance{Part: "pipe", Key: "section.2.length", Amount: Quantity{SI: 0.001, Unit: "mm", Given: true}})
				return nil
			}},
			{"no tolerance", func(d *Design) error { d.Tolerances = nil; return nil }},
		} {
			d, diags := Parse(source.Bytes(), "a.hcl")
			if form == JSON {
				d, diags = Parse(source.Fresh(JSON), "a.json")
			}
			if diags.HasErrors() {
				t.Fatal(diags)
			}
			if err := edit.do(d); err != nil {
				t.Error(edit.name, err)
				continue
			}
			got := string(d.Bytes())
			fmt.Fprintf(&out, "=== %s\n%s", edit.name, changedLines(string(d.Source.Bytes), got))
			again, diags := d.Reread()
			if diags.HasErrors() {
				t.Errorf("%s: %v\n%s", edit.name, diags, got)
				continue
			}
			if diff := cmp.Diff(d, again, alike); diff != "" {
				t.Error(edit.name, diff)
			}
		}
		golden := filepath.Join("testdata", map[Form]string{Native: "edits.txt", JSON: "edits-json.txt"}[form])
		if *update {
			if err := os.WriteFile(golden, []byte(out.String()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), out.String()); diff != "" {
			t.Error(diff)
		}
	}
}

func setAll(d *Design, part string, pairs ...string) error {
	for i := 0; i < len(pairs); i += 2 {
		if err := d.SetText(part, pairs[i], pairs[i+1]); err != nil {
			return err
		}
	}
	return nil
}

// changedLines shows what was taken out and put in, by the longest common run of
// lines.
func changedLines(was, is string) string {
	a, b := strings.Split(was, "\n"), strings.Split(is, "\n")
	common := make([][]int, len(a)+1)
	for i := range common {
		common[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				common[i][j] = common[i+1][j+1] + 1
			} else {
				common[i][j] = max(common[i+1][j], common[i][j+1])
			}
		}
	}
	var out strings.Builder
	for i, j := 0, 0; i < len(a) || j < len(b); {
		switch {
		case i < len(a) && j < len(b) && a[i] == b[j]:
			i, j = i+1, j+1
		case i < len(a) && (j == len(b) || common[i+1][j] >= common[i][j+1]):
			fmt.Fprintf(&out, "%d\t- %s\n", i+1, a[i])
			i++
		default:
			fmt.Fprintf(&out, "%d\t+ %s\n", i+1, b[j])
			j++
		}
	}
	return out.String()
}

// Random runs of changes: whatever is written reads back as what is in memory.
func TestRandomEdits(t *testing.T) {
	for name, original := range everything(t) {
		for run := range 8 {
			seed := [2]uint64{uint64(run), uint64(len(name))}
			random := rand.New(rand.NewPCG(seed[0], seed[1]))
			d := reread(t, original)
			var log []string
			for range 12 {
				log = append(log, randomEdit(random, d))
				again, diags := d.Reread()
				if diags.HasErrors() {
					break // such a design need not be complete in memory
				}
				if diff := cmp.Diff(d, again, alike); diff != "" {
					t.Fatalf("%s seed %v: %s\n%s\n%s", name, seed, strings.Join(log, "; "), diff, d.Bytes())
				}
				if random.IntN(3) == 0 {
					d = again
					log = append(log, "reread")
				}
			}
		}
	}
}

func randomEdit(random *rand.Rand, d *Design) string {
	all := numbersOf(d)
	at := all[random.IntN(len(all))]
	info, err := d.Info(at.part, at.key)
	if err != nil {
		panic(err)
	}
	switch random.IntN(6) {
	case 0:
		for _, one := range d.Chambers {
			if random.IntN(2) == 0 {
				name := fmt.Sprint(one.Name, random.IntN(9))
				return fmt.Sprint("rename ", one.Name, name, d.Rename(one.Name, name))
			}
		}
	case 1:
		if !info.Required && len(info.Name) > 0 && !strings.Contains(at.key, ".") {
			return fmt.Sprint("clear ", at, d.SetText(at.part, at.key, ""))
		}
	case 2:
		name := fmt.Sprint("added", random.IntN(1000))
		if d.AddBlock("leak", name) == nil {
			return fmt.Sprint("add ", name, setAll(d, name, "from", "outside", "to", "chamber."+d.Chambers[0].Name, "resistance", "1e4 Pa*s/m3"))
		}
	case 3:
		for _, l := range d.Lines {
			random.Shuffle(len(l.Sections), func(i, j int) { l.Sections[i], l.Sections[j] = l.Sections[j], l.Sections[i] })
			d.Tolerances = nil
			return "shuffle sections"
		}
	case 4:
		for _, one := range slices.Concat(d.Leaks) {
			if random.IntN(2) == 0 {
				return fmt.Sprint("remove ", one.Name, d.RemoveBlock(one.Name))
			}
		}
	}
	q, _ := d.Value(at.part, at.key, at.index)
	to := min(info.Max, max(info.Min, q.SI*(0.5+random.Float64())))
	if info.Whole {
		to = info.Min
	}
	return fmt.Sprint("set ", at, to, d.Set(at.part, at.key, at.index, to))
}
