package record

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"example.org/halve/procedure"
	"github.com/gofrs/flock"
)

// A store is where the lines of a record go. Only a file on disk is one; the
// tests put others in its place that fail on purpose.
type store interface {
	WriteAt(p []byte, off int64) (int, error)
	Sync() error
	Truncate(size int64) error
	// Intact reports whether this is still what the path names, and of the
	// given size.
	Intact(size int64) error
	Close() error
}

// disk is a record's file, held against a second writer.
type disk struct {
	*os.File
	lock *flock.Flock
	path string
}

// openDisk opens an existing file for writing and locks it.
func openDisk(path string) (*disk, error) {
	if _, err := regular(path); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, fmt.Errorf("the record cannot be opened for writing (%w): copy it to where you may write", reason(err))
	}
	return lockDisk(f, path)
}

// createDisk creates a file that is not there yet and locks it.
func createDisk(path string) (*disk, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o644)
	switch {
	case errors.Is(err, fs.ErrExist):
		return nil, fmt.Errorf("the name is taken (%w): give another, or resume the record", reason(err))
	case err != nil:
		return nil, fmt.Errorf("the record cannot be begun (%w): give a name in a folder that is there and that you may write to", reason(err))
	}
	d, err := lockDisk(f, path)
	if err != nil && !errors.Is(err, errBusy) { // which is another's now
		os.Remove(path)
	}
	return d, err
}

var errBusy = errors.New("the record is open in another window or program: go on there, or close it first")

// lockDisk takes the lock for f, or closes it.
//
// On Unix the lock is on the file itself, so it holds whatever name the file
// is reached by. On Windows a locked file could not be read by others, so the
// lock is on a file beside it, which is removed when the record is closed.
func lockDisk(f *os.File, path string) (*disk, error) {
	lock := flock.New(path, flock.SetFlag(os.O_RDWR))
	if runtime.GOOS == "windows" {
		lock = flock.New(path+".lock", flock.SetFlag(os.O_RDWR|os.O_CREATE))
	}
	got, err := lock.TryLock()
	switch {
	case err != nil:
		err = fmt.Errorf("the record cannot be locked against a second writer (%w): keep it on another disk", reason(err))
	case !got:
		err = errBusy
	default:
		return &disk{File: f, lock: lock, path: path}, nil
	}
	f.Close()
	return nil, err
}

// Close closes the file and gives the lock back.
func (d *disk) Close() error {
	err := errors.Join(d.File.Close(), d.lock.Unlock())
	if runtime.GOOS == "windows" {
		// Windows lets nobody remove a file that another has open, so this
		// never takes the lock away from a writer who came in between.
		os.Remove(d.lock.Path())
	}
	return err
}

// Intact implements store.
func (d *disk) Intact(size int64) error {
	open, err := d.Stat()
	if err != nil {
		return reason(err)
	}
	named, err := os.Stat(d.path)
	if err != nil {
		return fmt.Errorf("the file is no longer where it was (%w)", reason(err))
	}
	if !os.SameFile(open, named) {
		return errors.New("another file has been put in its place")
	}
	if open.Size() != size {
		return errors.New("another program has written to the file; leave and resume the record")
	}
	return nil
}

// regular returns the size of a plain file that may be a record.
func regular(path string) (int64, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, fmt.Errorf("there is no such record (%w)", reason(err))
	case err != nil:
		return 0, fmt.Errorf("the record cannot be reached (%w)", reason(err))
	case info.IsDir():
		return 0, errors.New("this is a folder: give the name of a record")
	case !info.Mode().IsRegular():
		return 0, errors.New("this is not a plain file: give the name of a record")
	case info.Size() > MaxSize:
		return 0, fmt.Errorf("this is larger than %d MiB, which no record of a practical is", MaxSize>>20)
	}
	return info.Size(), nil
}

// readAll reads what may be a record.
func readAll(r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxSize+1))
	if err != nil {
		return nil, fmt.Errorf("the record cannot be read (%w)", reason(err))
	}
	if len(data) > MaxSize {
		return nil, fmt.Errorf("this is larger than %d MiB, which no record of a practical is", MaxSize>>20)
	}
	return data, nil
}

// readFile reads what may be a record, without a lock.
func readFile(path string) ([]byte, error) {
	if _, err := regular(path); err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the record cannot be read (%w)", reason(err))
	}
	defer f.Close()
	return readAll(f)
}

// writeNew writes a new file under the first of the names that is not taken,
// synced with its folder, and returns that name. What could not be written
// whole is removed.
func writeNew(name func(n int) string, data []byte) (path string, err error) {
	var f *os.File
	for n := 1; n <= 1000; n++ {
		path = name(n)
		if f, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644); !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	if err != nil {
		return "", err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = syncDir(filepath.Dir(path))
	}
	if err != nil {
		os.Remove(path)
		return "", err
	}
	return path, nil
}

// syncDir makes the names in a folder last, on systems that let a program ask
// for it: Windows has no such call, and some network and stick file systems
// refuse it.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if errors.Is(err, fs.ErrPermission) {
		return nil // a folder that may be written to and not listed
	}
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, syscall.EINVAL) {
		return err
	}
	return nil
}

// reason takes the operation and the path off an error of the file system:
// the path is said once, and cleaned, by at.
func reason(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

// at says which file an error is about.
func at(path string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", procedure.CleanText(path, 500), err)
}
