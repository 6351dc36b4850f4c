package recording

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"ocarina/wav"
)

func noiseOf(n int, rms float64) []float64 {
	rng := rand.New(rand.NewPCG(2, 2))
	x := make([]float64, n)
	for i := range x {
		x[i] = rms * rng.NormFloat64()
	}
	return x
}

func sine(n int, f, rate, a float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = a * math.Sin(2*math.Pi*f/rate*float64(i))
	}
	return x
}

func with(x []float64, at int, v float64) []float64 {
	x[at] = v
	return x
}

func TestWhatCannotBeRead(t *testing.T) {
	const rate = 48000
	constant := make([]float64, 2*rate)
	for i := range constant {
		constant[i] = 0.3
	}
	good := func() []float64 { return sine(2*rate, 50, rate, 0.5) }
	for _, c := range []struct {
		name string
		rec  *wav.Recording
		o    Options
		want string
	}{
		{"no channel", recordingOf(rate), Options{}, "no channel"},
		{"no rate", recordingOf(0, good()), Options{}, "no channel"},
		{"empty", recordingOf(rate, nil), Options{}, "found 0 s; want at least 0.6 s"},
		{"too short", recordingOf(rate, good()[:9600]), Options{}, "found 0.2 s; want at least 0.6 s"},
		{"silence", recordingOf(rate, make([]float64, 2*rate)), Options{}, "silence in channel 1"},
		{"constant", recordingOf(rate, constant), Options{}, "silence in channel 1"},
		{"noise alone", recordingOf(rate, noiseOf(4*rate, 0.1)), Options{}, "found no tone"},
		{"a click", recordingOf(rate, with(make([]float64, 2*rate), rate, 0.9)), Options{}, "found no tone"},
		{"no number", recordingOf(rate, with(good(), 777, math.NaN())), Options{}, "found NaN as sample 777 of channel 1"},
		{"infinite", recordingOf(rate, with(good(), 3, math.Inf(-1))), Options{}, "found -Inf as sample 3 of channel 1"},
		{"absurdly large", recordingOf(rate, with(good(), 3, 1e200)), Options{}, "1e+200 as sample 3"},
		{"no number in the other channel", recordingOf(rate, good(), with(good(), 5, math.NaN())), Options{Channel: 1}, "sample 5 of channel 2"},
		{"no such channel", recordingOf(rate, good()), Options{Channel: 2}, "found channel 2 asked for; want channel 1"},
		{"negative channel", recordingOf(rate, good()), Options{Channel: -1}, "found channel -1 asked for"},
		{"no such drive", recordingOf(rate, good()), Options{DriveChannel: 3}, "found channel 3 asked for"},
		{"drive is all there is", recordingOf(rate, good()), Options{DriveChannel: 1}, "that is the drive"},
		{"sound is the drive", recordingOf(rate, good(), good()), Options{Channel: 2, DriveChannel: 2}, "as sound and as drive"},
		{"sensitivity of nothing", recordingOf(rate, good()), Options{Sensitivity: math.NaN()}, "found NaN as sensitivity"},
		{"drive without end", recordingOf(rate, good()), Options{Drives: []Drive{{Frequency: 50, Levels: []float64{math.Inf(1)}}}}, "+Inf as drive in dB"},
		{"limit below zero", recordingOf(rate, good()), Options{Deformed: Limits{Asymmetry: -1}}, "-1 as limit"},
		{"other tone", recordingOf(rate, good()), Options{Tones: []float64{80, 112}}, "a tone of 50 Hz but none of those asked for; want [80 112] Hz"},
	} {
		r, err := Analyse(c.rec, c.o)
		var e *Error
		if r != nil || !errors.As(err, &e) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: report %v, error %v, want one with %q", c.name, r != nil, err, c.want)
		}
	}
}

