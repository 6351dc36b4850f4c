package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"html/template"
	"io"
)

const style = `
@page { size: A4; margin: 12mm }
body { font: 10pt/1.35 system-ui, "Liberation Sans", sans-serif; color: #1d2a2f; background: #fff; max-width: 186mm; margin: 0 auto; padding: 4mm 0 }
h1 { font: 700 20pt/1.1 Charter, "Liberation Serif", serif; margin: 0 }
h2 { font-size: 10.5pt; margin: 4mm 0 1mm }
p { margin: 0 0 1mm }
.soft { color: #5b656a }
header { border-bottom: 2pt solid #1d2a2f; padding-bottom: 2mm; margin-bottom: 2mm }
.parts { columns: 3; column-gap: 6mm; font-size: 8.5pt }
.parts div { break-inside: avoid; margin-bottom: 2mm }
.parts dl { margin: 0; display: grid; grid-template-columns: 1fr auto; gap: 0 3mm; font-variant-numeric: tabular-nums }
dt, dd { margin: 0 } dd { text-align: right } dt { color: #5b656a }
table { border-collapse: collapse; width: 100%; font-size: 8.5pt; font-variant-numeric: tabular-nums }
th, td { text-align: left; padding: .5mm 3mm .5mm 0; border-bottom: .3pt solid #cfcabb; font-weight: 400 }
th { color: #5b656a }
svg { width: 100%; height: auto; display: block }
ul { margin: 0; padding-left: 4mm; font-size: 8.5pt }
`

// StylePolicy is what a content policy has to allow for the style inside a
// report's HTML.
var StylePolicy = func() string {
	sum := sha256.Sum256([]byte(style))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}()

var page = template.Must(template.New("report").Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>{{.Title}}</title>
<style>{{.Style}}</style>
</head>
<body>
<header>
<h1>{{.Title}}</h1>
<p class="soft">{{if .Author}}{{.Author}} · {{end}}{{if .File}}{{.File}} · {{end}}{{.Setting}}</p>
{{if .Notes}}<p>{{.Notes}}</p>{{end}}
</header>
<section class="parts">
{{range .Parts}}<div><b>{{.Name}}</b> <span class="soft">{{.Kind}}{{if .Joins}}, {{.Joins}}{{end}}</span>
<dl>{{range .Values}}<dt>{{.Key}}</dt><dd>{{.Text}}</dd>{{end}}</dl></div>
{{end}}</section>
{{.Drawing}}
<h2>Peaks and dips</h2>
<table><thead><tr>{{range .FeatureColumns}}<th>{{.}}</th>{{end}}</tr></thead>
<tbody>{{range .Features}}<tr>{{range .}}<td>{{.}}</td>{{end}}</tr>{{end}}</tbody></table>
{{if .Tones}}<h2>Tones</h2>
<table><thead><tr>{{range .ToneColumns}}<th>{{.}}</th>{{end}}</tr></thead>
<tbody>{{range .Tones}}<tr>{{range .}}<td>{{.}}</td>{{end}}</tr>{{end}}</tbody></table>{{end}}
{{if .Warnings}}<h2>Mind</h2><ul>{{range .Warnings}}<li>{{.}}</li>{{end}}</ul>{{end}}
</body>
</html>
`))

// HTML writes the report as one self-contained page to print. It loads nothing
// and runs nothing; what the design says stays text.
func (p *Page) HTML(w io.Writer) error {
	var drawing bytes.Buffer
	if err := p.Sheet.SVG(&drawing); err != nil {
		return err
	}
	svg := drawing.Bytes()
	if i := bytes.Index(svg, []byte("<svg")); i > 0 {
		svg = svg[i:] // an XML head has no place inside a page
	}
	return page.Execute(w, struct {
		*Page
		Style                       template.CSS
		Drawing                     template.HTML
		FeatureColumns, ToneColumns Row
	}{p, style, template.HTML(svg), FeatureColumns, ToneColumns})
}
