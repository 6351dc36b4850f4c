package web

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"net/http"
	"path"
	"reflect"
	"strings"

	"ocarina/design"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"
	"github.com/hashicorp/hcl/v2"
)

// api is what the page talks to. All of it is stateless: the page sends the
// design's text with every question, and only saving changes anything.
type api struct {
	folder *folder
	recent *recent

	matching chan struct{} // holds one for each match under way
	working  chan struct{} // and for each ladder or recording
}

func newAPI(mux *http.ServeMux, f *folder) *api {
	registry := huma.NewMapRegistry("#/components/schemas/", schemaName)
	config := huma.Config{
		OpenAPI: &huma.OpenAPI{
			OpenAPI: "3.1.0",
			Info: &huma.Info{
				Title: "Ocarina bench", Version: "1",
				Description: "What the bench page asks of the program. Numbers are those of the commands' --json.",
			},
			Components: &huma.Components{Schemas: registry},
		},
		OpenAPIPath:   "/api/openapi",
		Formats:       map[string]huma.Format{"application/json": compactJSON, "json": compactJSON},
		DefaultFormat: "application/json",
	}
	server := humago.New(mux, config)
	a := &api{folder: f, matching: make(chan struct{}, maxMatches), working: make(chan struct{}, maxWork)}
	a.recent = newRecent(16, a.parse)
	a.registerFiles(server)
	a.registerBench(server)
	a.registerSweep(server)
	a.registerMatch(server)
	a.registerLadder(server)
	a.registerRecording(server)
	a.registerSession(server)
	a.registerExport(server)
	nullable(registry)
	return a
}

// schemaName keeps apart what other packages call by the same names.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
		t = t.Elem()
	}
	switch path.Base(t.PkgPath()) {
	case "fit":
		return "Fit" + name
	case "tone":
		return "Ladder" + strings.TrimPrefix(name, "Ladder")
	case "recording":
		return "Recorded" + name
	case "beside":
		return "Beside" + name
	}
	return name
}

// parse reads a design's text; drivers it names by file are those of the folder.
func (a *api) parse(t Text) (*design.Design, hcl.Diagnostics) {
	return design.ParseIn(a.folder.root.FS(), []byte(t.Text), t.Name)
}

// nullable tells of what is null with nothing outside, without any limit or where
// a recording does not tell: a pointer alone does not say so.
func nullable(registry huma.Registry) {
	for schema, names := range map[string][]string{
		"Tone":       {"level_db", "max_voltage_v", "max_level_db"},
		"Moment":     {"level_db", "group_delay_ms"},
		"FitFeature": {"measured_hz", "drawn_hz", "fitted_hz"},

		"LadderTone":          {"limit_voltage_v", "limit_level_db", "clean_voltage_v", "clean_level_db", "safe_voltage_v", "safe_level_db", "lost_above_v", "doubles_above_v"},
		"LadderStep":          {"level_db"},
		"Driven":              {"lost_above_v"},
		"RecordedReport":      {"calibration", "mains", "rest"},
		"RecordedLadder":      {"deformed"},
		"RecordedStep":        {"drive_db", "compression_db"},
		"RecordedDeformation": {"drive_db"},
		"BesidePair":          {"recorded"},
		"BesideTone":          {"offset_db", "deformed_v"},
	} {
		for _, name := range names {
			properties := registry.Map()[schema].Properties
			if p := properties[name]; p.Ref != "" {
				properties[name] = &huma.Schema{OneOf: []*huma.Schema{p, {Type: "null"}}}
			} else {
				p.Nullable = true
			}
		}
	}
	registry.Map()["LadderStep"].Properties["harmonics_db"].Items.Nullable = true
}

// compactJSON leaves text as it is: nothing here is pasted into HTML.
var compactJSON = huma.Format{
	Marshal: func(w io.Writer, v any) error {
		e := json.NewEncoder(w)
		e.SetEscapeHTML(false)
		return e.Encode(v)
	},
	Unmarshal: json.Unmarshal,
}

// Text is a design as it stands on the page.
type Text struct {
	Name string `json:"name" maxLength:"200" doc:"file name; its ending tells the form" example:"dunlin.hcl"`
	Text string `json:"text" maxLength:"1048576" doc:"the design file's content"`
}

type folderOutput struct {
	Body struct {
		Folder  string       `json:"folder"`
		First   string       `json:"first" doc:"the design to show first"`
		Designs []DesignFile `json:"designs" nullable:"false"`
	}
}

type openInput struct {
	Name string `path:"name" maxLength:"200"`
}

// Opened is a design file as read from the folder.
type Opened struct {
	Text
	Version string `json:"version" doc:"names the content; saving asks for it"`
}

type openOutput struct{ Body Opened }

type saveInput struct {
	Name string `path:"name" maxLength:"200"`
	Body struct {
		Text    string `json:"text" maxLength:"1048576"`
		Version string `json:"version" maxLength:"64" doc:"of the file as read; empty for a file that is new"`
	}
}

type saveOutput struct {
	Body struct {
		Version string `json:"version"`
	}
}

func (a *api) registerFiles(server huma.API) {
	huma.Register(server, huma.Operation{
		OperationID: "list-designs", Method: http.MethodGet, Path: "/api/designs",
		Summary: "The designs of the folder",
	}, func(context.Context, *struct{}) (*folderOutput, error) {
		list, err := a.folder.list()
		if err != nil {
			return nil, fileError(err)
		}
		out := &folderOutput{}
		out.Body.Folder, out.Body.Designs, out.Body.First = a.folder.path, list, a.folder.first
		if out.Body.First == "" && len(list) > 0 {
			out.Body.First = list[0].Name
		}
		return out, nil
	})
	huma.Register(server, huma.Operation{
		OperationID: "open-design", Method: http.MethodGet, Path: "/api/designs/{name}",
		Summary: "A design file's text",
	}, func(_ context.Context, in *openInput) (*openOutput, error) {
		text, err := a.folder.read(in.Name)
		if err != nil {
			return nil, fileError(err)
		}
		return &openOutput{Opened{Text{in.Name, string(text)}, version(text)}}, nil
	})
	huma.Register(server, huma.Operation{
		OperationID: "save-design", Method: http.MethodPut, Path: "/api/designs/{name}",
		Summary:      "Save a design, unless its file changed meanwhile",
		MaxBodyBytes: maxBody, Errors: []int{http.StatusConflict},
	}, func(_ context.Context, in *saveInput) (*saveOutput, error) {
		if err := a.folder.save(in.Name, []byte(in.Body.Text), in.Body.Version); err != nil {
			return nil, fileError(err)
		}
		out := &saveOutput{}
		out.Body.Version = version([]byte(in.Body.Text))
		return out, nil
	})
}

// fileError gives an error of the folder its status. What the system says may
// hold paths, so only known errors are passed on.
func fileError(err error) error {
	switch {
	case errors.Is(err, errName):
		return huma.Error422UnprocessableEntity(err.Error())
	case errors.Is(err, errChanged), errors.Is(err, errExists):
		return huma.Error409Conflict(err.Error())
	case errors.Is(err, errTooLong):
		return huma.NewError(http.StatusRequestEntityTooLarge, err.Error())
	case errors.Is(err, fs.ErrNotExist):
		return huma.Error404NotFound("there is no design of that name")
	case errors.Is(err, errPlain):
		return huma.Error403Forbidden(err.Error())
	case errors.Is(err, fs.ErrPermission):
		return huma.Error403Forbidden("the file may not be read or written")
	}
	return huma.Error500InternalServerError("the file could not be read or written")
}
