package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/response"
)

func asked(text string, edits ...Edit) map[string]any {
	return map[string]any{"name": "dunlin.hcl", "text": text, "edits": edits, "points": 50, "cursor_hz": 112, "explain": true}
}

// What the page is told is what the engine says, at every point.
func TestBenchTellsWhatPredictSays(t *testing.T) {
	b, _ := bench(t, nil)
	text := sample(t, "dunlin.hcl")
	var got Result
	if w := call(t, b, "POST", "/api/bench", asked(text), &got); w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	d, _ := design.Parse([]byte(text), "dunlin.hcl")
	m, _ := design.Build(d)
	want, err := response.Predict(m, got.Curves.Frequency)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(got.Curves.Impedance, want.Impedance) || !slices.Equal(got.Curves.Level, want.Level) {
		t.Error("the curves differ")
	}
	at, err := response.Predict(m, []float64{112})
	if err != nil {
		t.Fatal(err)
	}
	same := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	same("impedance", got.Moment.Impedance.Size, at.Impedance[0])
	same("level", *got.Moment.Level, at.Level[0])
	same("delay", *got.Moment.GroupDelay, at.GroupDelay[0])
	same("travel", got.Moment.Cones["cone"].Size, at.Mounts["cone"].Excursion[0])
	same("pressure", got.Moment.Chambers["far"].Size, at.Chambers["far"].Pressure[0])
	for name, curve := range at.Ports {
		fastest := 0.0
		for _, s := range got.Moment.Ducts[name] {
			fastest = math.Max(fastest, s.Speed.Size)
		}
		same("air in "+name, fastest, curve.Speed[0])
	}
	// Travel and speed are one motion.
	for name, list := range got.Moment.Ducts {
		for _, s := range list {
			same("speed of "+name, s.Speed.Size, s.Travel.Size*1e-3*2*math.Pi*112)
		}
	}
}

func TestEdits(t *testing.T) {
	b, _ := bench(t, nil)
	commented := "# kept\n" + strings.Replace(sample(t, "dunlin.hcl"), `length   = "30 mm"`, `length   = "30 mm" # cut last`, 1)
	for _, c := range []struct {
		name  string
		edits []Edit
		want  []string // in the text
		not   []string
	}{
		{"a length", []Edit{{Op: "set", Part: "inner", Key: "length", Value: "31.5 mm"}}, []string{`"31.5 mm" # cut last`, "# kept"}, nil},
		{"in another unit", []Edit{{Op: "set", Part: "near", Key: "volume", Value: "58 in3"}}, []string{`"58 in3"`}, nil},
		{"a bare number takes the file's unit", []Edit{{Op: "set", Part: "inner", Key: "length", Value: "3"}}, []string{`"3 mm"`}, nil},
		{"one side of a size", []Edit{{Op: "set", Part: "far", Key: "size", Index: 1, Value: "141 mm"}}, []string{`["110 mm", "141 mm", "150 mm"]`}, nil},
		{"a plain number", []Edit{{Op: "set", Part: "small", Key: "qms", Value: "4.5"}}, []string{"qms   = 4.5"}, nil},
		{"the drive", []Edit{{Op: "set", Part: "drive", Key: "voltage", Value: "4 V"}}, []string{`drive { voltage = "4 V" }`}, nil},
		{"a new chamber with a port", []Edit{
			{Op: "add", Key: "chamber", Part: "third"},
			{Op: "add", Key: "port", Part: "pipe", Value: "chamber.far", Other: "chamber.third"},
		}, []string{`chamber "third"`, `port "pipe"`, "chamber.third"}, nil},
		{"a line", []Edit{{Op: "add", Key: "line", Part: "tail", Value: "chamber.far", Other: "closed"}}, []string{`line "tail"`, "closed"}, nil},
		{"a driver and its mount", []Edit{
			{Op: "add", Key: "driver", Part: "second"},
			{Op: "add", Key: "mount", Part: "cone2", Value: "chamber.far", Other: "outside"},
		}, []string{`driver "second"`, `mount "cone2"`}, nil},
		{"a passive", []Edit{{Op: "add", Key: "passive", Part: "drone", Value: "chamber.far", Other: "outside"}}, []string{`passive "drone"`}, nil},
		{"a leak", []Edit{{Op: "add", Key: "leak", Part: "crack", Value: "chamber.far", Other: "outside"}}, []string{`leak "crack"`}, nil},
		{"joined elsewhere", []Edit{{Op: "join", Part: "mouth", Key: "from", Value: "chamber.near"}}, []string{"chamber.near"}, nil},
		{"another name everywhere", []Edit{{Op: "rename", Part: "near", Value: "front"}}, []string{`chamber "front"`, "rear   = chamber.front"}, []string{"chamber.near"}},
		{"a chamber taken away opens what it joined", []Edit{{Op: "remove", Part: "far"}}, []string{"to       = outside"}, []string{`chamber "far"`, `port "mouth"`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got Result
			w := call(t, b, "POST", "/api/bench", asked(commented, c.edits...), &got)
			if w.Code != 200 || got.Refused != "" || got.Outline == nil {
				t.Fatalf("%d %s %+v\n%s", w.Code, got.Refused, got.Problems, got.Text)
			}
			for _, want := range append(c.want, "# kept") {
				if !strings.Contains(got.Text, want) {
					t.Errorf("the text lacks %q:\n%s", want, got.Text)
				}
			}
			for _, not := range c.not {
				if strings.Contains(got.Text, not) {
					t.Errorf("the text still has %q:\n%s", not, got.Text)
				}
			}
		})
	}
}

