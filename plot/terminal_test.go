package plot

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// plain checks that text is no wider than a terminal and holds nothing that
// would drive it.
func plain(t testing.TB, text string, width int, ascii bool) {
	t.Helper()
	for _, line := range strings.Split(text, "\n") {
		if n := cells(line); n > width {
			t.Errorf("%d columns: %q", n, line)
		}
		for _, r := range line {
			if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || ascii && r > '~' {
				t.Errorf("%q in %q", r, line)
			}
		}
	}
}

func TestTerminalGolden(t *testing.T) {
	for _, name := range []string{"whole", "narrow", "compare", "ladder", "crowded", "odd"} {
		for _, braille := range []bool{true, false} {
			var b bytes.Buffer
			if err := samples()[name].Terminal(&b, 78, 10, braille); err != nil {
				t.Fatal(err)
			}
			plain(t, b.String(), 78, !braille)
			file := filepath.Join("testdata", name+".txt")
			if !braille {
				file = filepath.Join("testdata", name+".ascii.txt")
			}
			if *update {
				if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				continue
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(string(want), b.String()); d != "" {
				t.Errorf("%s differs (-update rewrites it):\n%s", file, d)
			}
		}
	}
}

func TestTerminalAnyWidth(t *testing.T) {
	for name, s := range samples() {
		for _, width := range []int{-5, 0, 30, 31, 47, 120, 400, 5000} {
			for _, braille := range []bool{true, false} {
				var b bytes.Buffer
				if err := s.Terminal(&b, width, width/8, braille); err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				plain(t, b.String(), min(max(width, 30), 400), !braille)
			}
		}
	}
}

// A straight line from corner to corner fills the diagonal of dots: one dot
// in each of the eight places of a braille cell, in turn.
func TestBrailleDots(t *testing.T) {
	s := &screen{terminal: &terminal{rows: 1, cols: 1, unicode: true}, dots: [][]uint8{{0}}, glyph: [][]rune{{0}}}
	// The Unicode standard numbers the dots 1-2-3-7 down the left column and
	// 4-5-6-8 down the right one; dot n is bit n−1 above U+2800.
	want := [2][4]rune{{'⠁', '⠂', '⠄', '⡀'}, {'⠈', '⠐', '⠠', '⢀'}}
	for x := range 2 {
		for y := range 4 {
			s.dots[0][0] = 0
			s.dot(point{float64(x), float64(y)})
			if got := s.show(0, 0); got != want[x][y] {
				t.Errorf("dot %d,%d is %c, want %c", x, y, got, want[x][y])
			}
		}
	}
}

type brokenPipe struct{}

var errPipe = errors.New("pipe closed")

func (brokenPipe) Write([]byte) (int, error) { return 0, errPipe }

func TestWriteErrorsAreTold(t *testing.T) {
	s := samples()["ladder"]
	for name, err := range map[string]error{
		"svg": s.SVG(brokenPipe{}), "png": s.PNG(brokenPipe{}, 1), "pdf": s.PDF(brokenPipe{}), "terminal": s.Terminal(brokenPipe{}, 80, 10, true),
	} {
		if !errors.Is(err, errPipe) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
