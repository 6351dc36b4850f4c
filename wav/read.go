package wav

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
)

// Format codes of the format chunk.
const (
	codePCM        = 0x0001
	codeFloat      = 0x0003
	codeExtensible = 0xFFFE
)

// guidTail is what follows the two bytes of the format code in the sub-format
// of an extensible format chunk.
const guidTail = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"

const formatsWanted = "PCM of 16, 24 or 32 bits or IEEE float of 32 or 64 bits"

// ReadFile reads the recording at path. A fault of the file is an *Error; a
// file larger than Limit is refused before any of it is read.
func ReadFile(path string) (*Recording, error) {
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
		return nil, &Error{path, "this is a folder", "a WAV file"}
	}
	if st.Size() > Limit {
		return nil, &Error{path, fmt.Sprintf("file of %s is too large", bytesOf(st.Size())),
			fmt.Sprintf("at most %s: cut the recording, or store it with fewer bits or at a lower rate", bytesOf(Limit))}
	}
	return Read(f, path)
}

// Read reads a recording from the start of r; name stands in errors. A fault
// of the data is an *Error.
func Read(r io.ReadSeeker, name string) (*Recording, error) {
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	d := &decoder{r: r, name: name, size: size}
	return d.read()
}

type decoder struct {
	r    io.ReadSeeker
	name string
	size int64 // of the whole file, bytes
	pos  int64

	rec   Recording
	chans int
	block int // bytes of one frame: one sample of every channel
}

func (d *decoder) fault(wanted, format string, args ...any) error {
	return &Error{d.name, fmt.Sprintf(format, args...), wanted}
}

func (d *decoder) fill(b []byte) error {
	n, err := io.ReadFull(d.r, b)
	d.pos += int64(n)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return d.fault("the whole file", "truncated: it ends at byte %d", d.pos)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", d.name, err)
	}
	return nil
}

func (d *decoder) skip(n int64) error {
	if n == 0 {
		return nil
	}
	if _, err := d.r.Seek(n, io.SeekCurrent); err != nil {
		return fmt.Errorf("%s: %w", d.name, err)
	}
	d.pos += n
	return nil
}

func (d *decoder) read() (*Recording, error) {
	if d.size == 0 {
		return nil, d.fault("a WAV file", "the file is empty")
	}
	if d.size < 12 {
		return nil, d.fault("a WAV file, which begins with RIFF", "not a WAV file: only %s", bytesOf(d.size))
	}
	var head [12]byte
	if err := d.fill(head[:]); err != nil {
		return nil, err
	}
	switch id := string(head[:4]); id {
	case "RIFF":
	case "RIFX", "RF64", "BW64":
		return nil, d.fault("a plain RIFF WAV file", "unsupported WAV variant %s", id)
	default:
		return nil, d.fault("a WAV file, which begins with RIFF", "not a WAV file: it begins with %q", head[:4])
	}
	if string(head[8:]) != "WAVE" {
		return nil, d.fault("a RIFF file of kind WAVE", "not a WAV file: a RIFF file of kind %q", head[8:])
	}

	haveFormat := false
	for {
		if d.size-d.pos < 8 {
			if !haveFormat {
				return nil, d.fault("a format chunk and a data chunk", "truncated or damaged: no format chunk")
			}
			return nil, d.fault("a data chunk with samples", "no data: the file ends at byte %d without a data chunk", d.size)
		}
		var ch [8]byte
		if err := d.fill(ch[:]); err != nil {
			return nil, err
		}
		id, n := string(ch[:4]), int64(binary.LittleEndian.Uint32(ch[4:]))
		if id == "data" {
			if !haveFormat {
				return nil, d.fault("a format chunk before the data", "damaged: the data chunk at byte %d comes before any format chunk", d.pos-8)
			}
			return d.data(n)
		}
		if left := d.size - d.pos; n > left {
			return nil, d.fault("the whole file", "truncated: chunk %q at byte %d claims %d bytes, the file has %d more", id, d.pos-8, n, left)
		}
		if id == "fmt " {
			if haveFormat {
				return nil, d.fault("one", "damaged: a second format chunk at byte %d", d.pos-8)
			}
			if err := d.format(n); err != nil {
				return nil, err
			}
			haveFormat = true
		} else if err := d.skip(n); err != nil {
			return nil, err
		}
		if n%2 == 1 && d.pos < d.size { // chunks begin at even bytes
			if err := d.skip(1); err != nil {
				return nil, err
			}
		}
	}
}

