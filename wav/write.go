package wav

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
)

// Write writes channels, [channel][sample] at full scale ±1, as one WAV file.
// PCM samples are rounded to the nearest step; +1 becomes the highest step.
//
// An unknown format, channels of different length, no samples, a sample that
// is not finite, a PCM sample beyond full scale and a file over 4 GiB are
// errors. All are found before the first byte is written.
func Write(w io.Writer, f Format, channels [][]float64) error {
	size, err := f.check(channels)
	if err != nil {
		return err
	}
	bytes := f.Bits / 8
	block := bytes * len(channels)
	le := binary.LittleEndian

	// A float file has a longer format chunk and a chunk with its frame count.
	code, extra := uint16(codePCM), int64(0)
	if f.Float {
		code, extra = codeFloat, 2+12
	}
	head := make([]byte, 0, 64)
	head = append(head, "RIFF"...)
	head = le.AppendUint32(head, uint32(36+extra+size+size%2))
	head = append(head, "WAVEfmt "...)
	if f.Float {
		head = le.AppendUint32(head, 18)
	} else {
		head = le.AppendUint32(head, 16)
	}
	head = le.AppendUint16(head, code)
	head = le.AppendUint16(head, uint16(len(channels)))
	head = le.AppendUint32(head, uint32(f.Rate))
	head = le.AppendUint32(head, uint32(f.Rate*block))
	head = le.AppendUint16(head, uint16(block))
	head = le.AppendUint16(head, uint16(f.Bits))
	if f.Float {
		head = le.AppendUint16(head, 0)
		head = append(head, "fact"...)
		head = le.AppendUint32(head, 4)
		head = le.AppendUint32(head, uint32(len(channels[0])))
	}
	head = append(head, "data"...)
	head = le.AppendUint32(head, uint32(size))
	if _, err := w.Write(head); err != nil {
		return err
	}

	buf := make([]byte, 0, 1<<16)
	for i := range channels[0] {
		for _, x := range channels {
			buf = f.append(buf, x[i])
		}
		if len(buf) >= 1<<16-block {
			if _, err := w.Write(buf); err != nil {
				return err
			}
			buf = buf[:0]
		}
	}
	if size%2 == 1 {
		buf = append(buf, 0)
	}
	_, err = w.Write(buf)
	return err
}

// append adds one sample to b.
func (f Format) append(b []byte, v float64) []byte {
	le := binary.LittleEndian
	if f.Float {
		if f.Bits == 64 {
			return le.AppendUint64(b, math.Float64bits(v))
		}
		return le.AppendUint32(b, math.Float32bits(float32(v)))
	}
	scale := float64(int64(1) << (f.Bits - 1))
	s := int32(math.Min(math.RoundToEven(v*scale), scale-1))
	switch f.Bits {
	case 16:
		return le.AppendUint16(b, uint16(s))
	case 24:
		return append(b, byte(s), byte(s>>8), byte(s>>16))
	}
	return le.AppendUint32(b, uint32(s))
}

// check returns the size of the samples in bytes.
func (f Format) check(channels [][]float64) (size int64, err error) {
	switch {
	case f.Float && (f.Bits == 32 || f.Bits == 64):
	case !f.Float && (f.Bits == 16 || f.Bits == 24 || f.Bits == 32):
	case f.Float:
		return 0, fmt.Errorf("wav: float samples of %d bits; wanted 32 or 64", f.Bits)
	default:
		return 0, fmt.Errorf("wav: PCM samples of %d bits; wanted 16, 24 or 32", f.Bits)
	}
	if f.Rate <= 0 || f.Rate > math.MaxInt32 {
		return 0, fmt.Errorf("wav: sample rate of %d Hz; wanted a positive one", f.Rate)
	}
	if n := len(channels); n == 0 || n*f.Bits/8 > math.MaxUint16 {
		return 0, fmt.Errorf("wav: %d channels; wanted 1 to %d", n, math.MaxUint16*8/f.Bits)
	}
	n := len(channels[0])
	if n == 0 {
		return 0, fmt.Errorf("wav: no samples to write")
	}
	for c, x := range channels {
		if len(x) != n {
			return 0, fmt.Errorf("wav: channel %d has %d samples, channel 1 has %d; wanted equal lengths", c+1, len(x), n)
		}
		for i, v := range x {
			if v-v != 0 || math.Abs(v) > math.MaxFloat32 && f.Bits == 32 {
				return 0, fmt.Errorf("wav: sample %d of channel %d is %v; wanted a finite number", i+1, c+1, v)
			}
			if !f.Float && math.Abs(v) > 1 {
				return 0, fmt.Errorf("wav: sample %d of channel %d is %.6g, beyond full scale; wanted −1 to 1, or a float format", i+1, c+1, v)
			}
		}
	}
	size = int64(n) * int64(len(channels)*f.Bits/8)
	if size > math.MaxUint32-64 {
		return 0, fmt.Errorf("wav: %d bytes of samples do not fit a WAV file; wanted less than 4 GiB", size)
	}
	return size, nil
}

// WriteFile writes a WAV file at path. The file appears whole or not at all:
// it is written beside its place and then moved there.
func WriteFile(path string, f Format, channels [][]float64) (err error) {
	if _, err := f.check(channels); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		var e *os.PathError
		if errors.As(err, &e) { // its path is that of the file beside
			err = e.Err
		}
		return fmt.Errorf("%s: cannot be written: %w", path, err)
	}
	defer func() {
		if err != nil {
			os.Remove(tmp.Name())
		}
	}()
	out := bufio.NewWriterSize(tmp, 1<<18)
	err = Write(out, f, channels)
	if err == nil {
		err = out.Flush()
	}
	if err == nil {
		err = tmp.Chmod(0o644) // CreateTemp's 0600 is for secrets
	}
	if e := tmp.Close(); err == nil {
		err = e
	}
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return os.Rename(tmp.Name(), path)
}
