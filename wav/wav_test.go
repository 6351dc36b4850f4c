package wav

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/go-audio/audio"
	goaudio "github.com/go-audio/wav"

	"ocarina/internal/need"
)

var update = flag.Bool("update", false, "write the golden files anew")

var formats = []Format{
	{48000, 16, false}, {44100, 24, false}, {96000, 32, false},
	{48000, 32, true}, {8000, 64, true},
}

func (f Format) String() string {
	kind := "PCM"
	if f.Float {
		kind = "float"
	}
	return fmt.Sprintf("%s%d", kind, f.Bits)
}

func noise(seed uint64, chans, n int) [][]float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([][]float64, chans)
	for c := range x {
		x[c] = make([]float64, n)
		for i := range x[c] {
			x[c][i] = 2*rng.Float64() - 1
		}
	}
	return x
}

func TestRoundTrip(t *testing.T) {
	for _, f := range formats {
		for _, chans := range []int{1, 2, 3} {
			t.Run(fmt.Sprintf("%v/%d", f, chans), func(t *testing.T) {
				in := noise(7, chans, 70001) // odd, and longer than one block of reading
				in[0][0], in[0][1] = 1, -1
				path := filepath.Join(t.TempDir(), "x.wav")
				if err := WriteFile(path, f, in); err != nil {
					t.Fatal(err)
				}
				got, err := ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				if got.Rate != f.Rate || got.Bits != f.Bits || got.Float != f.Float || len(got.Channels) != chans {
					t.Fatalf("read back %d Hz, %d bits, float %v, %d channels", got.Rate, got.Bits, got.Float, len(got.Channels))
				}
				tol := math.Ldexp(0.5, 1-f.Bits) // half a step
				if f.Float {
					tol = map[int]float64{32: math.Ldexp(1, -25), 64: 0}[f.Bits]
				}
				for c := range in {
					if len(got.Channels[c]) != len(in[c]) {
						t.Fatalf("%d samples back of %d", len(got.Channels[c]), len(in[c]))
					}
					for i, v := range in[c] {
						lim := tol
						if v > 1-tol && !f.Float {
							lim *= 2 // the highest step
						}
						if d := math.Abs(got.Channels[c][i] - v); d > lim {
							t.Fatalf("channel %d sample %d: %v came back as %v", c, i, v, got.Channels[c][i])
						}
					}
				}
			})
		}
	}
}

// An independent library writes, we read: every code of the format must come
// back as itself over full scale.
func TestReadsOthersFiles(t *testing.T) {
	for _, bits := range []int{16, 24, 32} {
		path := filepath.Join(t.TempDir(), "x.wav")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		full := 1 << (bits - 1)
		codes := []int{0, 1, -1, full - 1, -full, 12345, -12345, full / 2}
		enc := goaudio.NewEncoder(f, 48000, bits, 2, 1)
		if err := enc.Write(&audio.IntBuffer{Format: &audio.Format{NumChannels: 2, SampleRate: 48000}, Data: codes, SourceBitDepth: bits}); err != nil {
			t.Fatal(err)
		}
		if err := enc.Close(); err != nil {
			t.Fatal(err)
		}
		f.Close()
		rec, err := ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for i, code := range codes {
			if got := rec.Channels[i%2][i/2] * float64(full); got != float64(code) {
				t.Errorf("%d bits: code %d read as %v", bits, code, got)
			}
		}
	}
}

