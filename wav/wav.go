// Package wav reads and writes uncompressed WAV recordings as plain numbers.
//
// It knows PCM of 16, 24 and 32 bits and IEEE float of 32 and 64 bits, with
// the classic or the extensible format chunk, and nothing about what the
// samples mean.
//
// Source of the layout: IBM and Microsoft, Multimedia Programming Interface
// and Data Specifications 1.0 (1991), chapter 3; the extensible format chunk
// as in RFC 2361 and Microsoft's WAVEFORMATEXTENSIBLE.
package wav

// Limit is the largest file ReadFile accepts, in bytes. Samples take four
// times the room in memory that they take in a 16-bit file.
const Limit = 1 << 30

// fullScale is the level from which a repeated value counts as clipped: one
// step of a 16-bit converter below 1, so that a 16-bit recording kept in a
// wider format is recognised too.
const fullScale = 1 - 1.0/(1<<15)

// A Recording holds the samples of a file.
type Recording struct {
	Rate     int         // samples per second and channel, Hz
	Bits     int         // bits of a stored sample: 16, 24, 32 or 64
	Float    bool        // stored as IEEE float
	Channels [][]float64 // [channel][sample], full scale is ±1, all of equal length

	// Clipped counts, per channel, the samples that stand at full scale
	// beside another of exactly the same value: the flat top of a clipped wave.
	// One sample at full scale alone is not counted.
	Clipped []int
}

// Duration is the length of the recording in seconds.
func (r *Recording) Duration() float64 {
	if len(r.Channels) == 0 {
		return 0
	}
	return float64(len(r.Channels[0])) / float64(r.Rate)
}

// A Format says how samples are stored.
type Format struct {
	Rate  int  // samples per second, Hz
	Bits  int  // 16, 24 or 32; with Float 32 or 64
	Float bool // IEEE float
}

// An Error is a fault of a WAV file.
type Error struct {
	Name   string // file, as the caller named it
	Found  string // what is in the file
	Wanted string // what would do
}

func (e *Error) Error() string {
	s := e.Name + ": " + e.Found
	if e.Wanted != "" {
		s += "; wanted " + e.Wanted
	}
	return s
}

// clipped counts the samples of x in runs of two or more of one value at full
// scale.
func clipped(x []float64) int {
	n := 0
	for i := 1; i < len(x); i++ {
		v := x[i]
		if v != x[i-1] || (v < fullScale && v > -fullScale) {
			continue
		}
		if i == 1 || x[i-2] != v {
			n++ // the first of the run
		}
		n++
	}
	return n
}
