// Package need says what a test needs from the machine besides Go.
//
// A plain `go test` skips what a bare machine cannot run, with one line each;
// `make test` installs it first and sets OCARINA_TEST_ALL so that nothing is
// skipped in silence.
package need

import (
	"os"
	"os/exec"
	"testing"
)

// Program returns the path of the named program.
func Program(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		missing(t, name+" is not installed", "make test installs it")
	}
	return path
}

// SciPy returns a Python that has SciPy.
func SciPy(t testing.TB) string {
	t.Helper()
	const python = "/usr/bin/python3" // the system's own, which Debian's packages serve
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		missing(t, "python3-scipy is not installed", "make test installs it")
	}
	return python
}

// File demands a file that a build leaves.
func File(t testing.TB, path, made string) {
	t.Helper()
	if _, err := os.Stat(path); err != nil {
		missing(t, path+" is missing", made)
	}
}

func missing(t testing.TB, what, cure string) {
	t.Helper()
	if os.Getenv("OCARINA_TEST_ALL") != "" {
		t.Fatalf("%s: %s", what, cure)
	}
	t.Skipf("%s: %s", what, cure)
}
