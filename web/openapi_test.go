package web

import (
	"bytes"
	"encoding/json"
	"flag"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"ocarina/internal/need"
)

var update = flag.Bool("update", false, "write the files that tests compare with")

// The page's client is generated from ui/openapi.json, so that file has to be
// what the server says of itself.
func TestOpenAPIFileIsUpToDate(t *testing.T) {
	b, _ := bench(t, nil)
	w := call(t, b, "GET", "/api/openapi.json", nil, nil)
	if w.Code != http.StatusOK {
		t.Fatal(w.Code, w.Body)
	}
	var now bytes.Buffer
	if err := json.Indent(&now, bytes.TrimSpace(w.Body.Bytes()), "", " "); err != nil {
		t.Fatal(err)
	}
	now.WriteByte('\n')
	const file = "ui/openapi.json"
	if *update {
		if err := os.WriteFile(file, now.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(kept, now.Bytes()) {
		t.Errorf("%s is not what the server says of itself: go test ./web -run OpenAPI -update, then npm run client in web/ui", file)
	}
}

// The types the page is checked against are those generated from that file.
func TestClientTypesAreUpToDate(t *testing.T) {
	node := need.Program(t, "node")
	const tool = "ui/node_modules/openapi-typescript/bin/cli.js"
	need.File(t, tool, "make ui makes it")
	fresh := filepath.Join(t.TempDir(), "schema.ts")
	if out, err := exec.Command(node, tool, "ui/openapi.json", "-o", fresh).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	now, err := os.ReadFile(fresh)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile("ui/src/api/schema.ts")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(now, kept) {
		t.Error("ui/src/api/schema.ts is not what ui/openapi.json makes: npm run client in web/ui")
	}
}