func TestEditsThatCannotBe(t *testing.T) {
	b, _ := bench(t, nil)
	text := sample(t, "dunlin.hcl")
	for name, e := range map[string]Edit{
		"wrong dimension": {Op: "set", Part: "near", Key: "volume", Value: "5 kg"},
		"out of range":    {Op: "set", Part: "inner", Key: "length", Value: "1e9 m"},
		"no part":         {Op: "set", Part: "nobody", Key: "length", Value: "1 mm"},
		"no key":          {Op: "set", Part: "near", Key: "colour", Value: "1 mm"},
		"no value":        {Op: "set", Part: "far", Key: "size", Index: 7, Value: "1 mm"},
		"a taken name":    {Op: "add", Part: "near", Key: "chamber"},
		"no name":         {Op: "add", Part: "<b>", Key: "chamber"},
		"no kind":         {Op: "add", Part: "x", Key: "engine"},
		"nobody":          {Op: "remove", Part: "nobody"},
	} {
		t.Run(name, func(t *testing.T) {
			var got Result
			w := call(t, b, "POST", "/api/bench", asked(text, Edit{Op: "set", Part: "inner", Key: "length", Value: "33 mm"}, e), &got)
			if w.Code != 200 {
				t.Fatal(w.Code, w.Body)
			}
			if got.Refused == "" {
				t.Errorf("was done:\n%s", got.Text)
			}
			if got.Text != text {
				t.Error("half of the edits were done")
			}
		})
	}
}

func TestProblemsSayWhere(t *testing.T) {
	b, _ := bench(t, nil)
	text := strings.Replace(sample(t, "dunlin.hcl"), `"36 mm"`, `"36 kg"`, 1)
	var got Result
	call(t, b, "POST", "/api/bench", asked(text), &got)
	if len(got.Problems) != 1 || got.Outline != nil {
		t.Fatalf("%+v", got)
	}
	p := got.Problems[0]
	line := strings.Split(text, "\n")[p.Line-1]
	if !strings.Contains(line, "36 kg") || !strings.Contains(line[p.Column-1:p.EndColumn-1], "36 kg") {
		t.Errorf("%+v in %q", p, line)
	}
}

// A random body is refused or answered, whatever it holds; nothing breaks.
func TestRandomBodies(t *testing.T) {
	const seed = 20260611
	random := rand.New(rand.NewPCG(seed, 1))
	b, _ := bench(t, map[string]string{"a.hcl": sample(t, "dunlin.hcl")})
	var broke bytes.Buffer
	faults.SetOutput(&broke)
	routes := [][2]string{
		{"POST", "/api/bench"}, {"POST", "/api/moment"}, {"PUT", "/api/designs/a.hcl"}, {"POST", "/api/match"},
		{"POST", "/api/sweep?name=x.csv"}, {"POST", "/api/report?format=html"}, {"POST", "/api/plot?format=svg"},
	}
	text := sample(t, "dunlin.hcl")
	for n := range 1000 {
		route := routes[random.IntN(len(routes))]
		body := randomBody(random, text)
		r := httptest.NewRequest(route[0], here+route[1], strings.NewReader(body))
		r.Header.Set("Content-Type", []string{"application/json", "application/octet-stream", "text/plain", ""}[random.IntN(4)])
		w := httptest.NewRecorder()
		b.ServeHTTP(w, r)
		if w.Code >= 500 {
			t.Fatalf("seed %d, body %d to %s: %d %s\n%s\n%s", seed, n, route[1], w.Code, w.Body, body, broke.String())
		}
		if w.Code == 200 && strings.HasPrefix(w.Header().Get("Content-Type"), "application/json") && !json.Valid(w.Body.Bytes()) {
			t.Fatalf("seed %d, body %d: the answer is no JSON", seed, n)
		}
	}
	if broke.Len() > 0 {
		t.Errorf("seed %d: %s", seed, broke.String())
	}
}

