//go:build unix

package record

import (
	"os/signal"
	"syscall"
)

// limitFileSize makes the system refuse to let a file of this process grow
// beyond so many bytes, as a full disk would, and returns what lifts that.
func limitFileSize(n uint64) (lift func() error, err error) {
	signal.Ignore(syscall.SIGXFSZ) // so that the write fails and the process lives
	var old syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		return nil, err
	}
	limit := old
	limit.Cur = n
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		return nil, err
	}
	return func() error { return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old) }, nil
}
