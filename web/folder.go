package web

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"sync"
	"time"

	"ocarina/design"
)

// folder is the one folder a server can reach. os.Root keeps every path inside
// it; on top of that only plain files at its top are touched, so that a link
// leads nowhere.
type folder struct {
	root  *os.Root
	path  string
	first string

	mu sync.Mutex // held from comparing a version to replacing the file
}

// Errors of a folder.
var (
	errName    = errors.New("a design's file name ends in .hcl or .hcl.json, holds no slash, and does not begin with a dot")
	errPlain   = errors.New("that is not a plain file")
	errTooLong = fmt.Errorf("the file is larger than %d bytes", design.MaxFileSize)
	errChanged = errors.New("the file has changed on disk since it was read")
	errExists  = errors.New("a file of that name exists already")
)

// DesignFile is one file of the folder.
type DesignFile struct {
	Name     string    `json:"name"`
	Title    string    `json:"title" doc:"as the design says; empty if it does not, or cannot be read"`
	Modified time.Time `json:"modified"`
}

// checkName keeps what is not a design's file out.
func checkName(name string) error {
	if name == "" || len(name) > 200 || strings.ContainsAny(name, "/\\\x00:") || strings.HasPrefix(name, ".") ||
		path.Base(name) != name || !isDesign(name) {
		return errName
	}
	for _, r := range name {
		if r < 0x20 || r == 0x7f {
			return errName
		}
	}
	return nil
}

func isDesign(name string) bool {
	lower := strings.ToLower(name)
	return strings.HasSuffix(lower, ".hcl") || strings.HasSuffix(lower, ".hcl.json")
}

// list returns the designs of the folder by name.
func (f *folder) list() ([]DesignFile, error) {
	dir, err := f.root.Open(".")
	if err != nil {
		return nil, err
	}
	defer dir.Close()
	entries, err := dir.ReadDir(-1)
	if err != nil {
		return nil, err
	}
	list := []DesignFile{}
	for _, e := range entries {
		if !e.Type().IsRegular() || checkName(e.Name()) != nil {
			continue
		}
		info, err := e.Info()
		if err != nil {
			continue
		}
		one := DesignFile{Name: e.Name(), Modified: info.ModTime()}
		if text, err := f.read(e.Name()); err == nil {
			if d, diags := design.ParseIn(f.root.FS(), text, e.Name()); !diags.HasErrors() {
				one.Title = d.Title
			}
		}
		list = append(list, one)
	}
	slices.SortFunc(list, func(a, b DesignFile) int { return strings.Compare(a.Name, b.Name) })
	return list, nil
}

// read returns a design file's bytes.
func (f *folder) read(name string) ([]byte, error) {
	if err := checkName(name); err != nil {
		return nil, err
	}
	info, err := f.root.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errPlain
	}
	file, err := f.root.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, design.MaxFileSize+1))
	if err != nil {
		return nil, err
	}
	if len(text) > design.MaxFileSize {
		return nil, errTooLong
	}
	return text, nil
}

// version names the content of a file.
func version(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:12])
}

// save replaces a design file in one step. The version is that of the file as
// it was read, or empty for a file that must not exist yet.
func (f *folder) save(name string, text []byte, was string) error {
	if err := checkName(name); err != nil {
		return err
	}
	if len(text) > design.MaxFileSize {
		return errTooLong
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	mode := fs.FileMode(0o644)
	info, err := f.root.Lstat(name)
	switch {
	case err == nil && !info.Mode().IsRegular():
		return errPlain
	case err == nil && was == "":
		return errExists
	case err == nil:
		now, err := f.read(name)
		if err != nil {
			return err
		}
		if version(now) != was {
			return errChanged
		}
		mode = info.Mode().Perm()
	case !errors.Is(err, fs.ErrNotExist):
		return err
	case was != "":
		return errChanged
	}
	return f.replace(name, text, mode)
}

func (f *folder) replace(name string, text []byte, mode fs.FileMode) error {
	tail := make([]byte, 6)
	rand.Read(tail)
	temporary := "." + name + "." + hex.EncodeToString(tail) + ".part"
	file, err := f.root.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	_, err = file.Write(text)
	if err == nil {
		err = file.Sync()
	}
	if closing := file.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = f.root.Rename(temporary, name)
	}
	if err != nil {
		f.root.Remove(temporary)
		return err
	}
	// The new name lasts only once the folder itself is written.
	if dir, err := f.root.Open("."); err == nil {
		dir.Sync()
		dir.Close()
	}
	return nil
}