// randomBody makes JSON that looks like a request more often than not, with
// wild values, or noise.
func randomBody(random *rand.Rand, text string) string {
	if random.IntN(6) == 0 {
		noise := make([]byte, random.IntN(300))
		for i := range noise {
			noise[i] = byte(random.Uint32())
		}
		return string(noise)
	}
	wild := func() any {
		switch random.IntN(9) {
		case 0:
			return nil
		case 1:
			return random.NormFloat64() * math.Pow(10, float64(random.IntN(40)-20))
		case 2:
			return random.IntN(2000) - 1000
		case 3:
			return strings.Repeat("ü<&\x00", random.IntN(50))
		case 4:
			return []any{1, "a", nil}
		case 5:
			return map[string]any{"a": 1}
		case 6:
			return random.IntN(2) == 0
		case 7:
			return "chamber.near"
		}
		return []float64{10, 20, 30, random.Float64() * 1000}
	}
	cut := []byte(text)
	for range random.IntN(4) {
		i := random.IntN(len(cut))
		switch random.IntN(3) {
		case 0:
			cut = append(cut[:i:i], cut[min(len(cut), i+random.IntN(40)):]...)
		case 1:
			cut[i] = byte(random.Uint32())
		default:
			cut = slices.Insert(cut, i, []byte("9e9")...)
		}
		if len(cut) == 0 {
			cut = []byte("x")
		}
	}
	body := map[string]any{"name": "a.hcl", "text": strings.ToValidUTF8(string(cut), "?")}
	for _, key := range []string{"name", "text", "edits", "from_hz", "to_hz", "points", "cursor_hz", "inches", "explain", "sweep", "version", "free"} {
		if random.IntN(5) == 0 {
			body[key] = wild()
		}
	}
	if random.IntN(3) == 0 {
		ops := []string{"set", "add", "remove", "rename", "join", "burn"}
		kinds := []string{"chamber", "port", "line", "mount", "passive", "leak", "driver", "air", "drive", "listen", "tolerance", "", "section"}
		list := []any{}
		for range random.IntN(4) {
			list = append(list, map[string]any{
				"op": ops[random.IntN(len(ops))], "part": []string{"near", "far", "inner", "cone", "small", "drive", "x", "", "a b"}[random.IntN(9)],
				"key": append(kinds, "length", "size", "volume", "from")[random.IntN(len(kinds)+4)], "index": random.IntN(5),
				"value": fmt.Sprint(wild()), "other": "outside",
			})
		}
		body["edits"] = list
	}
	if random.IntN(4) == 0 {
		body["sweep"] = map[string]any{"name": "s", "frequency_hz": wild(), "impedance_ohm": wild()}
	}
	raw, err := json.Marshal(body)
	if err != nil {
		return "{"
	}
	if random.IntN(10) == 0 {
		return string(raw[:random.IntN(len(raw)+1)])
	}
	return string(raw)
}

// A name that is markup stays text in every form.
func TestMarkupStaysText(t *testing.T) {
	b, _ := bench(t, nil)
	text := strings.Replace(sample(t, "dunlin.hcl"), `"Dunlin"`, `"<script>alert(1)</script>"`, 1)
	for _, path := range []string{"/api/report?format=html", "/api/plot?format=svg"} {
		w := call(t, b, "POST", path, Text{"a.hcl", text}, nil)
		if w.Code != 200 {
			t.Fatal(path, w.Code, w.Body)
		}
		if strings.Contains(w.Body.String(), "<script>") {
			t.Errorf("%s holds markup of the design", path)
		}
		if !strings.HasPrefix(w.Header().Get("Content-Disposition"), "attachment") {
			t.Errorf("%s is shown in place: %v", path, w.Header())
		}
	}
}

func BenchmarkBench(tb *testing.B) {
	b, _ := bench(tb, nil)
	text := sample(tb, "dunlin.hcl")
	for n := 0; tb.Loop(); n++ {
		call(tb, b, "POST", "/api/bench", map[string]any{
			"name": "dunlin.hcl", "text": text,
			"edits":  []Edit{{Op: "set", Part: "inner", Key: "length", Value: short(30+float64(n%1000)/100) + " mm"}},
			"points": 500, "cursor_hz": 112, "explain": true,
		}, nil)
	}
}
