//go:build !unix

package record

import "errors"

func limitFileSize(uint64) (func() error, error) {
	return nil, errors.New("this system has no limit on the size of a file")
}
