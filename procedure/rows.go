package procedure

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"example.org/halve/physics"
	"example.org/halve/physics/apparatus"
)

// weighRows works out the kept rows one by one and what they say together.
func (ev *evidence) weighRows(s *State) {
	if len(s.kept) == 0 {
		return
	}
	gs, ks := make([]float64, 0, len(s.kept)), make([]float64, 0, len(s.kept))
	ev.rows = make([]Row, 0, len(s.kept))
	n := 0
	for _, k := range s.kept {
		row := ev.row(s, k)
		ev.rows = append(ev.rows, row)
		if row.Struck {
			continue
		}
		n++
		if row.Resistance != nil {
			gs, ks = append(gs, *row.Resistance), append(ks, *row.Merit)
		}
	}
	if n == 0 {
		return
	}
	ev.result = &Result{Rows: n}
	if len(gs) > 0 {
		ev.result.MeanResistance = finite(stat.Mean(gs, nil))
		ev.result.MeanMerit = finite(stat.Mean(ks, nil))
	}
	if len(gs) > 1 {
		ev.result.SDResistance = finite(stat.StdDev(gs, nil))
	}
	if f := ev.fit; f != nil && ev.shunted {
		r := ev.result
		r.Resistance, r.UResistance, r.U95Resistance = finite(f.G), finite(f.UG), finite(f.U95G)
		r.Merit, r.UMerit, r.U95Merit = finite(f.K), finite(f.UK), finite(f.U95K)
		r.Correlation, r.EffectiveDOF = finite(f.Correlation), degrees(f.EffectiveDOF)
		r.FullScale = finite(f.K * s.bench.Galvanometer.Divisions)
	}
}

// row works out one kept row by the ratio formula.
func (ev *evidence) row(s *State, k keep) Row {
	r := &s.runs[k.run]
	b := &r.branches[k.branch]
	row := Row{Row: k.row, Seq: k.seq, SeriesOhm: r.setting.Ohm, ShuntOhm: b.value.setting.Ohm, Struck: !s.rowOn(k)}
	firsts, shunteds := s.alive(r.first), s.alive(b.readings)
	if row.Struck { // it shows what was read when it was kept
		firsts, shunteds = s.stoodAt(k.seq, r.first), s.stoodAt(k.seq, b.readings)
	}
	first, shunted := ev.average(firsts), ev.average(shunteds)
	if first < 0 {
		first, shunted = -first, -shunted
	}
	if shunted < -ev.still() { // a needle on the other side counts by its distance
		shunted = -shunted
	}
	drive := 1.0
	if len(firsts) > 0 {
		drive = ev.driveOf(firsts[0])
	}
	first, shunted = first*drive, shunted*drive // with the source of the first deflection
	row.FirstDiv, row.ShuntedDiv, row.EMF = first, shunted, ev.emf*drive
	res, err := physics.Row{
		EMF: row.EMF, SourceResistance: ev.r, Series: r.setting.Ohm, Shunt: b.value.setting.Ohm, First: first, Shunted: shunted,
	}.Solve(physics.RowDoubt{
		EMF: ev.uEMF * drive, SourceResistance: ev.uR,
		Series: settingDoubt(r.setting, s.bench.SeriesBox), Shunt: settingDoubt(b.value.setting, s.bench.ShuntBox),
		First: ev.readingDoubt(len(firsts)), Shunted: ev.readingDoubt(len(shunteds)), Zero: ev.uZero,
	})
	if err != nil {
		return row // these readings give no G: a matter for the counsel
	}
	row.Resistance, row.UResistance = finite(res.G), finite(res.UG)
	row.Merit, row.UMerit = finite(res.K), finite(res.UK)
	return row
}

// moved returns the readings in force at which the needle left its zero; at
// the others the key may have made no contact.
func (ev *evidence) moved(s *State, rs []reading) []reading {
	moved, _ := parted(s.alive(rs), func(rd reading) bool { return !(math.Abs(ev.deflection(rd)) <= ev.still() || ev.against(s, rd)) })
	return moved
}

// mean returns the mean of the readings in force less their zero; ok is false
// where none is.
func (ev *evidence) mean(s *State, rs []reading) (div float64, ok bool) {
	live := s.alive(rs)
	return ev.average(live), len(live) > 0
}

// average is the mean deflection of readings, 0 for none, as the source that is
// in circuit now would make it. Those on the other side of zero than most count
// by their distance: the leads were exchanged, or a sign was left out.
func (ev *evidence) average(rs []reading) float64 {
	side := 0.0
	for _, rd := range rs {
		if d := ev.deflection(rd); math.Abs(d) > ev.still() {
			side += math.Copysign(1, d)
		}
	}
	if side == 0 && len(rs) > 0 { // as many on one side as on the other
		side = ev.deflection(rs[len(rs)-1])
	}
	sum := 0.0
	for _, rd := range rs {
		d := ev.deflection(rd)
		if math.Abs(d) > ev.still() {
			d = math.Copysign(d, side)
		}
		sum += d / ev.driveOf(rd)
	}
	return sum / float64(max(1, len(rs)))
}

// settingDoubt is the standard uncertainty of a box's value: each coil's
// limit is rectangular and its own.
func settingDoubt(set apparatus.Setting, b apparatus.Box) float64 {
	sum := 0.0
	for i := 0; i < len(set.Coils); {
		// Steps of one dial share their error.
		n := 1
		for b.Kind == apparatus.Decade && i+n < len(set.Coils) && set.Coils[i+n] == set.Coils[i] {
			n++
		}
		c := float64(n) * set.Coils[i]
		sum += c * c
		i += n
	}
	return b.Tolerance * math.Sqrt(sum/3)
}

// Given is what the calculation of every row takes from elsewhere than its own
// settings and readings: the source as it was measured or, if it was not, as it
// is stated. The EMF is that of the source which is in circuit now; where it
// changed, a row has its own (Row.EMF).
type Given struct {
	EMF, UEMF        float64 // and its standard uncertainty, V
	SourceResistance float64 // ohm; 0 where the EMF was measured on load
}

// Given returns what every row's calculation rests on; ok is false before the
// bench is stated.
func (s *State) Given() (g Given, ok bool) {
	if s.bench == nil {
		return g, false
	}
	ev := s.evidence()
	return Given{ev.emf, ev.uEMF, ev.r}, true
}