func TestChannels(t *testing.T) {
	const rate = 48000
	soft, loud := sine(3*rate, 40, rate, 0.1), sine(3*rate, 60, rate, 0.5)
	for _, c := range []struct {
		channels [][]float64
		o        Options
		channel  int
		f        float64
		warned   bool
	}{
		{[][]float64{soft}, Options{}, 1, 40, false},
		{[][]float64{soft, loud}, Options{}, 2, 60, true},
		{[][]float64{loud, soft}, Options{}, 1, 60, true},
		{[][]float64{soft, loud}, Options{Channel: 1}, 1, 40, false},
		{[][]float64{soft, make([]float64, 3*rate)}, Options{}, 1, 40, true},
		{[][]float64{soft, loud}, Options{DriveChannel: 2}, 1, 40, false},
	} {
		r := analyse(t, recordingOf(rate, c.channels...), c.o)
		if r.Channel != c.channel || math.Abs(r.Tones[0].Frequency-c.f) > 0.01 {
			t.Errorf("%+v: channel %d with %g Hz, want %d with %g", c.o, r.Channel, r.Tones[0].Frequency, c.channel, c.f)
		}
		if got := strings.Contains(strings.Join(r.Warnings, ";"), "the loudest was read"); got != c.warned {
			t.Errorf("%+v: warnings %q", c.o, r.Warnings)
		}
	}
}

// TestEdges: recordings at the edge of what can be read give a report or an
// error, never a number that is none.
func TestEdges(t *testing.T) {
	for name, x := range map[string][]float64{
		"six tenths":          sine(28801, 40, 48000, 0.5),
		"lowest tone":         sine(5*48000, 8.9, 48000, 0.5),
		"high tone":           sine(2*48000, 2300, 48000, 0.5),
		"very soft":           sine(2*48000, 40, 48000, 3e-9),
		"very loud floats":    sine(2*48000, 40, 48000, 1e6),
		"tone and nothing":    append(sine(2*48000, 40, 48000, 0.5), make([]float64, 2*48000)...),
		"one bit square wave": signs(sine(2*48000, 40.7, 48000, 1)),
		"noise over tone":     sum(sine(4*48000, 40, 48000, 0.02), noiseOf(4*48000, 0.1)),
	} {
		r, err := Analyse(recordingOf(48000, x), Options{})
		if err != nil {
			t.Logf("%s: %v", name, err)
			continue
		}
		finite(t, name, reflect.ValueOf(r))
	}
}

func signs(x []float64) []float64 {
	for i, v := range x {
		x[i] = math.Copysign(0.5, v)
	}
	return x
}

func sum(a, b []float64) []float64 {
	for i := range a {
		a[i] += b[i]
	}
	return a
}

// finite fails if any number in v is not finite.
func finite(t *testing.T, path string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			t.Errorf("%s is %g", path, f)
		}
	case reflect.Complex128:
		c := v.Complex()
		finite(t, path+" (real)", reflect.ValueOf(real(c)))
		finite(t, path+" (imaginary)", reflect.ValueOf(imag(c)))
	case reflect.Pointer:
		if !v.IsNil() {
			finite(t, path, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			finite(t, path+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			finite(t, path, v.Index(i))
		}
	}
}

// FuzzAnalyse reads bytes as 16-bit samples, repeated until they last a second.
func FuzzAnalyse(f *testing.F) {
	bytesOf := func(x []float64) []byte {
		var b []byte
		for _, v := range x {
			b = binary.LittleEndian.AppendUint16(b, uint16(int16(v*32767)))
		}
		return b
	}
	f.Add(uint16(8000), false, bytesOf(sine(400, 40, 8000, 0.5)))
	f.Add(uint16(4000), true, bytesOf(signs(sine(300, 61, 4000, 0.5))))
	f.Add(uint16(300), false, []byte{1, 2, 3, 4, 200, 9})
	f.Add(uint16(48000), true, []byte{0, 0, 255, 127, 0, 128})
	f.Add(uint16(1), false, []byte{})
	f.Fuzz(func(t *testing.T, rate uint16, stereo bool, data []byte) {
		if len(data) > 1<<15 {
			return
		}
		var x []float64
		for len(x) < int(rate) && len(data) >= 2 {
			for i := 0; i+1 < len(data); i += 2 {
				x = append(x, float64(int16(binary.LittleEndian.Uint16(data[i:])))/32768)
			}
		}
		channels := [][]float64{x}
		o := Options{}
		if stereo {
			channels = append(channels, x)
			o.DriveChannel = 2
		}
		r, err := Analyse(recordingOf(int(rate), channels...), o)
		if err == nil {
			finite(t, "report", reflect.ValueOf(r))
		}
	})
}
