package web

import (
	"bytes"
	"encoding/json"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func demo(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("../demo", name))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// plain is JSON as anything, to hold two answers against each other.
func plain(t testing.TB, raw []byte) any {
	t.Helper()
	var v any
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatalf("%v: %.200s", err, raw)
	}
	return v
}

// The page's ladder is the command's, number by number.
func TestLadderIsTheCommands(t *testing.T) {
	b, _ := bench(t, nil)
	for _, c := range []struct {
		name string
		args []string
		ask  map[string]any
	}{
		{"dunlin.hcl", nil, nil},
		{"curlew.hcl", []string{"--at", "120", "--drives", "1,2,6", "--clean", "1", "--seconds", "600"},
			map[string]any{"tones_hz": []float64{120}, "drives_v": []float64{1, 2, 6}, "clean_thd_f": 0.01, "seconds": 600}},
		{"avocet.hcl", []string{"--steps", "7"}, map[string]any{"steps": 7}},
	} {
		want := plain(t, command(t, append([]string{"tones", "../demo/" + c.name, "--json"}, c.args...)...))
		ask := map[string]any{"name": c.name, "text": string(demo(t, c.name))}
		for k, v := range c.ask {
			ask[k] = v
		}
		w := call(t, b, "POST", "/api/ladder", ask, nil)
		if w.Code != http.StatusOK {
			t.Fatal(w.Code, w.Body)
		}
		if d := cmp.Diff(want, plain(t, w.Body.Bytes())); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
}

// What moves in the drawing is a step of that ladder, with its waveforms.
func TestDrivenIsAStepOfTheLadder(t *testing.T) {
	b, _ := bench(t, nil)
	text := string(demo(t, "dunlin.hcl"))
	var got struct {
		Step map[string]any `json:"step"`
		Lost *float64       `json:"lost_above_v"`
	}
	ask := map[string]any{"name": "dunlin.hcl", "text": text, "tone_hz": 144, "drives_v": []float64{1, 3, 9}, "points": 48}
	if w := call(t, b, "POST", "/api/driven", ask, &got); w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	l := plain(t, command(t, "tones", "../demo/dunlin.hcl", "--json", "--at", "144", "--drives", "1,3,9", "--waveform", "48")).(map[string]any)
	steps := l["tones"].([]any)[0].(map[string]any)["steps"].([]any)
	if d := cmp.Diff(steps[2], any(got.Step)); d != "" || len(got.Step["waveform_pa"].([]any)) != 48 {
		t.Error(d)
	}
	for want, ask := range map[string]map[string]any{
		"ascending":  {"name": "dunlin.hcl", "text": text, "tone_hz": 144, "drives_v": []float64{3, 1}, "points": 48},
		"from 0.1":   {"name": "dunlin.hcl", "text": text, "tone_hz": 90000, "drives_v": []float64{3}, "points": 48},
		"has errors": {"name": "dunlin.hcl", "text": text + "}", "tone_hz": 144, "drives_v": []float64{3}, "points": 48},
		"drives_v":   {"name": "dunlin.hcl", "text": text, "tone_hz": 144, "drives_v": []float64{}, "points": 48},
	} {
		if w := call(t, b, "POST", "/api/driven", ask, nil); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d %s", want, w.Code, w.Body)
		}
	}
}

