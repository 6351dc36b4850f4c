package web

import (
	"bytes"
	"context"
	"net/http"
	"strings"

	"ocarina/tone"
	"ocarina/tone/session"
	"ocarina/tone/signal"

	"github.com/danielgtaylor/huma/v2"
)

type sessionInput struct {
	Body struct {
		Text
		Tones     []float64 `json:"tones_hz,omitempty" maxItems:"40" doc:"the design's unless given"`
		Steps     int       `json:"steps,omitempty" minimum:"0" maximum:"100" doc:"of each tone; 8 unless given"`
		Span      float64   `json:"span_db,omitempty" minimum:"0" maximum:"80" doc:"from the softest to the loudest; 21 unless given"`
		Top       float64   `json:"top_v,omitempty" minimum:"0" maximum:"10000" doc:"never to be passed; wanted where nothing in the design bounds a tone"`
		Hold      float64   `json:"hold_s,omitempty" minimum:"0" maximum:"600" doc:"that a step holds once settled; 1.5 unless given"`
		Ramp      float64   `json:"ramp_s,omitempty" minimum:"0" maximum:"600" doc:"in which each tone rises evenly, in place of steps"`
		Reference float64   `json:"reference_s,omitempty" minimum:"0" maximum:"600" doc:"of a steady tone put first to set the amplifier by"`
	}
}

// Planned is a session to be played: what tones make writes, as text.
type Planned struct {
	Name    string  `json:"name" doc:"of the files, without an ending"`
	Sheet   string  `json:"sheet" doc:"what to set and to beware of"`
	Plan    string  `json:"plan" doc:"by which a recording of it is read"`
	Seconds float64 `json:"seconds"`
}

type sessionOutput struct{ Body Planned }

type soundInput struct {
	Body struct {
		Plan string `json:"plan" maxLength:"2097152"`
	}
}

// mostSamples is the longest sound made for the page: a quarter of an hour at
// 48 kHz.
const mostSamples = 15 * 60 * 48000

func (a *api) registerSession(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "plan-session", Method: http.MethodPost, Path: "/api/session",
		Summary:      "Plan the playing of the tones inside what is safe, as tones make does",
		MaxBodyBytes: maxBody,
	}, a.plan)
	huma.Register(server, huma.Operation{
		OperationID: "session-sound", Method: http.MethodPost, Path: "/api/sound",
		Summary: "The sound of a planned session", MaxBodyBytes: maxBody,
		Responses: files("audio/wav"),
	}, a.sound)
}

func (a *api) plan(ctx context.Context, in *sessionInput) (*sessionOutput, error) {
	ask := &in.Body
	l, err := a.climb(ctx, ask.Text, tone.Options{Tones: ask.Tones})
	if err != nil {
		return nil, err
	}
	name := strings.TrimSuffix(strings.TrimSuffix(ask.Name, ".json"), ".hcl") + "-tones"
	m := a.recent.read(ask.Text).model
	s := &session.Session{Title: m.Design.Title, Wave: name + ".wav", Rate: 48000, Bits: 24, Hold: ask.Hold, Ramp: ask.Ramp}
	refused := func(err error) (*sessionOutput, error) { return nil, huma.Error422UnprocessableEntity(err.Error()) }
	if err := s.Add(m, l, session.Choice{Steps: ask.Steps, Span: ask.Span, Top: ask.Top, Reference: ask.Reference}); err != nil {
		return refused(err)
	}
	laid, err := signal.Lay(s.Plan())
	if err != nil {
		return refused(err)
	}
	s.Hold = laid.Plan.Hold // the plan says what was left to the default
	raw, err := s.Bytes()
	if err != nil {
		return refused(err)
	}
	return &sessionOutput{Planned{Name: name, Sheet: laid.Sheet(s.Wave), Plan: string(raw), Seconds: laid.Seconds()}}, nil
}

func (a *api) sound(ctx context.Context, in *soundInput) (*fileOutput, error) {
	s, err := session.Read([]byte(in.Body.Plan))
	if err != nil {
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	laid, err := signal.Lay(s.Plan())
	if err != nil {
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	if laid.Length > mostSamples {
		return nil, huma.Error422UnprocessableEntity("the sound would last too long to be made here; ocarina tones make writes it to a file")
	}
	leave, err := a.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	var out bytes.Buffer
	if err := laid.Write(&out); err != nil {
		return nil, huma.Error500InternalServerError("the sound could not be made")
	}
	return fileOf(strings.TrimSuffix(s.Wave, ".wav"), "wav", out.Bytes()), nil
}
