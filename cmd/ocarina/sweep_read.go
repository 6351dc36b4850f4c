package main

import (
	"errors"
	"io/fs"

	"github.com/spf13/pflag"

	"ocarina/quantity"
	"ocarina/sweep"
	"ocarina/wav"
)

// sweepFlags say how a measured sweep is to be read.
type sweepFlags struct {
	columns     string
	skipFaulty  bool
	series      string
	calibration string
	known       string
}

func (s *sweepFlags) add(f *pflag.FlagSet) {
	f.StringVar(&s.columns, "columns", "", "what the columns of a text table hold, such as \"frequency kHz, |Z|, phase rad\"; a dash passes one over")
	f.BoolVar(&s.skipFaulty, "skip-faulty", false, "leave faulty rows out and count them, instead of failing")
	f.StringVar(&s.series, "series", "", "the known resistor of a recording, such as \"100 ohm\"")
	f.StringVar(&s.calibration, "calibration", "", "a recording `FILE`.wav with a known resistor as the load")
	f.StringVar(&s.known, "known", "", "that known load, such as \"10 ohm\"")
}

func ohms(flag, text string) (float64, error) {
	v, _, err := quantity.Parse(text, quantity.Resistance)
	if err != nil {
		return 0, asked("%s: %v", flag, err)
	}
	if !(v > 0) {
		return 0, asked("%s: found %q, wanted a resistance above nothing", flag, text)
	}
	return v, nil
}

func (s *sweepFlags) options() (opt sweep.Options, err error) {
	opt = sweep.Options{Header: s.columns, LeaveOut: s.skipFaulty}
	if s.series != "" {
		if opt.Series, err = ohms("--series", s.series); err != nil {
			return opt, err
		}
	}
	if s.calibration != "" {
		if s.known == "" {
			return opt, asked("--calibration wants the load it was made with: --known \"10 ohm\"")
		}
		known, err := ohms("--known", s.known)
		if err != nil {
			return opt, err
		}
		if opt.Calibration, err = sweep.CalibrateFile(s.calibration, known, opt); err != nil {
			return opt, sweepFault(err)
		}
	}
	return opt, nil
}

func (s *sweepFlags) read(path string) (*sweep.Sweep, error) {
	opt, err := s.options()
	if err != nil {
		return nil, err
	}
	v, err := sweep.ReadFile(path, opt)
	if err != nil {
		return nil, sweepFault(err)
	}
	return v, nil
}

// sweepFault tells a file that holds no sweep from one that cannot be read.
func sweepFault(err error) error {
	var faults sweep.Faults
	var fault *sweep.Fault
	var bad *wav.Error
	if errors.As(err, &faults) || errors.As(err, &fault) || errors.As(err, &bad) || errors.Is(err, fs.ErrNotExist) {
		return &codedError{code: wrong, err: err}
	}
	return &codedError{code: failed, err: err}
}
