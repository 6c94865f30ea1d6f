package class

import (
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"time"

	"example.org/halve/physics/apparatus"
	"example.org/halve/physics/bench"
	"example.org/halve/procedure"
)

var afternoon = time.Date(2025, 3, 4, 13, 0, 0, 0, time.UTC)

func ptr(v float64) *float64 { return &v }

func plugs(decades int) []float64 {
	var out []float64
	for d, v := 0, 1.0; d < decades; d, v = d+1, v*10 {
		out = append(out, v, 2*v, 2*v, 5*v)
	}
	return out
}

// seal ends a line with its sum as package record does.
func seal(line []byte) []byte {
	return fmt.Appendf(nil, "%s,\"sum\":\"%08x\"}", line[:len(line)-1], crc32.Checksum(line, crc32.MakeTable(crc32.Castagnoli)))
}

// head is a record's first line.
func head(id string, begun time.Time) []byte {
	return append(seal(fmt.Appendf(nil, `{"record":"halve","version":1,"procedure":"half-deflection","id":%q,"begun":%q}`, id, begun.Format(time.RFC3339Nano))), '\n')
}

// page writes events as the file of a record.
func page(id string, begun time.Time, bodies []procedure.Body) []byte {
	out := head(id, begun)
	for i, b := range bodies {
		e := procedure.Event{Seq: i + 1, At: begun.Add(time.Duration(i+1) * 45 * time.Second), Body: b}
		line, err := e.Encode()
		if err != nil {
			panic(err)
		}
		out = append(append(out, seal(line)...), '\n')
	}
	return out
}

// The generator of classes. A class has 30 pairs at 5 instruments, six pairs
// each, and 10 cells, of which each serves three pairs at different instruments.
// Instruments and cells are drawn as the simulated bench draws them; every cell
// is new to 1 % of its stated EMF, stated with that as its standard uncertainty.
// Three cells ail: they have fallen to 70 to 92 % of their EMF. Four pairs, not
// on those cells, make a mistake that stays through all their rows, of those
// listed; its size is the simulated bench's. Every pair takes five rows at
// deflections and shunts of its own, reads two zeros and finishes.
type made struct {
	pairs  []madePair
	ailing map[string]bool
}

type madePair struct {
	file         string
	data         []byte
	instrument   string
	cell         string
	mistake      string
	trueG, trueK float64
}

// mistakes are those that a class can have planted. Each is systematic: no row
// of the pair's own need contradict another.
var mistakes = []string{"shunt-contact", "inner-shunt", "leakage", "shunt-plug", "series-plug", "zero-off", "source-doubled", "scale-misread", "shunt-complement", "series-complement"}

const (
	classPairs, classInstruments, classCells, classAiling, classMistakes = 30, 5, 10, 3, 4
)

func makeClass(seed uint64) made {
	r := rand.New(rand.NewPCG(seed, 77))
	c := made{ailing: map[string]bool{}}
	type instrument struct {
		g, k  float64
		plate apparatus.Galvanometer
	}
	var instruments []instrument
	for i := range classInstruments {
		g, full := 60+80*r.Float64(), 0.4e-3*math.Pow(2, r.Float64())
		plate := apparatus.Galvanometer{Label: fmt.Sprintf("G %d", i+1), Divisions: 30, Zero: apparatus.CentreZero, Resolution: 0.5,
			FullScale: ptr(math.Round(full*(1+0.03*r.NormFloat64())*1e5) / 1e5)}
		instruments = append(instruments, instrument{g, full / 30, plate})
	}
	emf := make([]float64, classCells)
	ail := r.Perm(classCells)[:classAiling]
	for i := range emf {
		emf[i] = 1.5 * (1 + 0.01*r.NormFloat64())
	}
	for _, i := range ail {
		emf[i] *= 0.7 + 0.22*r.Float64()
		c.ailing[fmt.Sprintf("cell %c", 'A'+i)] = true
	}
	bad := map[int]bool{}
	for len(bad) < classMistakes {
		if p := r.IntN(classPairs); !c.ailing[cellOf(p)] {
			bad[p] = true
		}
	}
	for p := range classPairs {
		in := instruments[p%classInstruments]
		stated := apparatus.Bench{
			Source:       apparatus.Source{Label: cellOf(p), EMF: 1.5, UEMF: ptr(0.015)},
			Galvanometer: in.plate,
			SeriesBox:    apparatus.Box{Label: fmt.Sprintf("R %d", p), Kind: apparatus.Plug, Coils: plugs(4), Tolerance: 0.002},
			ShuntBox:     apparatus.Box{Label: fmt.Sprintf("S %d", p), Kind: apparatus.Plug, Coils: plugs(3), Tolerance: 0.005},
		}
		h := bench.Draw(stated, r)
		h.EMF, h.Resistance, h.Merit = emf[int(cellOf(p)[5]-'A')], in.g, in.k
		b, err := bench.New(stated, h, r)
		if err != nil {
			panic(err)
		}
		m := madePair{file: fmt.Sprintf("pair-%02d.jsonl", p+1), instrument: in.plate.Label, cell: cellOf(p), trueG: in.g, trueK: in.k}
		if bad[p] {
			m.mistake = mistakes[r.IntN(len(mistakes))]
			if err := b.Plant(m.mistake); err != nil {
				panic(err)
			}
		}
		bodies := practical(stated, b, r, fmt.Sprintf("Pair %d", p+1))
		m.data = page(fmt.Sprintf("S%dP%d", seed, p+1), afternoon.Add(time.Duration(p)*time.Minute), bodies)
		c.pairs = append(c.pairs, m)
	}
	return c
}

