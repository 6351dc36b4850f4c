// Package sweep holds measured impedance: it reads sweeps from text tables,
// Touchstone one-ports and two-channel recordings, cleans them, and finds
// their peaks and dips.
//
// It knows nothing about boxes: what a peak is belongs to others.
//
// What is done about doubtful data is the same for every kind of file:
//
//   - a row that cannot be read, a frequency below zero, |Z| of zero or less,
//     and anything that is not finite is a fault: an error that names file,
//     line and column, or, with Options.LeaveOut, a row left out and counted;
//   - frequencies out of order are put in order, equal frequencies become one
//     row, their mean, and a row at 0 Hz is dropped: each with a warning;
//   - what looks wrong but could be true (phase in radians, swapped columns,
//     negative resistance, a clipped recording) is a warning.
package sweep

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"strings"

	"ocarina/wav"
)

// A Sweep is an impedance measured over frequency. The slices have one length,
// two or more, and hold finite numbers.
type Sweep struct {
	Name      string    // where it came from
	Frequency []float64 // Hz, ascending, each once, above zero
	Magnitude []float64 // ohm, above zero
	Phase     []float64 // rad, within ±π; nil if unknown
	Coherence []float64 // 0 to 1: how far the recording supports each point; nil if unknown
	Error     []float64 // relative standard error of each |Z|, one sigma; nil if unknown

	Warnings []string // what was doubtful and what was done about it
	Skipped  int      // faulty rows, or frequencies without signal, left out
}

// Len is the number of points.
func (s *Sweep) Len() int { return len(s.Frequency) }

// Z is the complex impedance of point i in ohm; real if the phase is unknown.
func (s *Sweep) Z(i int) complex128 {
	if s.Phase == nil {
		return complex(s.Magnitude[i], 0)
	}
	return cmplx.Rect(s.Magnitude[i], s.Phase[i])
}

func (s *Sweep) warn(format string, args ...any) {
	s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...))
}

// Options say what a file does not.
type Options struct {
	// Header stands in for the header line of a text table: one name a
	// column, comma between, such as "frequency kHz, |Z|, phase rad". A dash
	// passes over a column. Empty: the file's own header, or else frequency,
	// |Z|, phase in degrees.
	Header string

	// LeaveOut leaves faulty rows out and counts them instead of failing.
	LeaveOut bool

	// Series is the known resistor between the two places a recording is
	// taken from, ohm. Recordings need it.
	Series float64

	// Calibration corrects a recording for the differences of its two
	// channels; nil for none.
	Calibration *Calibration

	// From and To bound the points taken from a recording, Hz; zero: what the
	// recording supports.
	From, To float64

	// PerOctave is the number of points per octave taken from a recording;
	// zero means 48.
	PerOctave int
}

// textLimit is the largest text file read, bytes: two million rows.
const textLimit = 64 << 20

// ReadFile reads the sweep at path; its content, not its name, tells the kind
// of file. Faults of the file are Faults or a *wav.Error.
func ReadFile(path string, opt Options) (*Sweep, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if st.IsDir() {
		return nil, whole(path, "this is a folder", "a file with a sweep")
	}
	var head [4]byte
	n, err := io.ReadFull(f, head[:])
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, err
	}
	if isRecording(head[:n], path) {
		f.Close()
		rec, err := wav.ReadFile(path)
		if err != nil {
			return nil, err
		}
		return FromRecording(rec, path, opt)
	}
	if st.Size() > textLimit {
		return nil, whole(path, fmt.Sprintf("a text file of %.3g MiB is too large", float64(st.Size())/(1<<20)),
			fmt.Sprintf("at most %d MiB", textLimit>>20))
	}
	b, err := io.ReadAll(io.MultiReader(bytes.NewReader(head[:n]), io.LimitReader(f, textLimit)))
	if err != nil {
		return nil, err
	}
	return readText(b, path, opt)
}

// Read reads a sweep held in memory, like ReadFile; name stands in messages.
func Read(b []byte, name string, opt Options) (*Sweep, error) {
	if isRecording(b, name) {
		rec, err := wav.Read(bytes.NewReader(b), name)
		if err != nil {
			return nil, err
		}
		return FromRecording(rec, name, opt)
	}
	if len(b) > textLimit {
		return nil, whole(name, fmt.Sprintf("a text file of %.3g MiB is too large", float64(len(b))/(1<<20)),
			fmt.Sprintf("at most %d MiB", textLimit>>20))
	}
	return readText(b, name, opt)
}

func isRecording(b []byte, name string) bool {
	for _, id := range []string{"RIFF", "RIFX", "RF64", "BW64"} {
		if bytes.HasPrefix(b, []byte(id)) {
			return true
		}
	}
	return strings.EqualFold(filepath.Ext(name), ".wav")
}

func readText(b []byte, name string, opt Options) (*Sweep, error) {
	text, err := decodeText(b, name)
	if err != nil {
		return nil, err
	}
	lines := splitLines(text)
	d := &data{name: name, lines: lines, leaveOut: opt.LeaveOut}
	if isTouchstone(lines, name) {
		err = d.readTouchstone()
	} else {
		err = d.readTable(opt.Header)
	}
	if err != nil {
		return nil, err
	}
	return d.sweep()
}

// finite reports whether v is neither NaN nor infinite.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
