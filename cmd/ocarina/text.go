package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/mitchellh/go-wordwrap"
	"github.com/spf13/pflag"

	"ocarina/design"
)

// table sets columns of text: the first column to the left if it holds words,
// numbers to the right.
type table struct {
	head []string
	rows [][]string
	left map[int]bool
}

func newTable(head ...string) *table { return &table{head: head, left: map[int]bool{}} }

func (t *table) column(name string)  { t.head = append(t.head, name) }
func (t *table) row(cells ...string) { t.rows = append(t.rows, cells) }
func (t *table) words(columns ...int) {
	for _, c := range columns {
		t.left[c] = true
	}
}

func (t *table) write(w io.Writer) {
	width := make([]int, len(t.head))
	for i, h := range t.head {
		width[i] = utf8.RuneCountInString(h)
	}
	for _, r := range t.rows {
		for i, c := range r {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	line := func(cells []string) {
		var b strings.Builder
		for i, c := range cells {
			if i > 0 {
				b.WriteString("  ")
			}
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if t.left[i] {
				b.WriteString(c + pad)
			} else {
				b.WriteString(pad + c)
			}
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	line(t.head)
	for _, r := range t.rows {
		line(r)
	}
}

// number writes a number with so many significant digits, without exponents
// where people would not use them.
func number(v float64, digits int) string {
	if v == 0 {
		return "0"
	}
	places := digits - 1 - int(math.Floor(math.Log10(math.Abs(v))))
	if places > 6 {
		return strconv.FormatFloat(v, 'g', max(digits-1, 1), 64)
	}
	return strconv.FormatFloat(v, 'f', max(places, 0), 64)
}

// fixed writes a number with so many digits behind the point. What rounds to
// nothing has no sign.
func fixed(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// signed writes a change with its sign.
func signed(v float64, places int) string {
	s := fixed(v, places)
	if !strings.HasPrefix(s, "-") {
		s = "+" + s
	}
	return s
}

// numbers adds a flag that takes numbers with commas between.
func numbers(f *pflag.FlagSet, list *[]float64, name, usage string) {
	f.Float64SliceVar(list, name, nil, usage)
	f.Lookup(name).DefValue = "" // its help would show an empty list
}

// heading writes a design's title and what else it says about itself.
func heading(w io.Writer, d *design.Design) {
	title := d.Title
	if title == "" && d.Source != nil {
		title = d.Source.Filename
	}
	if d.Author != "" {
		title += ", by " + d.Author
	}
	fmt.Fprintln(w, title)
	if d.Notes != "" {
		paragraph(w, "", d.Notes)
	}
	fmt.Fprintln(w)
}

// paragraph writes wrapped text under a hanging sign.
func paragraph(w io.Writer, sign, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(sign))
	lines := strings.Split(wordwrap.WrapString(text, uint(max(columns(w)-len(indent), 30))), "\n")
	for i, l := range lines {
		if i == 0 {
			fmt.Fprintln(w, sign+l)
			continue
		}
		fmt.Fprintln(w, indent+l)
	}
}

func warnings(w io.Writer, list []string) {
	for _, s := range list {
		paragraph(w, "Mind: ", s)
	}
}
