package command

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"example.org/halve/procedure"
)

// writeBench writes a bench file, which must not be there yet.
func writeBench(path string, b procedure.Bench) error {
	line, err := procedure.EncodeInput(b)
	if err != nil {
		return err
	}
	var text bytes.Buffer
	if err := json.Indent(&text, line, "", "  "); err != nil {
		return err
	}
	text.WriteByte('\n')
	bad := func(err error) error {
		var p *os.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		if errors.Is(err, fs.ErrExist) {
			err = errors.New("it is there already; name another")
		}
		return fmt.Errorf("bench file %s: %w", procedure.CleanText(path, 500), err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return bad(err)
	}
	_, err = f.Write(text.Bytes())
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		os.Remove(path) // half a file would only be in the way
		return bad(err)
	}
	return nil
}
