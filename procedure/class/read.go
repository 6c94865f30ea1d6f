package class

import (
	"cmp"
	"context"
	"errors"
	"hash/maphash"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"example.org/halve/procedure"
	"example.org/halve/procedure/record"
)

// Of a folder of up to Closely records each is examined; of a larger one those
// Neediest that most need attention.
const (
	Closely  = 300
	Neediest = 100
)

// Options are how a folder is read.
type Options struct {
	// Workers is the number of records read at once, 0 for one on each core.
	Workers int
	// Progress, if there is one, is told after each file how many are read, of
	// how many, 0 while that is not known; then the same of the records that are
	// examined. It may be called from several goroutines.
	Progress func(stage Stage, done, of int)
}

// Stage is what is being done.
type Stage string

// The stages of reading a folder.
const (
	Reading   Stage = "reading"
	Examining Stage = "examining"
)

const (
	// batch is how many files are handed to a worker at once.
	batch = 64
	// ahead is how many batches are listed before they are read, so that it is
	// soon known how many there are: those of 100,000 files.
	ahead = 100_000/batch + 1
)

// Read reads every record below a folder and makes a class of them. Where ctx is
// done meanwhile, what has been read so far is the class, and Stopped is set. It
// fails only where the folder itself cannot be read.
func Read(ctx context.Context, dir string, o Options) (*Class, error) {
	workers := o.Workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	files := make(chan []string, ahead)
	seed := maphash.MakeSeed()
	var known, done atomic.Int64
	tell := func(stage Stage, done, of int64) {
		if o.Progress != nil {
			o.Progress(stage, int(done), int(of))
		}
	}
	lots := make([]lot, workers)
	var all sync.WaitGroup
	for i := range lots {
		all.Go(func() {
			l := &lots[i]
			l.quick, l.seed = newQuick(), seed
			for paths := range files {
				for _, path := range paths {
					if ctx.Err() != nil {
						break
					}
					l.read(dir, path)
					tell(Reading, done.Add(1), known.Load())
				}
			}
		})
	}
	var strays []Unreadable
	var paths []string
	listed := int64(0)
	send := func() {
		if len(paths) > 0 {
			select {
			case files <- paths:
			case <-ctx.Done():
			}
			paths = nil
		}
	}
	err := record.Below(ctx, dir, func(path string, why error) {
		if why != nil {
			strays = append(strays, stray(below(dir, path), why))
			return
		}
		listed++
		if paths = append(paths, path); len(paths) == batch {
			send()
		}
	})
	send()
	known.Store(listed)
	close(files)
	all.Wait()
	if err != nil && ctx.Err() == nil {
		return nil, err
	}
	var sheets []*Sheet
	for i := range lots {
		sheets = append(sheets, lots[i].sheets...)
		strays = append(strays, lots[i].strays...)
		lots[i].quick = nil
	}
	c := Gather(sheets, strays)
	if ctx.Err() == nil {
		c = examineAll(ctx, dir, c, workers, tell)
	}
	c.Stopped = ctx.Err() != nil
	return c, nil
}

// lot is what one worker has read.
type lot struct {
	quick  *quick
	seed   maphash.Seed
	reader record.Reader
	room   []Sheet // sheets are made by the hundred
	sheets []*Sheet
	strays []Unreadable
}

// below is a path as seen from the folder.
func below(dir, path string) string {
	if name, err := filepath.Rel(dir, path); err == nil {
		return name
	}
	return path
}

// shown is a file's name as it is shown: harmless.
func shown(name string) string {
	if name = filepath.ToSlash(name); plain([]byte(name), 500) {
		return name
	}
	return procedure.CleanText(name, 500)
}

var errEmpty = errors.New("empty: nothing was recorded, or the copy failed")

// load reads what a file holds.
func load(r *record.Reader, path string) ([]byte, error) {
	data, err := r.Read(path)
	if err == nil && len(data) == 0 {
		err = errEmpty
	}
	return data, err
}

// stray is a file of the folder that is no record, and why it is none.
func stray(name string, why error) Unreadable {
	if errors.Is(why, record.ErrNoRecord) { // whose own words say what to call instead
		return Unreadable{shown(name), "not a record of a practical"}
	}
	return Unreadable{shown(name), why.Error()}
}

// read reads one file.
func (l *lot) read(dir, path string) {
	name := below(dir, path)
	data, err := load(&l.reader, path)
	var s Sheet
	if err == nil {
		var ok bool
		if s, ok = l.quick.read(data); !ok {
			s, err = foldData(name, data)
		}
	}
	if err != nil {
		l.strays = append(l.strays, stray(name, err))
		return
	}
	s.File, s.path, s.hash = shown(name), name, maphash.Bytes(l.seed, data)
	if len(l.room) == 0 {
		l.room = make([]Sheet, 256)
	}
	l.room[0] = s
	l.sheets = append(l.sheets, &l.room[0])
	l.room = l.room[1:]
}

// foldData reads a record in full.
func foldData(name string, data []byte) (Sheet, error) {
	log, err := record.Parse(name, data)
	if err != nil {
		return Sheet{}, err
	}
	return fold(log, procedure.Tally), nil
}

// examineAll examines the records of a class, or those that need it most, and
// gathers anew. What stands in a sheet's G and k is then what "halve result"
// says, where all are examined; where they are not, the least squares of all
// stay, so that like is compared with like.
func examineAll(ctx context.Context, dir string, c *Class, workers int, tell func(Stage, int64, int64)) *Class {
	var of []*Sheet
	for _, s := range c.Records {
		if s.copyOf == nil {
			of = append(of, s)
		}
	}
	everyone := len(of) <= Closely
	if !everyone {
		of = of[:Neediest]
	}
	var next, done atomic.Int64
	var all sync.WaitGroup
	fresh := make([]*Sheet, len(of))
	for range workers {
		all.Go(func() {
			var reader record.Reader
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(of) {
					return
				}
				fresh[i] = c.again(&reader, dir, of[i])
				tell(Examining, done.Add(1), int64(len(of)))
			}
		})
	}
	all.Wait()
	for i, s := range fresh {
		if s == nil {
			continue
		}
		if old := of[i]; everyone {
			s.File, s.path, s.hash = old.File, old.path, old.hash
			*old = *s
		} else {
			old.Closely = s.Closely
		}
	}
	if everyone {
		for _, s := range c.Records { // what is the same says the same
			if of := s.copyOf; of != nil && s.hash == of.hash {
				file, path := s.File, s.path
				*s = *of
				s.File, s.path = file, path
			}
		}
		return Gather(c.Records, c.Unreadable)
	}
	c.judge()
	c.count()
	return c
}

// again reads a record once more, to examine it; nil where it can no longer be
// read or is not what it was.
func (c *Class) again(reader *record.Reader, dir string, s *Sheet) *Sheet {
	data, err := reader.Read(filepath.Join(dir, s.path))
	if err != nil {
		return nil
	}
	log, err := record.Parse(s.File, data)
	if err != nil {
		return nil
	}
	g, k := math.NaN(), math.NaN()
	if s.instrument >= 0 && (s.ofG.apart || s.ofK.apart) {
		if in := &c.Instruments[s.instrument]; in.Pairs > 2 {
			g, k = in.G.Value.X, in.K.Value.X
		}
	}
	out := examine(log, g, k)
	return &out
}

// Sorted are the records in the order of their files.
func (c *Class) Sorted() []*Sheet {
	return slices.SortedFunc(slices.Values(c.Records), func(a, b *Sheet) int { return cmp.Compare(a.File, b.File) })
}
