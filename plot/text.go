package plot

import (
	"math"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// clean makes a user's string fit to be drawn on one line: valid UTF-8, white
// space of any kind to single blanks, and no control, format (which could
// reverse the text around them), private-use or non-characters.
func clean(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == '\u200c' || r == '\u200d': // joiners: part of spelling in some scripts
			return r
		case unicode.In(r, unicode.C), r&0xfffe == 0xfffe, r >= 0xfdd0 && r <= 0xfdef:
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// metrics holds the advance of every rune met so far, in font units.
type metrics struct {
	mu      sync.Mutex
	font    *sfnt.Font
	perEm   float64
	buf     sfnt.Buffer
	advance map[rune]float64 // em
}

var (
	regular = sync.OnceValue(func() *metrics { return newMetrics(liberationsansregular.TTF) })
	bold    = sync.OnceValue(func() *metrics { return newMetrics(liberationsansbold.TTF) })
)

func newMetrics(ttf []byte) *metrics {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("plot: the embedded font does not parse: " + err.Error())
	}
	return &metrics{font: f, perEm: float64(f.UnitsPerEm()), advance: map[rune]float64{}}
}

// of returns the advance of r in em. A rune the font lacks counts one em, the
// width of an ideograph in the font a viewer will take instead.
func (m *metrics) of(r rune) float64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	if a, ok := m.advance[r]; ok {
		return a
	}
	a := 1.0
	if unicode.Is(unicode.Mn, r) {
		a = 0
	}
	if g, err := m.font.GlyphIndex(&m.buf, r); err == nil && g != 0 {
		ppem := fixed.Int26_6(m.font.UnitsPerEm()) << 6
		if adv, err := m.font.GlyphAdvance(&m.buf, g, ppem, font.HintingNone); err == nil {
			a = float64(adv) / 64 / m.perEm
		}
	}
	m.advance[r] = a
	return a
}

// has says whether the font has a glyph for r.
func (m *metrics) has(r rune) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	g, err := m.font.GlyphIndex(&m.buf, r)
	return err == nil && g != 0
}

// boxed puts an empty box for every letter the font lacks, where nothing at
// all would be drawn.
func boxed(s string) string {
	return strings.Map(func(r rune) rune {
		if regular().has(r) {
			return r
		}
		return '□'
	}, s)
}

// lettering is a font size in px with a weight.
type lettering struct {
	size float64
	bold bool
}

// width returns the length of s in px. The Liberation fonts share their
// metrics with Arial and Helvetica, which a viewer may take in their place.
func (l lettering) width(s string) float64 {
	m := regular()
	if l.bold {
		m = bold()
	}
	w := 0.0
	for _, r := range s {
		w += m.of(r)
	}
	return w * l.size
}

func (l lettering) ascent() float64  { return 0.75 * l.size }
func (l lettering) descent() float64 { return 0.22 * l.size }
func (l lettering) height() float64  { return l.ascent() + l.descent() }
func (l lettering) line() float64    { return 1.15 * l.size }

const ellipsis = "…"

// fit shortens s, with "…", to at most w px.
func (l lettering) fit(s string, w float64) string {
	if l.width(s) <= w {
		return s
	}
	w -= l.width(ellipsis)
	m := regular()
	if l.bold {
		m = bold()
	}
	end := 0
	for i, r := range s {
		w -= m.of(r) * l.size
		if w < 0 {
			break
		}
		end = i + utf8.RuneLen(r)
	}
	return strings.TrimRight(s[:end], " ,;:–-") + ellipsis
}

// wrap breaks s at blanks into at most n lines of at most w px; what remains
// is shortened. A word longer than a line is shortened too.
func (l lettering) wrap(s string, w float64, n int) []string {
	var lines []string
	words := strings.Fields(s)
	for len(words) > 0 {
		if len(lines) == n-1 {
			return append(lines, l.fit(strings.Join(words, " "), w))
		}
		k := 1
		for k < len(words) && l.width(strings.Join(words[:k+1], " ")) <= w {
			k++
		}
		lines = append(lines, l.fit(strings.Join(words[:k], " "), w))
		words = words[k:]
	}
	return lines
}

// halves breaks s at the blank that makes both lines nearest in width; b is
// empty if there is no blank.
func (l lettering) halves(s string) (a, b string) {
	least := math.Inf(1)
	for i, r := range s {
		if r != ' ' {
			continue
		}
		if w := max(l.width(s[:i]), l.width(s[i+1:])); w < least {
			a, b, least = s[:i], s[i+1:], w
		}
	}
	return a, b
}

// round2 rounds to a hundredth: finer than any eye and short in a file.
func round2(v float64) float64 { return math.Round(v*100) / 100 }
