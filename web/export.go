package web

import (
	"bytes"
	"context"
	"mime"
	"net/http"
	"strings"

	"ocarina/picture"
	"ocarina/quantity"
	"ocarina/report"
	"ocarina/response"

	"github.com/danielgtaylor/huma/v2"
)

type reportInput struct {
	Format string `query:"format" enum:"html,pdf" default:"pdf"`
	Inches bool   `query:"inches"`
	Body   Text
}

type plotInput struct {
	Format string  `query:"format" enum:"svg,png,pdf" default:"svg"`
	From   float64 `query:"from_hz" minimum:"0" maximum:"100000" doc:"10 unless given"`
	To     float64 `query:"to_hz" minimum:"0" maximum:"100000"`
	Body   Text
}

// fileOutput is a file to keep.
type fileOutput struct {
	Type        string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

var fileTypes = map[string]string{
	"html": "text/html; charset=utf-8", "pdf": "application/pdf", "svg": "image/svg+xml", "png": "image/png", "wav": "audio/wav",
}

func fileOf(name, format string, content []byte) *fileOutput {
	base := strings.TrimSuffix(strings.TrimSuffix(name, ".json"), ".hcl")
	if base == "" {
		base = "design"
	}
	return &fileOutput{
		Type: fileTypes[format],
		// Only ever a download: nothing a design says is shown as a page here.
		Disposition: mime.FormatMediaType("attachment", map[string]string{"filename": base + "." + format}),
		Body:        content,
	}
}

func (a *api) registerExport(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "report", Method: http.MethodPost, Path: "/api/report",
		Summary: "A design on one page to print", MaxBodyBytes: maxBody,
		Responses: files("text/html", "application/pdf"),
	}, func(_ context.Context, in *reportInput) (*fileOutput, error) {
		r := a.recent.read(in.Body)
		if r.model == nil {
			return nil, huma.Error422UnprocessableEntity("the design has errors")
		}
		system := quantity.Metric
		if in.Inches {
			system = quantity.Inch
		}
		page, err := report.Of(r.model, system)
		if err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
		var out bytes.Buffer
		write := page.PDF
		if in.Format == "html" {
			write = page.HTML
		}
		if err := write(&out); err != nil {
			return nil, huma.Error500InternalServerError("the report could not be made")
		}
		return fileOf(in.Body.Name, in.Format, out.Bytes()), nil
	})
	huma.Register(server, huma.Operation{
		OperationID: "plot", Method: http.MethodPost, Path: "/api/plot",
		Summary: "A design's curves as a picture", MaxBodyBytes: maxBody,
		Responses: files("image/svg+xml", "image/png", "application/pdf"),
	}, func(_ context.Context, in *plotInput) (*fileOutput, error) {
		r := a.recent.read(in.Body)
		if r.model == nil {
			return nil, huma.Error422UnprocessableEntity("the design has errors")
		}
		content, err := plotted(r, in)
		if err != nil {
			return nil, huma.Error422UnprocessableEntity(err.Error())
		}
		return fileOf(in.Body.Name, in.Format, content), nil
	})
}

func plotted(r *reading, in *plotInput) ([]byte, error) {
	b := response.NewBench(r.model)
	from, to := band(r.model, in.From, in.To)
	features, err := b.Features(from, to)
	if err != nil {
		return nil, err
	}
	prediction, err := b.Predict(report.WithFeatures(response.LogSpaced(from, to, 500), features))
	if err != nil {
		return nil, err
	}
	sheet := picture.Sheet(r.model, prediction, features)
	var out bytes.Buffer
	switch in.Format {
	case "png":
		err = sheet.PNG(&out, 2)
	case "pdf":
		err = sheet.PDF(&out)
	default:
		err = sheet.SVG(&out)
	}
	return out.Bytes(), err
}

// files describes an answer that is a file of one of the types.
func files(types ...string) map[string]*huma.Response {
	content := map[string]*huma.MediaType{}
	for _, t := range types {
		content[t] = &huma.MediaType{Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}
	}
	return map[string]*huma.Response{"200": {Description: "The file", Content: content}}
}
