package design

import (
	"bytes"
	"fmt"
	"maps"
	"strings"
	"unicode/utf8"

	"github.com/hashicorp/hcl/v2"
)

// Limits of a design file.
const (
	MaxFileSize  = 1 << 20 // bytes
	MaxNesting   = 64      // brackets, blocks, templates and operators within each other
	MaxParts     = 200     // named parts; and as many sections, and as many filters
	MaxTones     = 1000
	MaxFrequency = 20e3 // Hz, of a tone
	MinFrequency = 0.1  // Hz
)

// Form is how a design file is written.
type Form int

const (
	Native Form = iota // HCL's own syntax, NAME.hcl
	JSON               // HCL's JSON form, NAME.hcl.json
)

// FormOf tells the form by the file's name: JSON if it ends in ".json".
func FormOf(filename string) Form {
	if strings.HasSuffix(strings.ToLower(filename), ".json") {
		return JSON
	}
	return Native
}

// Source is the file a design was read from. It is never changed.
type Source struct {
	Filename string
	Form     Form
	Bytes    []byte

	beside map[string][]byte // driver files read with it, by name in messages
	files  map[string][]byte // the same by name in the file
}

// Texts returns the files behind a design by the names that diagnostics use, as
// WriteDiagnostics takes them.
func (s *Source) Texts() map[string][]byte {
	texts := map[string][]byte{s.Filename: s.Bytes}
	maps.Copy(texts, s.beside)
	return texts
}

// refused returns what is wrong with the file as a whole, before any parsing.
func (s *Source) refused() *hcl.Diagnostic {
	if len(s.Bytes) > MaxFileSize {
		return wrong("File too large", s.start(),
			"Found more than %d bytes; wanted at most that (1 MiB).", MaxFileSize)
	}
	if !utf8.Valid(s.Bytes) {
		return s.invalidText()
	}
	if s.Form == JSON {
		return s.deepJSON()
	}
	return s.deepNative()
}

func (s *Source) invalidText() *hcl.Diagnostic {
	i := 0
	for i < len(s.Bytes) {
		r, n := utf8.DecodeRune(s.Bytes[i:])
		if r == utf8.RuneError && n == 1 {
			break
		}
		i += n
	}
	return wrong("Not UTF-8 text", s.span(i, i+1),
		"Found the byte 0x%02x; wanted text in UTF-8.", s.Bytes[i])
}

// start is the range of a message about the whole file.
func (s *Source) start() hcl.Range {
	return hcl.Range{Filename: s.Filename, Start: hcl.InitialPos, End: hcl.InitialPos}
}

// span makes a range of byte offsets; columns count characters.
func (s *Source) span(from, to int) hcl.Range {
	return hcl.Range{Filename: s.Filename, Start: s.position(from), End: s.position(to)}
}

func (s *Source) position(at int) hcl.Pos {
	before := s.Bytes[:min(at, len(s.Bytes))]
	line := bytes.LastIndexByte(before, '\n') + 1
	return hcl.Pos{
		Byte:   at,
		Line:   bytes.Count(before, []byte{'\n'}) + 1,
		Column: utf8.RuneCount(before[line:]) + 1,
	}
}

// text returns the bytes of a range in this file, or "".
func (s *Source) text(rng hcl.Range) string {
	if rng.Filename != s.Filename || !rng.CanSliceBytes(s.Bytes) {
		return ""
	}
	return string(rng.SliceBytes(s.Bytes))
}

func tooDeep(rng hcl.Range) *hcl.Diagnostic {
	return wrong("Nested too deeply", rng,
		"Found more than %d levels of brackets, blocks or operators within each other; wanted a design file, which needs four.", MaxNesting)
}

// wrong makes an error.
func wrong(summary string, at hcl.Range, detail string, args ...any) *hcl.Diagnostic {
	return &hcl.Diagnostic{
		Severity: hcl.DiagError,
		Summary:  summary,
		Detail:   fmt.Sprintf(detail, args...),
		Subject:  &at,
	}
}
