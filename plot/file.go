package plot

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// ErrFormat is wrapped by the error for a file name whose ending names no
// format this package writes.
var ErrFormat = errors.New("unknown picture format")

// WriteFile writes the sheet in the format the file name ends in: .svg, .png
// or .pdf. The file appears whole or not at all: it is written beside its
// place and moved there, replacing what was there before.
func (s Sheet) WriteFile(path string) error {
	var b bytes.Buffer
	var err error
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".svg":
		err = s.SVG(&b)
	case ".png":
		err = s.PNG(&b, 0)
	case ".pdf":
		err = s.PDF(&b)
	case "":
		return fmt.Errorf("plot: %q: %w: the name has no ending; want .svg, .png or .pdf", path, ErrFormat)
	default:
		return fmt.Errorf("plot: %q: %w %q: want .svg, .png or .pdf", path, ErrFormat, ext)
	}
	if err != nil {
		return err
	}
	if err := replaceFile(path, b.Bytes()); err != nil {
		return fmt.Errorf("plot: writing %q: %w", path, err)
	}
	return nil
}

// replaceFile puts data at path in one step. A link is followed, so that it
// stays a link.
func replaceFile(path string, data []byte) (err error) {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(data); err != nil {
		return err
	}
	mode := os.FileMode(0o644)
	if old, statErr := os.Stat(path); statErr == nil {
		mode = old.Mode().Perm()
	}
	if err = f.Chmod(mode); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
