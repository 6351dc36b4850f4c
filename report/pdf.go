package report

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

const (
	margin = 13.0 // mm
	wide   = 210 - 2*margin
	tall   = 297 - margin
	face   = "liberation"
)

// PDF writes the report as one A4 page, letters embedded. What does not fit on
// it is counted, not dropped in silence.
func (p *Page) PDF(w io.Writer) error {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCreationDate(time.Unix(0, 0).UTC())
	pdf.SetModificationDate(time.Unix(0, 0).UTC())
	pdf.SetCatalogSort(true)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(false, 0)
	pdf.AddUTF8FontFromBytes(face, "", liberationsansregular.TTF)
	pdf.AddUTF8FontFromBytes(face, "B", liberationsansbold.TTF)
	pdf.SetTitle(plain(p.Title), true)
	pdf.SetCreator("Ocarina", true)
	pdf.AddPage()

	d := &drawing{Fpdf: pdf}
	d.head(p)
	d.parts(p.Parts)
	if err := d.curves(p); err != nil {
		return err
	}
	d.table("Peaks and dips", FeatureColumns, p.Features, []float64{22, 18, 16, 16, 112})
	d.table("Tones", ToneColumns, p.Tones, []float64{24, 18, 24, 22, 54, 20, 22})
	d.warnings(p.Warnings)
	if err := pdf.Error(); err != nil {
		return fmt.Errorf("the report's PDF: %w", err)
	}
	return pdf.Output(w)
}

type drawing struct{ *fpdf.Fpdf }

func (d *drawing) ink()  { d.SetTextColor(29, 42, 47) }
func (d *drawing) soft() { d.SetTextColor(91, 101, 106) }

// say writes one line, cut where it would not fit.
func (d *drawing) say(text string, width, height float64) {
	text = plain(text)
	if d.GetStringWidth(text) > width-1 {
		runes := []rune(text)
		for len(runes) > 1 && d.GetStringWidth(string(runes)+"…") > width-1 {
			runes = runes[:len(runes)-1]
		}
		text = string(runes) + "…"
	}
	d.CellFormat(width, height, text, "", 0, "L", false, 0, "")
}

func (d *drawing) head(p *Page) {
	d.ink()
	d.SetFont(face, "B", 19)
	d.say(p.Title, wide, 9)
	d.Ln(9)
	d.soft()
	d.SetFont(face, "", 9)
	line := p.Setting
	if p.File != "" {
		line = p.File + " · " + line
	}
	if p.Author != "" {
		line = p.Author + " · " + line
	}
	d.say(line, wide, 5)
	d.Ln(5)
	if p.Notes != "" {
		d.ink()
		lines := d.SplitText(plain(p.Notes), wide)
		if len(lines) > 3 {
			lines = append(lines[:2:2], lines[2]+" …")
		}
		for _, l := range lines {
			d.say(l, wide, 4.4)
			d.Ln(4.4)
		}
	}
	d.SetDrawColor(29, 42, 47)
	d.SetLineWidth(0.6)
	d.Line(margin, d.GetY()+1, margin+wide, d.GetY()+1)
	d.Ln(3)
}

