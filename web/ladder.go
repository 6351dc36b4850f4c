package web

import (
	"context"
	"net/http"

	"ocarina/tone"

	"github.com/danielgtaylor/huma/v2"
)

type ladderInput struct {
	Body struct {
		Text
		Tones   []float64 `json:"tones_hz,omitempty" maxItems:"40" doc:"the design's unless given"`
		Drives  []float64 `json:"drives_v,omitempty" maxItems:"200" doc:"RMS, ascending; each tone's own unless given"`
		Steps   int       `json:"steps,omitempty" minimum:"0" maximum:"100" doc:"of a ladder of its own; 20 unless given"`
		Seconds float64   `json:"seconds,omitempty" minimum:"0" maximum:"1000000" doc:"after which the coils' temperature is read; 60 unless given"`
		Clean   float64   `json:"clean_thd_f,omitempty" minimum:"0" maximum:"1" doc:"what still counts as clean; 0.03 unless given"`
	}
}

type ladderOutput struct{ Body *tone.Ladder }

type drivenInput struct {
	Body struct {
		Text
		Tone    float64   `json:"tone_hz" exclusiveMinimum:"0" maximum:"100000"`
		Drives  []float64 `json:"drives_v" minItems:"1" maxItems:"200" nullable:"false" doc:"RMS, ascending: the way up to the drive asked for, which is the last"`
		Points  int       `json:"points" minimum:"8" maximum:"1024" doc:"of one period"`
		Seconds float64   `json:"seconds,omitempty" minimum:"0" maximum:"1000000"`
	}
}

// Driven is one tone at one drive, with one period of everything that moves.
type Driven struct {
	Frequency float64    `json:"frequency_hz"`
	Step      *tone.Step `json:"step,omitempty" doc:"absent where no steady state was found"`
	Lost      *float64   `json:"lost_above_v" doc:"the highest drive at which one was, if so"`
}

type drivenOutput struct{ Body Driven }

func (a *api) registerLadder(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "ladder", Method: http.MethodPost, Path: "/api/ladder",
		Summary:      "Turn the drive up at each tone, as the tones command does",
		MaxBodyBytes: maxBody,
	}, func(ctx context.Context, in *ladderInput) (*ladderOutput, error) {
		ask := &in.Body
		l, err := a.climb(ctx, ask.Text, tone.Options{
			Tones: ask.Tones, Drives: ask.Drives, Steps: ask.Steps, Seconds: ask.Seconds, Clean: ask.Clean,
		})
		if err != nil {
			return nil, err
		}
		return &ladderOutput{l}, nil
	})
	huma.Register(server, huma.Operation{
		OperationID: "driven", Method: http.MethodPost, Path: "/api/driven",
		Summary:      "The box at one tone and drive, as far as it really moves",
		MaxBodyBytes: maxBody,
	}, func(ctx context.Context, in *drivenInput) (*drivenOutput, error) {
		ask := &in.Body
		l, err := a.climb(ctx, ask.Text, tone.Options{
			Tones: []float64{ask.Tone}, Drives: ask.Drives, Seconds: ask.Seconds, Waveform: ask.Points,
		})
		if err != nil {
			return nil, err
		}
		t := &l.Tones[0]
		out := Driven{Frequency: t.Frequency, Lost: t.LostAbove}
		if n := len(t.Steps); n == len(ask.Drives) {
			out.Step = &t.Steps[n-1]
		}
		return &drivenOutput{out}, nil
	})
}

// climb predicts a ladder once a processor is free.
func (a *api) climb(ctx context.Context, t Text, o tone.Options) (*tone.Ladder, error) {
	leave, err := a.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	r := a.recent.read(t)
	if r.model == nil {
		return nil, huma.Error422UnprocessableEntity("the design has errors")
	}
	l, err := tone.Predict(r.model, o)
	if err != nil {
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	return l, nil
}

// maxWork is how many ladders and recordings are worked on at once, so that the
// live drawing keeps a processor.
const maxWork = 2

// enter waits for a place to work; the caller leaves it.
func (a *api) enter(ctx context.Context) (leave func(), err error) {
	select {
	case a.working <- struct{}{}:
		return func() { <-a.working }, nil
	case <-ctx.Done():
		return nil, huma.Error503ServiceUnavailable("the question was taken back")
	}
}
