package web

import (
	"net/http"
	"testing"
)

func TestBenchEditsAndReads(t *testing.T) {
	b, _ := bench(t, nil)
	var got Result
	w := call(t, b, "POST", "/api/bench", map[string]any{
		"name": "dunlin.hcl", "text": sample(t, "dunlin.hcl"),
		"edits":  []Edit{{Op: "set", Part: "inner", Key: "length", Value: "31 mm"}},
		"points": 500, "cursor_hz": 112, "explain": true,
	}, &got)
	if w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	t.Logf("%+v", got.Outline)
	t.Logf("%+v", got.Moment)
	t.Log(got.Text)
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