// We write, an independent library reads.
func TestOthersReadOurs(t *testing.T) {
	in := noise(3, 2, 1000)
	for _, f := range formats[:2] {
		path := filepath.Join(t.TempDir(), "x.wav")
		if err := WriteFile(path, f, in); err != nil {
			t.Fatal(err)
		}
		file, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		dec := goaudio.NewDecoder(file)
		buf, err := dec.FullPCMBuffer()
		if err != nil {
			t.Fatal(err)
		}
		if int(dec.SampleRate) != f.Rate || len(buf.Data) != 2000 {
			t.Fatalf("%v: rate %d, %d samples", f, dec.SampleRate, len(buf.Data))
		}
		full := math.Ldexp(1, f.Bits-1)
		for i, code := range buf.Data {
			if want := math.RoundToEven(in[i%2][i/2] * full); float64(code) != math.Min(want, full-1) {
				t.Fatalf("%v: sample %d is %d, want %v", f, i, code, want)
			}
		}
	}
}

// SciPy reads every format we write; it is a third, unrelated reader and the
// only one here that knows float.
func TestSciPyReadsOurs(t *testing.T) {
	python := need.SciPy(t)
	in := [][]float64{{0.5, -0.25, 0.125}, {-1, 0.75, 0}}
	for _, f := range formats {
		path := filepath.Join(t.TempDir(), "x.wav")
		if err := WriteFile(path, f, in); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, "-c", `
import sys, scipy.io.wavfile as w
r, x = w.read(sys.argv[1])
s = {'int16': 2.0**15, 'int32': 2.0**31}.get(str(x.dtype), 1.0)
print(r, (x/s).T.tolist())`, path).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %v\n%s", f, err, out)
		}
		want := fmt.Sprintf("%d [[0.5, -0.25, 0.125], [-1.0, 0.75, 0.0]]", f.Rate)
		if got := strings.TrimSpace(string(out)); got != want {
			t.Errorf("%v: SciPy reads %s, want %s", f, got, want)
		}
	}
}

func TestClipped(t *testing.T) {
	const a = 32767.0 / 32768
	for _, c := range []struct {
		x    []float64
		want int
	}{
		{nil, 0},
		{[]float64{1}, 0},
		{[]float64{0, 1, 0, -1, 0}, 0},
		{[]float64{0, 1, 1, 0}, 2},
		{[]float64{1, 1, 1, 0, -1, -1}, 5},
		{[]float64{a, a, a}, 3},
		{[]float64{-a, -a, -1, -1}, 4},
		{[]float64{0.999, 0.999}, 0},
		{[]float64{1, -1, 1, -1}, 0},
		{[]float64{1.1, 1.2, 1.1}, 0}, // float samples may pass full scale unharmed
	} {
		if got := clipped(c.x); got != c.want {
			t.Errorf("clipped(%v) = %d, want %d", c.x, got, c.want)
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		f    Format
		x    [][]float64
		want string
	}{
		{Format{48000, 8, false}, [][]float64{{0}}, "PCM samples of 8 bits"},
		{Format{48000, 16, true}, [][]float64{{0}}, "float samples of 16 bits"},
		{Format{0, 16, false}, [][]float64{{0}}, "sample rate of 0 Hz"},
		{Format{48000, 16, false}, nil, "0 channels"},
		{Format{48000, 16, false}, [][]float64{{}}, "no samples"},
		{Format{48000, 16, false}, [][]float64{{0, 0}, {0}}, "channel 2 has 1 samples"},
		{Format{48000, 16, false}, [][]float64{{0, 1.5}}, "sample 2 of channel 1 is 1.5, beyond full scale"},
		{Format{48000, 32, true}, [][]float64{{nan}}, "is NaN"},
		{Format{48000, 64, true}, [][]float64{{inf}}, "is +Inf"},
		{Format{48000, 32, true}, [][]float64{{1e39}}, "is 1e+39"},
	} {
		dir := t.TempDir()
		err := WriteFile(filepath.Join(dir, "x.wav"), c.f, c.x)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: error %v, want one with %q", c.f, err, c.want)
		}
		if left, _ := os.ReadDir(dir); len(left) != 0 {
			t.Errorf("%+v: a refused write left %v behind", c.f, left)
		}
	}
}

