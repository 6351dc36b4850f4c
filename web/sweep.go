package web

import (
	"context"
	"errors"
	"math"
	"net/http"

	"ocarina/sweep"

	"github.com/danielgtaylor/huma/v2"
)

type sweepInput struct {
	Name     string  `query:"name" maxLength:"200" doc:"of the file, for messages"`
	Header   string  `query:"header" maxLength:"500" doc:"stands in for a table's header line: names of columns with commas between"`
	Series   float64 `query:"series_ohm" minimum:"0" maximum:"1000000" doc:"the known resistor of a recording"`
	LeaveOut bool    `query:"leave_out" doc:"leave faulty rows out instead of refusing the file"`
	RawBody  []byte  `contentType:"application/octet-stream"`
}

// Measured is an impedance sweep.
type Measured struct {
	Name      string    `json:"name" maxLength:"200"`
	Frequency []float64 `json:"frequency_hz" maxItems:"200000" nullable:"false" doc:"ascending"`
	Magnitude []float64 `json:"impedance_ohm" maxItems:"200000" nullable:"false"`
	Phase     []float64 `json:"impedance_phase_deg,omitempty" maxItems:"200000" doc:"absent if unknown"`
	Errors    []float64 `json:"relative_error,omitempty" maxItems:"200000" doc:"standard error of each reading; absent if unknown"`
}

// SweepRead is a sweep as read from a file, and what can be seen on it alone.
type SweepRead struct {
	Measured
	Features []SweepFeature `json:"features" nullable:"false"`
	Warnings []string       `json:"warnings" nullable:"false"`
	Skipped  int            `json:"skipped" doc:"faulty rows, or frequencies without signal, left out"`
}

// SweepFeature is a peak or dip of a measured curve.
type SweepFeature struct {
	Kind      string  `json:"kind"`
	Frequency float64 `json:"frequency_hz"`
	Impedance float64 `json:"impedance_ohm"`
	Q         float64 `json:"q"`
}

type sweepOutput struct{ Body SweepRead }

func (a *api) registerSweep(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "read-sweep", Method: http.MethodPost, Path: "/api/sweep",
		Summary:      "Read a measured impedance: a text table, a Touchstone one-port or a two-channel recording",
		MaxBodyBytes: maxUpload,
	}, func(_ context.Context, in *sweepInput) (*sweepOutput, error) {
		name := in.Name
		if name == "" {
			name = "sweep"
		}
		s, err := sweep.Read(in.RawBody, name, sweep.Options{Header: in.Header, LeaveOut: in.LeaveOut, Series: in.Series})
		if err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
		return &sweepOutput{described(s)}, nil
	})
}

func described(s *sweep.Sweep) SweepRead {
	out := SweepRead{
		Measured: Measured{Name: s.Name, Frequency: s.Frequency, Magnitude: s.Magnitude, Errors: s.Error},
		Features: []SweepFeature{}, Warnings: append([]string{}, s.Warnings...), Skipped: s.Skipped,
	}
	if s.Phase != nil {
		out.Phase = make([]float64, len(s.Phase))
		for i, p := range s.Phase {
			out.Phase[i] = p * 180 / math.Pi
		}
	}
	for _, f := range s.Features() {
		out.Features = append(out.Features, SweepFeature{string(f.Kind), f.Frequency, f.Height, f.Q})
	}
	return out
}

// sweep makes a measured curve of what the page sends back.
func (m *Measured) sweep() (*sweep.Sweep, error) {
	n := len(m.Frequency)
	if n < 2 || len(m.Magnitude) != n || m.Phase != nil && len(m.Phase) != n || m.Errors != nil && len(m.Errors) != n {
		return nil, errors.New("wanted columns of one length, two rows or more")
	}
	s := &sweep.Sweep{Name: m.Name, Frequency: m.Frequency, Magnitude: m.Magnitude, Error: m.Errors}
	last := 0.0
	for i, f := range m.Frequency {
		if !(f > last) || !(m.Magnitude[i] > 0) || math.IsInf(f+m.Magnitude[i], 0) {
			return nil, errors.New("wanted frequencies that ascend and impedances above zero")
		}
		last = f
	}
	for _, e := range m.Errors {
		if !(e >= 0) || math.IsInf(e, 0) {
			return nil, errors.New("wanted standard errors of zero or more")
		}
	}
	if m.Phase != nil {
		s.Phase = make([]float64, n)
		for i, p := range m.Phase {
			if !(math.Abs(p) <= 360) {
				return nil, errors.New("wanted phases within a turn")
			}
			s.Phase[i] = math.Remainder(p*math.Pi/180, 2*math.Pi)
		}
	}
	return s, nil
}
