package plot

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"strconv"
	"strings"
)

// fontStack names the embedded font's family and others of the same metrics.
const fontStack = "'Liberation Sans',Arial,Helvetica,sans-serif"

// SVG writes the sheet as a standalone SVG document that also stands inside a
// page. Text stays text; what a viewer cannot see is told in title and desc.
func (s Sheet) SVG(w io.Writer) error {
	pic, err := s.compose()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" viewBox="0 0 %[1]s %[2]s" role="img" font-family="%s" stroke-linejoin="round">`+"\n",
		num(pic.w), num(pic.h), fontStack)
	if pic.title != "" {
		fmt.Fprintf(&b, "<title>%s</title>\n", escaped(pic.title))
	}
	fmt.Fprintf(&b, "<desc>%s</desc>\n", escaped(pic.desc))
	for _, sh := range pic.shapes {
		svgShape(&b, sh)
	}
	b.WriteString("</svg>\n")
	_, err = w.Write(b.Bytes())
	return err
}

func svgShape(b *bytes.Buffer, s shape) {
	switch s := s.(type) {
	case fill:
		fmt.Fprintf(b, `<rect x="%s" y="%s" width="%s" height="%s" fill="%s"/>`+"\n",
			num(s.x0), num(s.y0), num(s.x1-s.x0), num(s.y1-s.y0), web(s.color))
	case stroke:
		if len(s.runs) == 0 {
			return
		}
		b.WriteString(`<path d="`)
		for _, r := range s.runs {
			for i, p := range r {
				if i == 0 {
					b.WriteByte('M')
				} else if i == 1 {
					b.WriteByte('L')
				} else {
					b.WriteByte(' ')
				}
				b.WriteString(num(p.x) + "," + num(p.y))
			}
		}
		fmt.Fprintf(b, `" fill="none" stroke="%s" stroke-width="%s"`, web(s.color), num(s.width))
		if len(s.dash) > 0 {
			d := make([]string, len(s.dash))
			for i, v := range s.dash {
				d[i] = num(v)
			}
			fmt.Fprintf(b, ` stroke-dasharray="%s"`, strings.Join(d, " "))
		}
		b.WriteString("/>\n")
	case ring:
		fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s" fill="%s"`, num(s.at.x), num(s.at.y), num(s.r), web(s.inside))
		if s.width > 0 {
			fmt.Fprintf(b, ` stroke="%s" stroke-width="%s"`, web(s.line), num(s.width))
		}
		b.WriteString("/>\n")
	case words:
		if s.text == "" {
			return
		}
		fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" fill="%s"`, num(s.at.x), num(s.at.y), num(s.size), web(s.color))
		if s.bold {
			b.WriteString(` font-weight="bold"`)
		}
		switch s.align {
		case middle:
			b.WriteString(` text-anchor="middle"`)
		case right:
			b.WriteString(` text-anchor="end"`)
		}
		fmt.Fprintf(b, ">%s</text>\n", escaped(s.text))
	}
}

func escaped(s string) string {
	var b strings.Builder
	// Writing to a strings.Builder cannot fail.
	_ = xml.EscapeText(&b, []byte(s))
	return b.String()
}

// num writes a length with at most two decimals.
func num(v float64) string { return strconv.FormatFloat(round2(v), 'f', -1, 64) }

func web(c color.RGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