// chunk is one RIFF chunk; claim overrides the stated size if not negative.
func chunk(id string, claim int, body []byte) []byte {
	if claim < 0 {
		claim = len(body)
	}
	b := append([]byte(id), 0, 0, 0, 0)
	binary.LittleEndian.PutUint32(b[4:], uint32(claim))
	return append(b, body...)
}

func riff(chunks ...[]byte) []byte {
	body := append([]byte("WAVE"), bytes.Join(chunks, nil)...)
	return chunk("RIFF", -1, body)
}

func fmtBody(code, chans, rate, block, bits int) []byte {
	le := binary.LittleEndian
	b := le.AppendUint16(nil, uint16(code))
	b = le.AppendUint16(b, uint16(chans))
	b = le.AppendUint32(b, uint32(rate))
	b = le.AppendUint32(b, uint32(rate*block))
	b = le.AppendUint16(b, uint16(block))
	return le.AppendUint16(b, uint16(bits))
}

func extensible(chans, rate, bits, valid int, sub []byte) []byte {
	le := binary.LittleEndian
	b := fmtBody(codeExtensible, chans, rate, chans*bits/8, bits)
	b = le.AppendUint16(b, 22)
	b = le.AppendUint16(b, uint16(valid))
	b = le.AppendUint32(b, 0)
	return append(b, sub...)
}

func guid(code byte) []byte { return append([]byte{code, 0}, guidTail...) }

// bad are the files of testdata/bad, named for their fault.
func bad() map[string][]byte {
	pcm := chunk("fmt ", -1, fmtBody(1, 1, 48000, 2, 16))
	data := chunk("data", -1, []byte{1, 0, 2, 0})
	nan := binary.LittleEndian.AppendUint32([]byte{0, 0, 0, 0}, math.Float32bits(float32(math.NaN())))
	return map[string][]byte{
		"empty":                 {},
		"too-short":             []byte("RIFF"),
		"text":                  []byte("Frequency,Impedance\n10,6.1\n"),
		"riff-but-not-wave":     chunk("RIFF", -1, []byte("AVI LIST")),
		"big-endian":            append([]byte("RIFX\x00\x00\x00\x04WAVE"), pcm...),
		"no-chunks":             riff(),
		"no-format-chunk":       riff(data),
		"no-data-chunk":         riff(pcm),
		"data-chunk-empty":      riff(pcm, chunk("data", -1, nil)),
		"truncated-in-data":     riff(pcm, chunk("data", 96000, []byte{1, 0, 2, 0})),
		"recorder-never-closed": riff(pcm, chunk("data", 0xffffffff, []byte{1, 0, 2, 0})),
		"truncated-in-a-chunk":  riff(pcm, chunk("LIST", 100, []byte("INFO"))),
		"format-chunk-short":    riff(chunk("fmt ", -1, fmtBody(1, 1, 48000, 2, 16)[:14]), data),
		"format-chunk-twice":    riff(pcm, pcm, data),
		"eight-bits":            riff(chunk("fmt ", -1, fmtBody(1, 1, 48000, 1, 8)), data),
		"compressed":            riff(chunk("fmt ", -1, fmtBody(0x55, 2, 48000, 4, 16)), data),
		"half-float":            riff(chunk("fmt ", -1, fmtBody(3, 1, 48000, 2, 16)), data),
		"extensible-short":      riff(chunk("fmt ", -1, fmtBody(0xfffe, 1, 48000, 2, 16)), data),
		"extensible-unknown":    riff(chunk("fmt ", -1, extensible(1, 48000, 16, 16, bytes.Repeat([]byte{7}, 16))), data),
		"extensible-valid-bits": riff(chunk("fmt ", -1, extensible(1, 48000, 16, 24, guid(1))), data),
		"zero-channels":         riff(chunk("fmt ", -1, fmtBody(1, 0, 48000, 0, 16)), data),
		"zero-rate":             riff(chunk("fmt ", -1, fmtBody(1, 1, 0, 2, 16)), data),
		"frame-size-wrong":      riff(chunk("fmt ", -1, fmtBody(1, 2, 48000, 2, 16)), data),
		"data-odd-size":         riff(pcm, chunk("data", -1, []byte{1, 0, 2})),
		"not-a-number":          riff(chunk("fmt ", -1, fmtBody(3, 1, 48000, 4, 32)), chunk("data", -1, nan)),
	}
}

