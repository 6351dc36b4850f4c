package plot

import (
	"image/color"
	"io"
	"strings"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// pdfDate stands in every document, so that one sheet always gives the same
// bytes.
var pdfDate = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// PDF writes the sheet as a PDF of one page of its own size, with the letters
// it uses embedded. The ground stays the paper's own.
func (s Sheet) PDF(w io.Writer) error {
	pic, err := s.compose()
	if err != nil {
		return err
	}
	d := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: pic.w * 0.75, Ht: pic.h * 0.75}})
	d.SetCatalogSort(true)
	d.SetCreationDate(pdfDate)
	d.SetModificationDate(pdfDate)
	d.SetProducer("ocarina", true)
	d.SetTitle(inPlane(pic.title), true)
	d.SetMargins(0, 0, 0)
	d.SetAutoPageBreak(false, 0)
	d.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	d.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	d.AddPage()
	d.SetLineJoinStyle("round")
	for _, sh := range pic.shapes {
		pdfShape(d, sh)
	}
	return d.Output(w)
}

func pdfShape(d *fpdf.Fpdf, s shape) {
	const k = 0.75 // pt in a px
	ground := func(c color.RGBA) { d.SetFillColor(int(c.R), int(c.G), int(c.B)) }
	line := func(c color.RGBA, width float64, dash []float64) {
		d.SetDrawColor(int(c.R), int(c.G), int(c.B))
		d.SetLineWidth(width * k)
		ds := make([]float64, len(dash))
		for i, v := range dash {
			ds[i] = v * k
		}
		d.SetDashPattern(ds, 0)
	}
	switch s := s.(type) {
	case fill:
		if s.ground {
			return
		}
		ground(s.color)
		d.Rect(s.x0*k, s.y0*k, (s.x1-s.x0)*k, (s.y1-s.y0)*k, "F")
	case stroke:
		if len(s.runs) == 0 {
			return
		}
		line(s.color, s.width, s.dash)
		for _, r := range s.runs {
			for i, p := range r {
				if i == 0 {
					d.MoveTo(p.x*k, p.y*k)
				} else {
					d.LineTo(p.x*k, p.y*k)
				}
			}
		}
		d.DrawPath("D")
	case ring:
		ground(s.inside)
		style := "F"
		if s.width > 0 {
			line(s.line, s.width, nil)
			style = "FD"
		}
		d.Circle(s.at.x*k, s.at.y*k, s.r*k, style)
	case words:
		style := ""
		if s.bold {
			style = "B"
		}
		d.SetFont("sans", style, s.size*k)
		d.SetTextColor(int(s.color.R), int(s.color.G), int(s.color.B))
		d.Text(s.bounds().x0*k, s.at.y*k, inPlane(s.text))
	}
}

// inPlane replaces characters beyond the basic plane, for which the PDF's
// two-byte font encoding has no place.
func inPlane(s string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xffff {
			return '\uFFFD'
		}
		return r
	}, s)
}