// format reads the format chunk of n bytes.
func (d *decoder) format(n int64) error {
	if n < 16 {
		return d.fault("16 bytes or more", "damaged: format chunk of %d bytes", n)
	}
	var b [40]byte
	known := min(n, int64(len(b)))
	if err := d.fill(b[:known]); err != nil {
		return err
	}
	if err := d.skip(n - known); err != nil {
		return err
	}
	le := binary.LittleEndian
	code := le.Uint16(b[0:])
	d.chans = int(le.Uint16(b[2:]))
	d.rec.Rate = int(le.Uint32(b[4:]))
	d.block = int(le.Uint16(b[12:]))
	d.rec.Bits = int(le.Uint16(b[14:]))

	if code == codeExtensible {
		if n < 40 {
			return d.fault("40 bytes", "damaged: extensible format chunk of %d bytes", n)
		}
		if string(b[26:40]) != guidTail {
			return d.fault(formatsWanted, "unsupported sample format: sub-format %x", b[24:40])
		}
		code = le.Uint16(b[24:])
		if valid := int(le.Uint16(b[18:])); valid > d.rec.Bits {
			return d.fault("at most as many as the sample holds", "damaged: %d valid bits in samples of %d bits", valid, d.rec.Bits)
		}
	}
	ok := false
	switch code {
	case codePCM:
		ok = d.rec.Bits == 16 || d.rec.Bits == 24 || d.rec.Bits == 32
		if !ok {
			return d.fault(formatsWanted, "unsupported sample format: PCM of %d bits", d.rec.Bits)
		}
	case codeFloat:
		d.rec.Float = true
		ok = d.rec.Bits == 32 || d.rec.Bits == 64
		if !ok {
			return d.fault(formatsWanted, "unsupported sample format: float of %d bits", d.rec.Bits)
		}
	default:
		return d.fault(formatsWanted, "unsupported sample format: code 0x%04x", code)
	}
	if d.chans == 0 {
		return d.fault("one or more", "the format chunk says zero channels")
	}
	if d.rec.Rate == 0 {
		return d.fault("a rate in Hz", "the format chunk says a sample rate of zero")
	}
	if want := d.chans * d.rec.Bits / 8; d.block != want {
		return d.fault(fmt.Sprintf("%d", want), "damaged: a frame of %d channels of %d bits is said to take %d bytes", d.chans, d.rec.Bits, d.block)
	}
	return nil
}

// data reads the samples of a data chunk that claims n bytes.
func (d *decoder) data(n int64) (*Recording, error) {
	left := d.size - d.pos
	if n > left {
		return nil, d.fault("the whole file", "truncated: the data chunk claims %d bytes (%s), the file has %d (%s)",
			n, d.seconds(n), left, d.seconds(left))
	}
	if n == 0 {
		return nil, d.fault("a data chunk with samples", "no data: the data chunk is empty")
	}
	if n%int64(d.block) != 0 {
		return nil, d.fault(fmt.Sprintf("a whole number of frames of %d bytes", d.block), "damaged: the data chunk has %d bytes", n)
	}
	frames := int(n / int64(d.block))
	rec := &d.rec
	all := make([]float64, frames*d.chans)
	rec.Channels = make([][]float64, d.chans)
	rec.Clipped = make([]int, d.chans)
	for c := range rec.Channels {
		rec.Channels[c] = all[c*frames : (c+1)*frames : (c+1)*frames]
	}

	step := max(1, (1<<18)/d.block)
	buf := make([]byte, min(step, frames)*d.block)
	for at := 0; at < frames; at += step {
		m := min(step, frames-at)
		b := buf[:m*d.block]
		if err := d.fill(b); err != nil {
			return nil, err
		}
		for c := range rec.Channels {
			decode(rec.Channels[c][at:at+m], b[c*rec.Bits/8:], d.block, rec.Bits, rec.Float)
		}
	}
	for c, x := range rec.Channels {
		if rec.Float {
			for i, v := range x {
				if v-v != 0 {
					return nil, d.fault("finite samples", "damaged: sample %d of channel %d is %v", i+1, c+1, v)
				}
			}
		}
		rec.Clipped[c] = clipped(x)
	}
	return rec, nil
}

// decode fills x with the samples that stand every stride bytes in b.
func decode(x []float64, b []byte, stride, bits int, float bool) {
	le := binary.LittleEndian
	p := 0
	switch {
	case float && bits == 64:
		for i := range x {
			x[i] = math.Float64frombits(le.Uint64(b[p:]))
			p += stride
		}
	case float:
		for i := range x {
			x[i] = float64(math.Float32frombits(le.Uint32(b[p:])))
			p += stride
		}
	case bits == 16:
		for i := range x {
			x[i] = float64(int16(le.Uint16(b[p:]))) * (1.0 / (1 << 15))
			p += stride
		}
	case bits == 24:
		for i := range x {
			s := b[p : p+3 : p+3]
			x[i] = float64(int32(uint32(s[0])<<8|uint32(s[1])<<16|uint32(s[2])<<24)) * (1.0 / (1 << 31))
			p += stride
		}
	default:
		for i := range x {
			x[i] = float64(int32(le.Uint32(b[p:]))) * (1.0 / (1 << 31))
			p += stride
		}
	}
}

func (d *decoder) seconds(n int64) string {
	return fmt.Sprintf("%.3g s", float64(n/int64(d.block))/float64(d.rec.Rate))
}

func bytesOf(n int64) string {
	switch {
	case n >= 1<<30:
		return fmt.Sprintf("%.3g GiB", float64(n)/(1<<30))
	case n >= 1<<20:
		return fmt.Sprintf("%.3g MiB", float64(n)/(1<<20))
	case n == 1:
		return "1 byte"
	}
	return fmt.Sprintf("%d bytes", n)
}
