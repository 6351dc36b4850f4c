package web

import (
	"bytes"
	"embed"
	"io/fs"
	"log"
	"mime"
	"net/http"
	"os"
	"path"
	"strings"
	"time"
)

//go:embed all:ui/dist
var built embed.FS

var faults = log.New(os.Stderr, "ocarina: ", 0)

const notBuilt = `<!doctype html>
<html lang="en"><meta charset="utf-8"><title>Ocarina</title>
<h1>The page is not built yet</h1>
<p>This program was built without the page's assets. Run <code>make ui</code>, then build it again.
The API works meanwhile; <a href="/api/openapi.json">its description</a>.</p>
</html>
`

// servePage serves the built page, or a plain one that says how to build it.
func servePage(mux *http.ServeMux) {
	assets, err := fs.Sub(built, "ui/dist")
	if err != nil {
		panic(err)
	}
	mux.Handle("GET /", pageFrom(assets))
}

func pageFrom(assets fs.FS) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := strings.TrimPrefix(path.Clean(r.URL.Path), "/")
		if name == "" {
			name = "index.html"
		}
		text, err := fs.ReadFile(assets, name)
		switch {
		case err != nil && name == "index.html":
			w.Header().Set("Content-Type", "text/html; charset=utf-8")
			w.Write([]byte(notBuilt))
			return
		case err != nil || strings.HasPrefix(path.Base(name), "."):
			refuse(w, http.StatusNotFound, "There is nothing here.")
			return
		}
		if kind := mime.TypeByExtension(path.Ext(name)); kind != "" {
			w.Header().Set("Content-Type", kind)
		}
		if strings.HasPrefix(name, "assets/") {
			// Their names change with their content.
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		} else {
			w.Header().Set("Cache-Control", "no-cache")
		}
		http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(text))
	})
}
