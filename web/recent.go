package web

import (
	"sync"

	"ocarina/design"
	"ocarina/response"

	"github.com/hashicorp/hcl/v2"
)

// reading is a design's text made sense of. It is not changed once made.
type reading struct {
	design   *design.Design
	problems []Problem
	model    *design.Model // nil with errors

	once     sync.Once
	features []response.Feature
	err      error
}

// found returns the features in the band explain looks at.
func (r *reading) found() ([]response.Feature, error) {
	r.once.Do(func() {
		r.features, r.err = response.NewBench(r.model).Features(response.DefaultFrom, response.DefaultTo)
	})
	return r.features, r.err
}

// recent keeps the last few readings, so that a moving cursor does not have the
// same text read again and again.
type recent struct {
	mu    sync.Mutex
	list  []kept // the newest last
	room  int
	parse parser
}

type kept struct {
	text Text
	made *reading
}

func newRecent(room int, parse parser) *recent { return &recent{room: room, parse: parse} }

// parser reads a design's text.
type parser func(Text) (*design.Design, hcl.Diagnostics)

func (r *recent) read(t Text) *reading {
	r.mu.Lock()
	for i := range r.list {
		if r.list[i].text == t {
			one := r.list[i]
			copy(r.list[i:], r.list[i+1:])
			r.list[len(r.list)-1] = one
			r.mu.Unlock()
			return one.made
		}
	}
	r.mu.Unlock()

	made := r.make(t)
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.list) == r.room {
		r.list = append(r.list[:0], r.list[1:]...)
	}
	r.list = append(r.list, kept{t, made})
	return made
}

func (r *recent) make(t Text) *reading {
	d, diags := r.parse(t)
	made := &reading{design: d}
	if !diags.HasErrors() {
		model, more := design.Build(d)
		diags = append(diags, more...)
		if !more.HasErrors() {
			made.model = model
		}
	}
	made.problems = problemsOf(diags)
	return made
}

// Problem is something wrong in a design's text.
type Problem struct {
	Line      int    `json:"line" doc:"from 1"`
	Column    int    `json:"column" doc:"from 1, in characters"`
	EndLine   int    `json:"end_line"`
	EndColumn int    `json:"end_column"`
	Summary   string `json:"summary"`
	Detail    string `json:"detail" doc:"what was found and what is wanted"`
	Warning   bool   `json:"warning"`
}

func problemsOf(diags hcl.Diagnostics) []Problem {
	list := make([]Problem, 0, len(diags))
	for _, d := range diags {
		p := Problem{Line: 1, Column: 1, EndLine: 1, EndColumn: 1,
			Summary: d.Summary, Detail: d.Detail, Warning: d.Severity == hcl.DiagWarning}
		if s := d.Subject; s != nil {
			p.Line, p.Column, p.EndLine, p.EndColumn = s.Start.Line, s.Start.Column, s.End.Line, s.End.Column
		}
		list = append(list, p)
	}
	return list
}
