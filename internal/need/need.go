// Package need says which system programs a test needs.
//
// A plain `go test` skips what a bare machine cannot run, with one line each;
// `make test` installs the programs first and sets OCARINA_TEST_ALL so that
// nothing is skipped in silence.
package need

import (
	"os"
	"os/exec"
	"testing"
)

// Program returns the path of the named program. Where it is missing the test
// is skipped, or fails if OCARINA_TEST_ALL is set.
func Program(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("OCARINA_TEST_ALL") != "" {
		t.Fatalf("%s is not installed: make test installs it", name)
	}
	t.Skipf("%s is not installed: make test runs this", name)
	return ""
}