// cellOf spreads the cells so that the three pairs of a cell have different
// instruments.
func cellOf(pair int) string {
	return fmt.Sprintf("cell %c", 'A'+(pair/classInstruments+pair%classInstruments*2)%classCells)
}

// practical is a pair that works quickly: it finds a deflection by two trials,
// and takes five rows with the shunt near what halves it.
func practical(stated apparatus.Bench, b *bench.Bench, r *rand.Rand, names string) []procedure.Body {
	series, _ := apparatus.NewRange(stated.SeriesBox)
	shunt, _ := apparatus.NewRange(stated.ShuntBox)
	bodies := []procedure.Body{procedure.Bench{Bench: stated}, procedure.Who{Names: names}, procedure.Wired{}}
	zero := func() {
		b.SetKeys(false, false)
		z, _ := b.Read()
		bodies = append(bodies, procedure.ZeroRead{Div: z})
	}
	zero()
	read := func(k2 bool) (div float64, off bool) {
		b.SetKeys(true, k2)
		div, off = b.Read()
		b.SetKeys(false, false)
		body := &div
		if off {
			body = nil
		}
		if k2 {
			bodies = append(bodies, procedure.ShuntedRead{Div: body, OffScale: off})
		} else {
			bodies = append(bodies, procedure.FirstRead{Div: body, OffScale: off})
		}
		return div, off
	}
	setSeries := func(ohm float64) float64 {
		set, ok := series.Nearest(math.Round(ohm/10) * 10)
		if !ok || b.SetSeries(set.Ohm, set.Coils) != nil {
			panic("no such setting")
		}
		bodies = append(bodies, procedure.SeriesSet{Ohm: set.Ohm, TakeOut: set.Coils})
		return set.Ohm
	}
	at := setSeries(8000)
	div, _ := read(false)
	loop := max(1, math.Abs(div)) * (at + 100)
	p := 80.0
	for row := range 5 {
		target := 28 - 2.5*float64(row) + r.Float64()
		at = setSeries(min(11000, max(100, loop/target-100)))
		first, off := read(false)
		if off {
			loop *= 1.3
			at = setSeries(min(11000, loop/target-100))
			if first, off = read(false); off {
				continue
			}
		}
		if math.Abs(first) < 2 {
			continue
		}
		loop = math.Abs(first) * (at + 100)
		for range 2 {
			set, ok := shunt.Nearest(math.Max(2, math.Round(p*(0.8+0.4*r.Float64()))))
			if !ok || b.SetShunt(set.Ohm, set.Coils) != nil {
				panic("no such setting")
			}
			bodies = append(bodies, procedure.ShuntSet{Ohm: set.Ohm, TakeOut: set.Coils})
			shunted, off := read(true)
			if off || math.Abs(shunted) < 1 || math.Abs(shunted) > math.Abs(first)-1 {
				break
			}
			p = min(500, max(5, set.Ohm*(math.Abs(first)-math.Abs(shunted))/math.Abs(shunted)))
			if ratio := shunted / first; ratio > 0.3 && ratio < 0.7 {
				break
			}
		}
		if _, ok := bodies[len(bodies)-1].(procedure.ShuntedRead); ok {
			bodies = append(bodies, procedure.RowKept{})
		}
	}
	zero()
	return append(bodies, procedure.Finish{})
}
