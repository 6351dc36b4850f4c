package web

import (
	"context"
	"errors"
	"net/http"

	"ocarina/fit"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/sse"
)

type matchInput struct {
	Body struct {
		Text
		Sweep Measured `json:"sweep"`
		From  float64  `json:"from_hz,omitempty" minimum:"0" maximum:"100000" doc:"band fitted; where the box speaks unless given"`
		To    float64  `json:"to_hz,omitempty" minimum:"0" maximum:"100000"`
		Free  []string `json:"free,omitempty" maxItems:"100" doc:"turn only these: a part, a key or PART.KEY"`
		Hold  []string `json:"hold,omitempty" maxItems:"100" doc:"turn none of these"`
	}
}

// MatchStep tells how far a match has come.
type MatchStep fit.Progress

// MatchDone is what a match found.
type MatchDone struct {
	Result    *fit.Result `json:"result"`
	Frequency []float64   `json:"frequency_hz"`
	Fitted    []float64   `json:"fitted_ohm" doc:"|Z| of the fitted model there"`
	Corrected string      `json:"corrected" doc:"the design's text with the fitted numbers"`
}

// MatchFault is why there is no result.
type MatchFault struct {
	Detail string `json:"detail"`
}

// Matches take a processor each for seconds; more than these at once would only
// slow each other down.
const maxMatches = 2

func (a *api) registerMatch(server huma.API) {
	sse.Register(server, huma.Operation{
		OperationID: "match", Method: http.MethodPost, Path: "/api/match",
		Summary:      "Fit a design to a sweep, with progress; closing the connection cancels it",
		MaxBodyBytes: maxUpload,
	}, map[string]any{"step": MatchStep{}, "done": MatchDone{}, "fault": MatchFault{}},
		func(ctx context.Context, in *matchInput, send sse.Sender) {
			select {
			case a.matching <- struct{}{}:
				defer func() { <-a.matching }()
			default:
				send.Data(MatchFault{"Two matches are under way already; wait or cancel one."})
				return
			}
			done, err := a.match(ctx, in, func(p fit.Progress) { send.Data(MatchStep(p)) })
			switch {
			case ctx.Err() != nil:
			case err != nil:
				send.Data(MatchFault{err.Error()})
			default:
				send.Data(*done)
			}
		})
}

func (a *api) match(ctx context.Context, in *matchInput, progress func(fit.Progress)) (*MatchDone, error) {
	ask := &in.Body
	s, err := ask.Sweep.sweep()
	if err != nil {
		return nil, err
	}
	d, diags := a.parse(ask.Text)
	if diags.HasErrors() {
		return nil, errors.New("the design has errors")
	}
	result, err := fit.Match(ctx, d, s, fit.Options{
		Free: ask.Free, Hold: ask.Hold, From: ask.From, To: ask.To, Progress: progress,
	})
	if err != nil {
		return nil, err
	}
	if err := result.Correct(d); err != nil {
		return nil, err
	}
	return &MatchDone{Result: result, Frequency: result.Frequency, Fitted: result.Fitted, Corrected: string(d.Bytes())}, nil
}
