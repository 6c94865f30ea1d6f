package record

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"example.org/halve/procedure"
)

// extension ends the name of a record that we choose ourselves.
const extension = ".jsonl"

// CopyTo copies the record src into the folder dir, under the given name or,
// where that is taken, the name with a number; nothing is overwritten. The
// copy is synced, read again and compared. It returns the path of the copy.
// A name ends in .jsonl; a missing ending is added.
func CopyTo(src, dir, name string) (string, error) {
	data, err := readFile(src)
	if err == nil {
		err = check(data)
	}
	if err != nil {
		return "", at(src, err)
	}
	if info, err := os.Stat(dir); err != nil {
		return "", at(dir, fmt.Errorf("there is nowhere to copy to (%w): put the stick in, or name a folder that is there", reason(err)))
	} else if !info.IsDir() {
		return "", at(dir, errors.New("this is not a folder: name the folder that the copy is to go to"))
	}
	stem := strings.TrimSuffix(name, extension)
	path, err := writeNew(func(n int) string { return filepath.Join(dir, numbered(stem, n)) }, data)
	if err != nil {
		return "", at(dir, fmt.Errorf("the record cannot be copied (%w): make room, or name another folder", reason(err)))
	}
	back, err := readFile(path)
	if err == nil && !bytes.Equal(back, data) {
		err = errors.New("the copy is not the same as the record: try another stick")
	}
	if err != nil {
		return "", at(path, err)
	}
	return path, nil
}

// CopyTo copies the record into a folder, such as a stick, named by the group
// and the instrument.
func (s *Keeping[S, C]) CopyTo(dir string) (string, error) {
	if s.path == "" {
		return "", errors.New("this practical leaves no record, so there is nothing to copy")
	}
	s.writing.Lock() // so that no half line is copied
	defer s.writing.Unlock()
	return CopyTo(s.path, dir, s.of.copyName(&s.log))
}

// copyName is the name for a copy of a record: by its group and the label of
// its instrument, as far as they are stated, or else by the time at which it
// was begun. It has letters, digits and hyphens only, and so is a name on
// every common file system.
func (p Practical[S, C]) copyName(l *Kept[S]) string {
	group := ""
	for _, e := range l.Events {
		if who, ok := e.Body.(procedure.Who); ok && who.Group != "" && l.State.Struck(e.Seq) == 0 {
			group = nameable(who.Group)
		}
	}
	stem := "halve"
	for _, part := range []string{group, nameable(p.Instrument(l.State))} {
		if part != "" {
			stem += "-" + part
		}
	}
	if stem == "halve" {
		stem += l.Header.Begun.Format("-2006-01-02-1504")
	}
	return stem + extension
}

// numbered is the n-th name that is tried for a record.
func numbered(stem string, n int) string {
	if n == 1 {
		return stem + extension
	}
	return fmt.Sprintf("%s-%d%s", stem, n, extension)
}

// nameable makes text fit to be part of a file name: runs of anything but
// letters, their marks and digits become one hyphen, and what is longer than
// maxPart bytes is cut. File systems hold 255 bytes or more in a name.
func nameable(s string) string {
	const maxPart = 80
	var b strings.Builder
	for _, r := range s {
		if !unicode.In(r, unicode.L, unicode.M, unicode.Nd) || r == unicode.ReplacementChar {
			r = '-'
		}
		if r == '-' && (b.Len() == 0 || strings.HasSuffix(b.String(), "-")) {
			continue
		}
		if b.Len()+len(string(r)) > maxPart {
			break
		}
		b.WriteRune(r)
	}
	return strings.Trim(b.String(), "-")
}
