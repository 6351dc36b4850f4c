package report

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ocarina/design"
	"ocarina/internal/need"
	"ocarina/quantity"
)

func pageOf(t testing.TB, text string) *Page {
	t.Helper()
	d, diags := design.Parse([]byte(text), "box.hcl")
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	m, diags := design.Build(d)
	if diags.HasErrors() {
		t.Fatal(diags)
	}
	p, err := Of(m, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func sample(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("testdata/dunlin.hcl")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// The PDF is read by a program that knows nothing of this one.
func TestPDFIsOnePageWithItsWords(t *testing.T) {
	tool := need.Program(t, "pdftotext")
	p := pageOf(t, sample(t))
	file := filepath.Join(t.TempDir(), "box.pdf")
	var out bytes.Buffer
	if err := p.PDF(&out); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	text, err := exec.Command(tool, "-layout", file, "-").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	if n := bytes.Count(text, []byte("\f")); n != 1 {
		t.Errorf("%d pages, want 1", n)
	}
	for _, want := range []string{"Dunlin", "near", "0.95 L", "110 mm × 140 mm × 150 mm", "mouth", p.Features[1][1], p.Features[1][4], p.Tones[0][1], "air speed in mouth"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the page does not say %q:\n%s", want, text)
		}
	}
}

// A crowded design still makes one page, and says what it left out.
func TestPDFOfACrowdedDesign(t *testing.T) {
	tool := need.Program(t, "pdftotext")
	text := sample(t) + "\n"
	for i := range 40 {
		text += "leak \"crack" + string(rune('a'+i%26)) + string(rune('a'+i/26)) + "\" {\n from = chamber.far\n to = outside\n resistance = \"1e7 Pa*s/m3\"\n}\n"
	}
	tones := make([]string, 60)
	for i := range tones {
		tones[i] = "\"" + quantity.Format(float64(40+10*i), "Hz") + "\""
	}
	text = strings.Replace(text, `tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]`, "tones = ["+strings.Join(tones, ", ")+"]", 1)
	var out bytes.Buffer
	if err := pageOf(t, text).PDF(&out); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "crowded.pdf")
	if err := os.WriteFile(file, out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command(tool, "-layout", file, "-").CombinedOutput()
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(said, []byte("\f")); n != 1 {
		t.Errorf("%d pages, want 1", n)
	}
	if !strings.Contains(string(said), "more parts") || !strings.Contains(string(said), "more") {
		t.Errorf("nothing says what was left out:\n%s", said)
	}
}

// What a design says stays text in the page, whatever it is.
func TestHTMLKeepsTextText(t *testing.T) {
	text := strings.Replace(sample(t), `title = "Dunlin"`, `title = "<script>alert(1)</script>"`, 1)
	text = strings.Replace(text, `driver "small"`, "notes = \"<img src=x onerror=alert(2)>\"\nauthor = \"</style><b>\"\ndriver \"small\"", 1)
	var out bytes.Buffer
	if err := pageOf(t, text).HTML(&out); err != nil {
		t.Fatal(err)
	}
	html := out.String()
	for _, bad := range []string{"<script", "<img", "</style><b>"} {
		if strings.Contains(html, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if !strings.Contains(html, "&lt;script&gt;alert(1)&lt;/script&gt;") {
		t.Error("the title is not there as text")
	}
	if strings.Contains(html, "http://") && !strings.Contains(html, "http://www.w3.org/") {
		t.Error("the page names an address")
	}
}
