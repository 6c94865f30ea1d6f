package class

import (
	"context"
	"hash/maphash"
	"math"
	"path/filepath"

	"example.org/halve/procedure/record"
)

// A Follower looks at a folder again and again while its records grow. Each look
// reads anew only what has changed, and examines it. It is not for several
// goroutines at once.
type Follower struct {
	Dir       string
	Anonymous bool

	known  map[string]*followed
	reader record.Reader
	seed   maphash.Seed
	looks  int
}

type followed struct {
	size, written int64
	sheet         *Sheet // nil where it is no record
	why           error
	look          int // at which it was last there
}

// Look reads what has changed and gathers the class. It fails where the folder
// cannot be read.
func (f *Follower) Look(ctx context.Context) (*Class, error) {
	if f.known == nil {
		f.known, f.seed = map[string]*followed{}, maphash.MakeSeed()
	}
	f.looks++
	var strays []Unreadable
	err := record.Below(ctx, f.Dir, func(path string, why error) {
		if why != nil {
			strays = append(strays, stray(below(f.Dir, path), why))
			return
		}
		f.see(path)
	})
	if err != nil {
		return nil, err
	}
	var sheets []*Sheet
	for path, k := range f.known {
		switch {
		case k.look != f.looks: // taken away
			delete(f.known, path)
		case k.sheet == nil:
			strays = append(strays, stray(below(f.Dir, path), k.why))
		default:
			s := *k.sheet // whoever shows an earlier look has its own
			sheets = append(sheets, &s)
		}
	}
	c := Gather(sheets, strays)
	c.Anonymous = f.Anonymous
	return c, nil
}

// see looks at one file.
func (f *Follower) see(path string) {
	size, written, err := record.Stamp(path)
	k := f.known[path]
	if k != nil && err == nil && k.size == size && k.written == written {
		k.look = f.looks
		return
	}
	k = &followed{size: size, written: written, look: f.looks}
	f.known[path] = k
	data, err := load(&f.reader, path)
	var log *record.Log
	if err == nil {
		log, err = record.Parse(path, data)
	}
	if err != nil {
		k.why = err
		return
	}
	s := examine(log, math.NaN(), math.NaN())
	if s.State == Cut { // a line is being written
		s.State = Unfinished
	}
	s.path = below(f.Dir, path)
	s.File, s.hash = shown(s.path), maphash.Bytes(f.seed, data)
	k.sheet = &s
}

// Folders lists the folders to watch for changes: Dir and those that have files.
func (f *Follower) Folders() []string {
	seen := map[string]bool{f.Dir: true}
	out := []string{f.Dir}
	for path := range f.known {
		if dir := filepath.Dir(path); !seen[dir] && len(out) < mostFolders {
			seen[dir] = true
			out = append(out, dir)
		}
	}
	return out
}

// mostFolders bounds what is watched: systems allow only so many.
const mostFolders = 100

// Lead is the likeliest finding of a record that was examined.
func (s *Sheet) Lead() (id string, probability float64, ok bool) {
	f, ok := s.lead()
	return f.ID, f.Probability, ok
}