// upload sends files as a form would.
func upload(t testing.TB, h http.Handler, query string, files map[string][]byte) *httptest.ResponseRecorder {
	t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for field, raw := range files {
		part, err := form.CreateFormFile(field, field+".file")
		if err != nil {
			t.Fatal(err)
		}
		part.Write(raw)
	}
	form.Close()
	r := httptest.NewRequest("POST", here+"/api/recording"+query, &body)
	r.Header.Set("Content-Type", form.FormDataContentType())
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// A recording read and compared on the page gives the command's numbers.
func TestRecordingIsTheCommands(t *testing.T) {
	b, _ := bench(t, nil)
	w := upload(t, b, "", map[string][]byte{"recording": demo(t, "recordings/dunlin-recorded.wav"), "plan": demo(t, "recordings/dunlin.json")})
	if w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	var read struct {
		Plan   string          `json:"plan"`
		Driven bool            `json:"driven"`
		Report json.RawMessage `json:"report"`
	}
	if err := json.Unmarshal(w.Body.Bytes(), &read); err != nil {
		t.Fatal(err)
	}
	if read.Plan != "Dunlin" || !read.Driven {
		t.Errorf("plan %q, driven %v", read.Plan, read.Driven)
	}
	w = call(t, b, "POST", "/api/beside", map[string]any{"name": "dunlin.hcl", "text": string(demo(t, "dunlin.hcl")), "report": read.Report}, nil)
	if w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	got := plain(t, w.Body.Bytes()).(map[string]any)
	want := plain(t, command(t, "tones", "read", "../demo/recordings/dunlin-recorded.wav", "--plan", "../demo/recordings/dunlin.json", "--design", "../demo/dunlin.hcl", "--json")).(map[string]any)
	if d := cmp.Diff(want["recording"], plain(t, read.Report)); d != "" {
		t.Errorf("recording: %s", d)
	}
	if d := cmp.Diff(want["beside"], got["comparison"]); d != "" {
		t.Errorf("beside: %s", d)
	}
	tones := got["ladder"].(map[string]any)["tones"].([]any)
	if len(tones) != 2 || len(tones[0].(map[string]any)["steps"].([]any)) != 5 {
		t.Errorf("%d tones in the ladder", len(tones))
	}
}

func TestRecordingsThatCannotBeRead(t *testing.T) {
	b, _ := bench(t, nil)
	good, plan := demo(t, "recordings/dunlin-recorded.wav"), demo(t, "recordings/dunlin.json")
	for want, files := range map[string]map[string][]byte{
		"recording.file":            {"recording": []byte("RIFF no")},
		"plan.file: ":               {"recording": good, "plan": []byte("{}")},
		"no plan of a":              {"recording": good, "plan": good[:400]},
		"File required":             {"plan": plan},
		"recording.file: truncated": {"recording": good[:44]},
	} {
		if w := upload(t, b, "", files); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d %s", want, w.Code, w.Body)
		}
	}
	// Without a plan the drives are not known, and there is nothing to compare.
	w := upload(t, b, "", map[string][]byte{"recording": good})
	var read RecordingRead
	if err := json.Unmarshal(w.Body.Bytes(), &read); err != nil || read.Driven || len(read.Report.Tones) != 2 {
		t.Fatalf("%v, %+v", err, read)
	}
	text := string(demo(t, "dunlin.hcl"))
	whole := func(change func(map[string]any)) map[string]any {
		raw, _ := json.Marshal(read.Report)
		r := plain(t, raw).(map[string]any)
		change(r)
		return map[string]any{"name": "dunlin.hcl", "text": text, "report": r}
	}
	tone := func(r map[string]any) map[string]any { return r["tones"].([]any)[0].(map[string]any) }
	for want, change := range map[string]func(map[string]any){
		"drives are known": func(map[string]any) {},
		"not one of a":     func(r map[string]any) { r["tones"] = 7 },
		"found a tone of": func(r map[string]any) {
			tone(r)["frequency_hz"], tone(r)["steps"].([]any)[0].(map[string]any)["drive_db"] = -5, 3
		},
		"found a drive of": func(r map[string]any) { tone(r)["steps"].([]any)[0].(map[string]any)["drive_db"] = 1e7 },
	} {
		if w := call(t, b, "POST", "/api/beside", whole(change), nil); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d %s", want, w.Code, w.Body)
		}
	}
	// Steps without harmonics, and harmonics of nothing, are no fault of the server.
	hollow := whole(func(r map[string]any) {
		for i, s := range tone(r)["steps"].([]any) {
			step := s.(map[string]any)
			step["drive_db"] = float64(i)
			if i == 0 {
				step["harmonics"] = []any{}
			} else {
				step["harmonics"] = []any{map[string]any{"level_db": 1}}
			}
		}
	})
	if w := call(t, b, "POST", "/api/beside", hollow, nil); w.Code != http.StatusOK {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

// The session the page plans is the one tones make writes, sound and all.
func TestSessionIsTheCommands(t *testing.T) {
	b, _ := bench(t, nil)
	dir := t.TempDir()
	name := filepath.Join(dir, "dunlin-tones")
	command(t, "tones", "make", "../demo/dunlin.hcl", "--out", name, "--steps", "4", "--span", "12", "--top", "6", "--reference", "5")
	var got Planned
	ask := map[string]any{"name": "dunlin.hcl", "text": string(demo(t, "dunlin.hcl")), "steps": 4, "span_db": 12, "top_v": 6, "reference_s": 5}
	if w := call(t, b, "POST", "/api/session", ask, &got); w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	w := call(t, b, "POST", "/api/sound", map[string]any{"plan": got.Plan}, nil)
	if w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Content-Disposition"), "dunlin-tones.wav") {
		t.Fatal(w.Code, w.Header())
	}
	for ending, content := range map[string]string{".txt": got.Sheet, ".json": got.Plan, ".wav": w.Body.String()} {
		want, err := os.ReadFile(name + ending)
		if err != nil {
			t.Fatal(err)
		}
		if string(want) != content {
			t.Errorf("%s differs: %d bytes, the command's %d", ending, len(content), len(want))
		}
	}
	for want, ask := range map[string]map[string]any{
		"bounds the drive": {"name": "a.hcl", "text": strings.NewReplacer(`xmax  = "2.6 mm"`, "", `power = "20 W"`, "").Replace(string(demo(t, "dunlin.hcl")))},
		"dB a second":      {"name": "a.hcl", "text": string(demo(t, "dunlin.hcl")), "ramp_s": 2},
		"has errors":       {"name": "a.hcl", "text": "driver"},
	} {
		if w := call(t, b, "POST", "/api/session", ask, nil); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d %s", want, w.Code, w.Body)
		}
	}
	for want, plan := range map[string]string{
		"no plan of a": "x",
		"too long":     strings.Replace(got.Plan, `"hold_s": 1.5`, `"hold_s": 100`, 1),
		"sample rate":  strings.Replace(got.Plan, `"rate_hz": 48000`, `"rate_hz": 1`, 1),
	} {
		if w := call(t, b, "POST", "/api/sound", map[string]any{"plan": plan}, nil); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%s: %d %.300s", want, w.Code, w.Body)
		}
	}
}
