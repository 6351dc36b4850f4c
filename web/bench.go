package web

import (
	"context"
	"net/http"

	"ocarina/design"
	"ocarina/picture"
	"ocarina/quantity"
	"ocarina/report"
	"ocarina/response"

	"github.com/danielgtaylor/huma/v2"
)

// Edit is one change of a design's text.
type Edit struct {
	Op    string `json:"op" enum:"set,add,remove,rename,join" doc:"what to do"`
	Part  string `json:"part" maxLength:"200" doc:"name of the part"`
	Key   string `json:"key,omitempty" maxLength:"100" doc:"set and join: which key of it; add: its kind"`
	Index int    `json:"index,omitempty" minimum:"0" maximum:"1000" doc:"within a list such as size"`
	Value string `json:"value,omitempty" maxLength:"1000" doc:"the new value as a design writes it, the new name, or the place to join"`
	Other string `json:"other,omitempty" maxLength:"200" doc:"add: the place at the other end"`
}

type benchInput struct {
	Body struct {
		Text
		Edits   []Edit  `json:"edits,omitempty" maxItems:"100" doc:"done to the text first, in order"`
		From    float64 `json:"from_hz,omitempty" minimum:"0" maximum:"100000" doc:"10 unless given"`
		To      float64 `json:"to_hz,omitempty" minimum:"0" maximum:"100000" doc:"what predict takes unless given"`
		Points  int     `json:"points,omitempty" minimum:"0" maximum:"4000" doc:"of the curves, evenly spaced; more are added at peaks and dips if explain is asked for; 0 for none"`
		Cursor  float64 `json:"cursor_hz,omitempty" minimum:"0" maximum:"100000" doc:"0 for none"`
		Inches  bool    `json:"inches,omitempty" doc:"show dimensions in inches"`
		Slim    bool    `json:"slim,omitempty" doc:"curves without pressures and without phases other than the impedance's: half the size, for a live drawing"`
		Explain bool    `json:"explain,omitempty" doc:"features and tones too"`
	}
}

// Result is what a design's text means.
type Result struct {
	Text     string                `json:"text" doc:"with the edits done"`
	Problems []Problem             `json:"problems" nullable:"false"`
	Refused  string                `json:"refused,omitempty" doc:"why an edit was not done; the text is then as before it"`
	Outline  *Outline              `json:"outline,omitempty" doc:"absent while the text has errors"`
	Curves   *response.Prediction  `json:"curves,omitempty"`
	Explain  *response.Explanation `json:"explain,omitempty"`
	Moment   *Moment               `json:"moment,omitempty" doc:"the box at the cursor"`
}

type benchOutput struct{ Body Result }

type momentInput struct {
	Body struct {
		Text
		Cursor float64 `json:"cursor_hz" exclusiveMinimum:"0" maximum:"100000"`
	}
}

type momentOutput struct{ Body Moment }

func (a *api) registerBench(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "bench", Method: http.MethodPost, Path: "/api/bench",
		Summary:      "Edit a design's text and read everything off it",
		MaxBodyBytes: maxBody,
	}, a.bench)
	huma.Register(server, huma.Operation{
		OperationID: "moment", Method: http.MethodPost, Path: "/api/moment",
		Summary:      "The box at one frequency",
		MaxBodyBytes: maxBody,
	}, func(_ context.Context, in *momentInput) (*momentOutput, error) {
		r := a.recent.read(in.Body.Text)
		if r.model == nil {
			return nil, huma.Error422UnprocessableEntity("the design has errors")
		}
		m, err := momentAt(response.NewBench(r.model), r, in.Body.Cursor)
		if err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
		return &momentOutput{*m}, nil
	})
}

func (a *api) bench(_ context.Context, in *benchInput) (*benchOutput, error) {
	ask := &in.Body
	out := &Result{Text: ask.Text.Text, Problems: []Problem{}}
	if len(ask.Edits) > 0 {
		out.Text, out.Refused = a.edited(ask.Text, ask.Edits)
	}
	r := a.recent.read(Text{ask.Name, out.Text})
	out.Problems = r.problems
	if r.model == nil {
		return &benchOutput{*out}, nil
	}
	bench := response.NewBench(r.model)
	system := quantity.Metric
	if ask.Inches {
		system = quantity.Inch
	}
	out.Outline = outlineOf(r, bench, system)
	from, to := band(r.model, ask.From, ask.To)
	var err error
	if ask.Explain {
		if out.Explain, err = bench.Explain(response.DefaultFrom, response.DefaultTo); err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
	}
	if ask.Points > 1 {
		frequency := response.LogSpaced(from, to, ask.Points)
		if out.Explain != nil {
			frequency = report.WithFeatures(frequency, out.Explain.Features)
		}
		if out.Curves, err = bench.Predict(frequency); err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
	}
	if ask.Slim && out.Curves != nil {
		slim(out.Curves)
	}
	if ask.Cursor > 0 {
		if out.Moment, err = momentAt(bench, r, ask.Cursor); err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
	}
	return &benchOutput{*out}, nil
}

// slim drops what a drawing of the curves does not show.
func slim(p *response.Prediction) {
	p.LevelPhase, p.Chambers = nil, map[string]response.PressureCurve{}
	for _, cones := range []map[string]response.ExcursionCurve{p.Mounts, p.Passives} {
		for name, c := range cones {
			c.Phase = nil
			cones[name] = c
		}
	}
	for _, ducts := range []map[string]response.SpeedCurve{p.Ports, p.Lines} {
		for name, c := range ducts {
			c.Phase = nil
			ducts[name] = c
		}
	}
}

// band is where curves reach, as the predict command has it.
func band(m *design.Model, from, to float64) (float64, float64) {
	if from <= 0 {
		from = 10
	}
	if to <= 0 {
		to = picture.Top(m)
	}
	if to < from*1.01 {
		to = from * 1.01
	}
	return from, to
}