// parts sets the parts in three columns, a part never torn.
func (d *drawing) parts(list []Part) {
	const columns, gap, row = 3, 5.0, 3.7
	width := (wide - (columns-1)*gap) / columns
	total := 0
	for _, p := range list {
		total += len(p.Values) + 2
	}
	most := max(total/columns+2, 8)
	if most > 26 {
		most = 26
	}
	top, column, used, deepest, left := d.GetY(), 0, 0, 0, 0
	for i, p := range list {
		need := len(p.Values) + 1
		if used > 0 && used+need > most {
			if column == columns-1 {
				left = len(list) - i
				break
			}
			column, used = column+1, 0
		}
		x := margin + float64(column)*(width+gap)
		d.SetXY(x, top+float64(used)*row)
		d.ink()
		d.SetFont(face, "B", 8)
		name := d.GetStringWidth(plain(p.Name)) + 2
		d.say(p.Name, min(name+1, width), row)
		d.soft()
		d.SetFont(face, "", 7.5)
		about := p.Kind
		if p.Joins != "" {
			about += ", " + p.Joins
		}
		d.say(about, max(width-name, 2), row)
		for k, v := range p.Values {
			d.SetXY(x, top+float64(used+k+1)*row)
			d.soft()
			d.say(v.Key, width*0.45, row)
			d.ink()
			d.CellFormat(width*0.55, row, plain(v.Text), "", 0, "R", false, 0, "")
		}
		used += need + 1
		deepest = max(deepest, used)
	}
	d.SetXY(margin, top+float64(deepest)*row)
	if left > 0 {
		d.soft()
		d.say(fmt.Sprintf("and %d more parts, see the design file", left), wide, 4)
		d.Ln(4)
	}
}

// curves places the sheet of curves as a picture fine enough for print.
func (d *drawing) curves(p *Page) error {
	sheet := p.Sheet
	sheet.Width = 760
	var png bytes.Buffer
	if err := sheet.PNG(&png, 3); err != nil {
		return err
	}
	options := fpdf.ImageOptions{ImageType: "PNG"}
	info := d.RegisterImageOptionsReader("curves", options, &png)
	if d.Err() {
		return d.Error()
	}
	y := d.GetY()
	// Room is kept for the tables beneath.
	rows := float64(min(len(p.Features), 8)+min(len(p.Tones), 8)) * 4
	room := tall - y - rows - 34
	width := wide
	height := width * info.Height() / info.Width()
	if height > room {
		height = max(room, 60)
		width = height * info.Width() / info.Height()
	}
	d.ImageOptions("curves", margin+(wide-width)/2, y, width, height, false, options, 0, "")
	d.SetXY(margin, y+height+1)
	return nil
}

func (d *drawing) table(title string, columns Row, rows []Row, widths []float64) {
	const row = 4.0
	if len(rows) == 0 || d.GetY()+3*row > tall {
		return
	}
	d.SetX(margin)
	d.ink()
	d.SetFont(face, "B", 9)
	d.say(title, wide, 5)
	d.Ln(5)
	d.SetFont(face, "", 8)
	d.SetDrawColor(207, 202, 187)
	d.SetLineWidth(0.15)
	line := func(cells Row) {
		d.SetX(margin)
		for i, c := range cells {
			d.say(c, widths[i], row)
		}
		d.Ln(row)
		d.Line(margin, d.GetY(), margin+wide, d.GetY())
	}
	d.soft()
	line(columns)
	d.ink()
	for i, r := range rows {
		if d.GetY()+2*row > tall && i < len(rows)-1 {
			d.soft()
			d.say(fmt.Sprintf("and %d more", len(rows)-i), wide, row)
			d.Ln(row)
			return
		}
		line(r)
	}
	d.Ln(1.5)
}

func (d *drawing) warnings(list []string) {
	const row = 3.8
	d.SetFont(face, "", 8)
	d.soft()
	for i, w := range list {
		lines := d.SplitText("– "+plain(w), wide)
		if d.GetY()+float64(len(lines))*row > tall+4 {
			d.SetX(margin)
			d.say(fmt.Sprintf("and %d more to mind: see ocarina explain", len(list)-i), wide, row)
			return
		}
		for _, l := range lines {
			d.SetX(margin)
			d.say(l, wide, row)
			d.Ln(row)
		}
	}
}

// plain keeps to what the letters of a PDF can show: no control characters.
func plain(text string) string {
	runes := make([]rune, 0, len(text))
	for _, r := range text {
		switch {
		case r == '\n' || r == '\t':
			r = ' '
		case r < 0x20 || r >= 0x7f && r < 0xa0 || r > 0xffff:
			r = '\ufffd'
		}
		runes = append(runes, r)
	}
	return string(runes)
}
