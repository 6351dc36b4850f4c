package web

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"ocarina/design"
	"ocarina/response"
)

// measuredBox is a sweep of the sample with one length changed.
func measuredBox(t testing.TB, old, new string) Measured {
	t.Helper()
	d, diags := design.Parse([]byte(strings.Replace(sample(t, "dunlin.hcl"), old, new, 1)), "made.hcl")
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
	return Measured{Name: "box", Frequency: p.Frequency, Magnitude: p.Impedance, Phase: p.ImpedancePhase}
}

func matchBody(t testing.TB, m Measured) []byte {
	t.Helper()
	raw, err := json.Marshal(map[string]any{"name": "dunlin.hcl", "text": sample(t, "dunlin.hcl"), "sweep": m})
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func TestMatchTellsItsStepsAndCorrects(t *testing.T) {
	b, _ := bench(t, nil)
	r := httptest.NewRequest("POST", here+"/api/match", bytes.NewReader(matchBody(t, measuredBox(t, `"70 mm"`, `"80 mm"`))))
	r.Header.Set("Content-Type", "application/json")
	w := httptest.NewRecorder()
	b.ServeHTTP(w, r)
	steps := strings.Count(w.Body.String(), "event: step\n")
	if steps < 2 {
		t.Errorf("%d steps told", steps)
	}
	_, last, found := strings.Cut(w.Body.String(), "event: done\ndata: ")
	if !found {
		t.Fatalf("no end: %.600s", w.Body)
	}
	var done MatchDone
	if err := json.Unmarshal([]byte(last), &done); err != nil {
		t.Fatal(err)
	}
	if done.Result.Residual.Fitted > done.Result.Residual.Drawn/4 {
		t.Errorf("from %v to %v dB", done.Result.Residual.Drawn, done.Result.Residual.Fitted)
	}
	d, diags := design.Parse([]byte(done.Corrected), "dunlin.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	if length := d.Ports[1].Length.SI; length < 0.074 || length > 0.086 {
		t.Errorf("mouth comes out %v m long, was made 0.08", length)
	}
}

// A match whose client goes away ends, and frees its place.
func TestMatchEndsWithItsClient(t *testing.T) {
	server := httptest.NewUnstartedServer(nil)
	b, err := Handler(Options{Dir: t.TempDir(), Addr: server.Listener.Addr().String()})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	server.Config.Handler = b
	server.Start()
	defer server.Close()
	body := matchBody(t, measuredBox(t, `"30 mm"`, `"44 mm"`))
	first := func(ctx context.Context) string {
		t.Helper()
		r, err := http.NewRequestWithContext(ctx, "POST", server.URL+"/api/match", bytes.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		line, err := bufio.NewReader(answer.Body).ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		return line
	}
	for range 3 {
		ctx, cancel := context.WithCancel(context.Background())
		if line := first(ctx); !strings.Contains(line, "step") {
			t.Errorf("began with %q", line)
		}
		cancel()
	}
	server.CloseClientConnections()
	// Every place is free again, with nobody reading what the matches say.
	for range maxMatches {
		select {
		case b.api.matching <- struct{}{}:
		case <-time.After(20 * time.Second):
			t.Fatal("a match goes on without its client")
		}
	}
	if line := first(context.Background()); !strings.Contains(line, "fault") {
		t.Errorf("one too many began with %q", line)
	}
	<-b.api.matching
	if line := first(context.Background()); !strings.Contains(line, "step") {
		t.Errorf("with a place free: %q", line)
	}
}

func TestSweepIsRead(t *testing.T) {
	b, _ := bench(t, nil)
	post := func(query, content string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", here+"/api/sweep?"+query, strings.NewReader(content))
		r.Header.Set("Content-Type", "application/octet-stream")
		w := httptest.NewRecorder()
		b.ServeHTTP(w, r)
		return w
	}
	w := post("name=box.csv", "frequency,|Z|,phase\n10,4,0\n20,9,45\n40,5,-30\n80,4,0\n")
	var got SweepRead
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != 200 {
		t.Fatal(w.Code, w.Body)
	}
	if len(got.Frequency) != 4 || got.Magnitude[1] != 9 || got.Phase[1] < 44.99 || got.Phase[1] > 45.01 || got.Name != "box.csv" {
		t.Errorf("%+v", got)
	}
	w = post("name=box.csv", "frequency,|Z|\n10,4\n20,oops\n30,-5\n")
	if w.Code != 422 || !strings.Contains(w.Body.String(), "box.csv:3") || !strings.Contains(w.Body.String(), "box.csv:4") {
		t.Errorf("all faults with their lines: %d %s", w.Code, w.Body)
	}
	w = post("name=touch.s1p", "# Hz Z RI R 1\n10 4 0\n20 5 1\n30 6 1\n")
	if w.Code != 200 {
		t.Errorf("Touchstone: %d %s", w.Code, w.Body)
	}
}
