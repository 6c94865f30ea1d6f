package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// Bounds on a folder of records.
const (
	// MaxInFolder is the largest file that is read for a record in a folder,
	// bytes: two thousand times a usual one.
	MaxInFolder = 8 << 20
	// maxDepth is how many folders deep records are looked for.
	maxDepth = 64
	// atOnce is how many entries of a folder are read at once.
	atOnce = 512
)

// Below goes through all files below a folder, in no order, and hands each to
// found by its path, which begins with dir. What cannot be looked into comes
// with an error that says why: a folder without permission or too deep, a link
// to a folder, which is not followed so that no loop can be, a pipe or a device,
// which is not opened. A link to a file is taken for the file. It stops when ctx
// is done, with its error, and fails where dir itself is no folder that can be
// read.
func Below(ctx context.Context, dir string, found func(path string, err error)) error {
	type place struct {
		path  string
		depth int
	}
	info, err := os.Stat(dir)
	switch {
	case err != nil:
		return at(dir, fmt.Errorf("the folder cannot be reached (%w): give the folder that the records are in", reason(err)))
	case !info.IsDir():
		return at(dir, errors.New("this is not a folder: give the folder that the records are in"))
	}
	todo := []place{{dir, 0}}
	for len(todo) > 0 {
		here := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		err := entries(ctx, here.path, func(e fs.DirEntry) {
			path := filepath.Join(here.path, e.Name())
			kind := e.Type()
			linked := kind&fs.ModeSymlink != 0
			if linked {
				info, err := os.Stat(path)
				if err != nil {
					found(path, fmt.Errorf("a link that leads nowhere (%w)", reason(err)))
					return
				}
				kind = info.Mode().Type()
			}
			switch {
			case kind.IsDir() && linked:
				found(path, errors.New("a link to a folder, which is not followed"))
			case kind.IsDir() && here.depth+1 == maxDepth:
				found(path, fmt.Errorf("more than %d folders deep, and not looked into", maxDepth))
			case kind.IsDir():
				todo = append(todo, place{path, here.depth + 1})
			case !kind.IsRegular():
				found(path, errNoFile)
			default:
				found(path, nil)
			}
		})
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && here.depth == 0:
			return at(dir, fmt.Errorf("the folder cannot be read (%w): give one that you may read", reason(err)))
		case err != nil:
			found(here.path, fmt.Errorf("a folder that cannot be read (%w)", reason(err)))
		}
	}
	return nil
}

var errNoFile = errors.New("not a plain file, and not opened")

// entries reads a folder piece by piece.
func entries(ctx context.Context, dir string, each func(fs.DirEntry)) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	for ctx.Err() == nil {
		list, err := d.ReadDir(atOnce)
		for _, e := range list {
			each(e)
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

// A Reader reads files that may be records, one after the other, into one
// piece of memory. It is not for several goroutines at once.
type Reader struct{ data []byte }

// Read returns what the file holds, until the next call. It never waits for the
// other end of a pipe, and refuses what is larger than MaxInFolder unread.
func (r *Reader) Read(path string) ([]byte, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("it cannot be read (%w)", reason(err))
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return nil, fmt.Errorf("it cannot be read (%w)", reason(err))
	case !info.Mode().IsRegular():
		return nil, errNoFile
	case info.Size() > MaxInFolder:
		return nil, fmt.Errorf("larger than %d MiB, which no record of a practical is", MaxInFolder>>20)
	}
	// One byte more than it should have, so that one read finds the end. What
	// is still being written may grow meanwhile.
	size := int(info.Size()) + 1
	if cap(r.data) < size || cap(r.data) > 1<<20 && size < 1<<18 { // nor is a great piece kept for small ones
		r.data = make([]byte, 0, max(size, 16<<10))
	}
	r.data = r.data[:0]
	for {
		n, err := f.Read(r.data[len(r.data):cap(r.data)])
		r.data = r.data[:len(r.data)+n]
		if err == io.EOF || err == nil && len(r.data) == size-1 && n > 0 && cap(r.data) > size-1 {
			return r.data, nil
		}
		if err != nil {
			return nil, fmt.Errorf("it cannot be read (%w)", reason(err))
		}
		if len(r.data) > MaxInFolder {
			return nil, fmt.Errorf("larger than %d MiB, which no record of a practical is", MaxInFolder>>20)
		}
		if len(r.data) == cap(r.data) {
			r.data = append(r.data, 0)[:len(r.data)]
		}
	}
}

// Parse reads a half-deflection record from what its file holds. Path is only
// kept.
func Parse(path string, data []byte) (*Log, error) {
	log, err := halfDeflection.parse(data)
	if err == nil {
		log.Path = path
	}
	return log, err
}

// SumAgrees reports whether a line is sealed with its sum exactly as we seal it
// and the sum agrees; body is then the line without its sum and closing brace.
func SumAgrees(line []byte) (body []byte, sealed, agrees bool) {
	i := len(line) - sumLen
	if i <= 0 || string(line[i:i+len(sumStart)]) != sumStart || string(line[len(line)-len(sumEnd):]) != sumEnd {
		return nil, false, false
	}
	sum := uint32(0)
	for _, c := range line[i+len(sumStart) : len(line)-len(sumEnd)] {
		switch {
		case c >= '0' && c <= '9':
			sum = sum<<4 | uint32(c-'0')
		case c >= 'a' && c <= 'f':
			sum = sum<<4 | uint32(c-'a'+10)
		case c >= 'A' && c <= 'F':
			sum = sum<<4 | uint32(c-'A'+10)
		default:
			return nil, true, false
		}
	}
	return line[:i], true, sum == crc(line[:i])
}

// Stamp tells one state of a file from another: its size, and when it was last
// written to, in nanoseconds.
func Stamp(path string) (size, written int64, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, 0, reason(err)
	}
	return info.Size(), info.ModTime().UnixNano(), nil
}
