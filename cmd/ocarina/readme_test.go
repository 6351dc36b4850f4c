package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"
)

// Every `$ ocarina …` shown in the README is run, and its output is what stands
// below it: standard output, or what a refused question is told.
func TestReadme(t *testing.T) {
	t.Chdir("../..")
	old, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	examples := 0
	lines := strings.Split(string(old), "\n")
	for i := 0; i < len(lines); i++ {
		b.WriteString(lines[i])
		if i < len(lines)-1 {
			b.WriteByte('\n')
		}
		if lines[i] != "```console" {
			continue
		}
		for i++; i < len(lines) && lines[i] != "```"; i++ {
			asked, ok := strings.CutPrefix(lines[i], "$ ocarina ")
			if !ok {
				continue
			}
			examples++
			var out, errs bytes.Buffer
			run(context.Background(), strings.Fields(asked), &out, &errs)
			text := out.String()
			if text == "" {
				text = errs.String()
			}
			b.WriteString(lines[i] + "\n" + strings.TrimRight(text, "\n") + "\n")
		}
		b.WriteString("```\n")
	}
	if examples < 4 {
		t.Fatalf("the README shows %d examples", examples)
	}
	if b.String() == string(old) {
		return
	}
	if *update {
		if err := os.WriteFile("README.md", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Error("the README shows other output than the command gives: run go test ./cmd/ocarina -update and look at the difference")
}