func TestBadFiles(t *testing.T) {
	golden := filepath.Join("testdata", "bad.txt")
	files := bad()
	names := slices.Sorted(maps.Keys(files))
	if *update {
		os.MkdirAll(filepath.Join("testdata", "bad"), 0o755)
		for name, b := range files {
			if err := os.WriteFile(filepath.Join("testdata", "bad", name+".wav"), b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	var out strings.Builder
	for _, name := range names {
		rec, err := ReadFile(filepath.Join("testdata", "bad", name+".wav"))
		if err == nil {
			t.Errorf("%s: read without complaint: %+v", name, rec)
			continue
		}
		fmt.Fprintln(&out, filepath.ToSlash(err.Error()))
	}
	if *update {
		if err := os.WriteFile(golden, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got := out.String(); got != string(want) {
		t.Errorf("messages differ from %s:\n%s", golden, got)
	}
}

// A sparse file stands in for a recording that is too large: it is refused by
// its size, before reading.
func TestTooLarge(t *testing.T) {
	path := filepath.Join(t.TempDir(), "long.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := f.Truncate(2 << 30); err != nil {
		t.Fatal(err)
	}
	_, err = ReadFile(path)
	if err == nil || !strings.Contains(err.Error(), "file of 2 GiB is too large") {
		t.Errorf("error %v", err)
	}
}

func TestExtensibleAndExtraChunks(t *testing.T) {
	b := riff(chunk("LIST", -1, []byte("INF\x00")), chunk("junk", -1, []byte{1, 2, 3}), []byte{0},
		chunk("fmt ", -1, extensible(2, 48000, 24, 20, guid(1))),
		chunk("data", -1, []byte{0, 0, 0x40, 0, 0, 0xc0}), chunk("cue ", 400, nil))
	rec, err := Read(bytes.NewReader(b), "x")
	if err != nil {
		t.Fatal(err)
	}
	if rec.Bits != 24 || rec.Channels[0][0] != 0.5 || rec.Channels[1][0] != -0.5 {
		t.Errorf("read %+v", rec)
	}
}

func FuzzRead(f *testing.F) {
	for _, b := range bad() {
		f.Add(b)
	}
	for _, fm := range formats {
		var b bytes.Buffer
		if err := Write(&b, fm, noise(1, 2, 5)); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		rec, err := Read(bytes.NewReader(b), "fuzz")
		if err != nil {
			if _, ok := err.(*Error); !ok {
				t.Fatalf("error %T %v, want an *Error", err, err)
			}
			return
		}
		if rec.Rate <= 0 || len(rec.Channels) == 0 || len(rec.Channels[0]) == 0 || len(rec.Clipped) != len(rec.Channels) {
			t.Fatalf("accepted %+v", rec)
		}
		for _, x := range rec.Channels {
			if len(x) != len(rec.Channels[0]) {
				t.Fatal("channels of different length")
			}
			for _, v := range x {
				if v-v != 0 {
					t.Fatal("a sample is not finite")
				}
			}
		}
	})
}

// Ten minutes of 48 kHz mono.
func BenchmarkRead10min(b *testing.B) {
	for _, f := range formats[:4] {
		f.Rate = 48000
		b.Run(f.String(), func(b *testing.B) {
			path := filepath.Join(b.TempDir(), "x.wav")
			x := noise(1, 1, 600*48000)
			if err := WriteFile(path, f, x); err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(len(x[0]) * f.Bits / 8))
			for b.Loop() {
				if _, err := ReadFile(path); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
