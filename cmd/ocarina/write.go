package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// writeNew writes a file that must not exist yet.
func writeNew(path string, text []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return &codedError{code: failed, err: fmt.Errorf("%s exists already: name another file, or remove it first", path)}
	}
	if err != nil {
		return &codedError{code: failed, err: err}
	}
	_, err = f.Write(text)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return &codedError{code: failed, err: err}
	}
	return nil
}
