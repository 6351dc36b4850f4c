package web

import (
	"context"
	"encoding/json"
	"io"
	"net/http"

	"ocarina/tone"
	"ocarina/tone/beside"
	"ocarina/tone/recording"
	"ocarina/tone/session"
	"ocarina/wav"

	"github.com/danielgtaylor/huma/v2"
)

type recordingFiles struct {
	Recording huma.FormFile `form:"recording" required:"true" contentType:"application/octet-stream" doc:"WAV"`
	Plan      huma.FormFile `form:"plan" required:"false" contentType:"application/octet-stream" doc:"the plan of the session, as tones make wrote it"`
}

type recordingInput struct {
	Channel        int     `query:"channel" minimum:"0" maximum:"1000" doc:"to read, from 1; the loudest unless given"`
	DriveChannel   int     `query:"drive_channel" minimum:"0" maximum:"1000" doc:"that holds the drive itself"`
	DriveFullScale float64 `query:"drive_full_scale_v" minimum:"0" maximum:"1000000"`
	Sensitivity    float64 `query:"full_scales_per_pa" minimum:"0" maximum:"1000000" doc:"in place of a calibrator's tone"`
	Calibrator     float64 `query:"calibrator_db" minimum:"0" maximum:"200" doc:"level of the calibrator; 94, or 94 and 114, unless given"`
	RawBody        huma.MultipartFormFiles[recordingFiles]
}

// RecordingRead is a recording of tones as read.
type RecordingRead struct {
	Name   string            `json:"name"`
	Plan   string            `json:"plan,omitempty" doc:"title of the session whose plan came with it"`
	Report *recording.Report `json:"report"`
	Driven bool              `json:"driven" doc:"some drives are known in volts, so it can be laid beside a prediction"`
}

type recordingOutput struct{ Body RecordingRead }

type besideInput struct {
	Body struct {
		Text
		Report json.RawMessage `json:"report" doc:"of the recording, as it was told"`
		Clean  float64         `json:"clean_thd_f,omitempty" minimum:"0" maximum:"1"`
	}
}

// Beside is a recording beside its prediction.
type Beside struct {
	Comparison *beside.Comparison `json:"comparison"`
	Ladder     *tone.Ladder       `json:"ladder" doc:"the prediction at the recorded drives"`
}

type besideOutput struct{ Body Beside }

func (a *api) registerRecording(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "read-recording", Method: http.MethodPost, Path: "/api/recording",
		Summary:      "Read a recording of tones, as tones read does",
		MaxBodyBytes: maxRecording,
	}, a.record)
	huma.Register(server, huma.Operation{
		OperationID: "beside", Method: http.MethodPost, Path: "/api/beside",
		Summary:      "Lay a recording beside what a design predicts at its drives",
		MaxBodyBytes: maxUpload,
	}, a.compare)
}

func (a *api) record(ctx context.Context, in *recordingInput) (*recordingOutput, error) {
	leave, err := a.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	defer in.RawBody.Form.RemoveAll()
	files := in.RawBody.Data()
	defer files.Recording.Close()
	o := recording.Options{Channel: in.Channel, DriveChannel: in.DriveChannel, DriveFullScale: in.DriveFullScale, Sensitivity: in.Sensitivity, Calibrator: in.Calibrator}
	out := RecordingRead{Name: files.Recording.Filename}
	if files.Plan.IsSet {
		raw, err := io.ReadAll(io.LimitReader(files.Plan, maxBody))
		if err != nil {
			return nil, huma.Error422UnprocessableEntity(files.Plan.Filename + ": it could not be read")
		}
		s, err := session.Read(raw)
		if err != nil {
			return nil, huma.Error422UnprocessableEntity(files.Plan.Filename + ": " + err.Error())
		}
		known := s.Known()
		o.Drives, o.Tones = known.Drives, known.Tones
		out.Plan = s.Title
	}
	rec, err := wav.Read(files.Recording, out.Name)
	if err != nil {
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	if out.Report, err = recording.Analyse(rec, o); err != nil {
		return nil, huma.Error422UnprocessableEntity(out.Name + ": " + err.Error())
	}
	for _, t := range out.Report.Tones {
		for _, s := range t.Steps {
			out.Driven = out.Driven || s.Drive != nil && (o.DriveChannel == 0 || o.DriveFullScale > 0)
		}
	}
	return &recordingOutput{out}, nil
}

func (a *api) compare(ctx context.Context, in *besideInput) (*besideOutput, error) {
	leave, err := a.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	ask := &in.Body
	var report recording.Report
	if err := json.Unmarshal(ask.Report, &report); err != nil {
		return nil, huma.Error422UnprocessableEntity("the report is not one of a recording: " + err.Error())
	}
	r := a.recent.read(ask.Text)
	if r.model == nil {
		return nil, huma.Error422UnprocessableEntity("the design has errors")
	}
	c, err := beside.Compare(r.model, &report, tone.Options{Clean: ask.Clean})
	if err != nil {
		return nil, huma.Error422UnprocessableEntity(err.Error())
	}
	return &besideOutput{Beside{Comparison: c, Ladder: c.Ladder}}, nil
}
