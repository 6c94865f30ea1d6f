// Command readbytes only reads every file below a folder, on all cores: what
// halve class cannot be faster than.
//
//	go run ./testdata/peers/readbytes DIR
package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
)

func main() {
	paths := make(chan string, 1000)
	var all sync.WaitGroup
	var files, bytes atomic.Int64
	for range runtime.GOMAXPROCS(0) {
		all.Go(func() {
			for path := range paths {
				data, err := os.ReadFile(path)
				if err != nil {
					fmt.Fprintln(os.Stderr, err)
				}
				files.Add(1)
				bytes.Add(int64(len(data)))
			}
		})
	}
	err := filepath.WalkDir(os.Args[1], func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			paths <- path
		}
		return err
	})
	close(paths)
	all.Wait()
	fmt.Println(files.Load(), "files,", bytes.Load(), "bytes", err)
}
