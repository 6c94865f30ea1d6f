// Package diagnosis finds what is wrong with a half-deflection bench from its
// readings alone. Every hypothesis, "sound" and "unexplained" among them,
// foretells the readings from the netlist of the bench as the fault leaves it;
// the better it foretells them, for the fewer adjustments and the commoner the
// fault, the more probable it is.
package diagnosis

import (
	"math"
	"slices"

	"example.org/halve/physics/apparatus"
)

// Normal is a normal law.
type Normal struct{ Mean, SD float64 }

// Input is all that the diagnosis looks at.
type Input struct {
	Divisions     float64 // of the scale, zero to end mark
	LeftZero      bool
	Step          float64 // of the reading, div
	Repeatability float64 // standard deviation of a reading about the needle's place, div
	Series, Shunt *apparatus.Range
	Movement      Normal  // logarithm of the movement's resistance in ohm
	Loop          Normal  // logarithm of E/k in div·ohm
	Source        Normal  // logarithm of the source's resistance in ohm
	UZero         float64 // standard uncertainty of the zero, div
	Runs          []Run
}

// Run is a setting of the series box with what was read at it. Only what is in
// force is in it.
type Run struct {
	Seq      int // of the setting's event
	Series   apparatus.Setting
	Standing apparatus.Setting // what the shunt box stood at when the run began
	First    []Reading
	Branches []Branch
}

// Branch is a setting of the shunt box within a run.
type Branch struct {
	Seq      int
	Shunt    apparatus.Setting
	Readings []Reading
}

// Reading is one look at the needle.
type Reading struct {
	Seq  int
	Div  float64 // as seen on the scale, positive on the side to which the needle should go
	Zero float64 // the rest position then
	// Before is the rest position as it was last read before.
	Before float64
	Off    bool    // beyond the end
	Drive  float64 // the source's EMF then relative to that of Input.Loop; 0 stands for 1
}

// look is a reading, or equal readings at one setting taken together.
type look struct {
	seqs           []int
	seq, n         int // the first of them, and how many
	run, branch    int // branch is -1 for a first deflection
	shunted        bool
	series, shunt  apparatus.Setting  // as they stood; where no shunt was set yet, 0 Ω
	partner        *apparatus.Setting // of a first deflection, the row's shunt; nil while there is none
	div            float64
	zero, before   float64
	drive          float64
	off            int     // 1 beyond the end, -1 beyond the other one
	sigma, width   float64 // width is the logarithm of sigma times √(2π)
	divisions      float64
	order          float64 // the place of the reading among all, the mean of several
	setSeq, runSeq int
}

// leastBelow is how far below a left zero a needle is against its stop, in
// divisions; less is a reading of nothing (common practice, no source).
const leastBelow = 0.6

// maxLooks bounds the work; older readings than these are not looked at.
const maxLooks = 96

// looks lists the readings in order.
func (in *Input) looks() []look {
	var out []look
	add := func(l look, rs []Reading) {
		from := len(out)
		for _, r := range rs {
			l.seqs, l.seq, l.n, l.div, l.zero, l.before, l.drive, l.off = []int{r.Seq}, r.Seq, 1, r.Div, r.Zero, r.Before, r.Drive, 0
			if l.drive == 0 {
				l.drive = 1
			}
			if !l.shunted {
				l.shunt = in.Runs[l.run].stood(r.Seq)
			}
			switch {
			case r.Off && r.Div < 0:
				l.off, l.div = -1, -in.Divisions
			case r.Off:
				l.off, l.div = 1, in.Divisions
			case in.LeftZero && r.Div-r.Zero < -max(0.75*in.Step, leastBelow):
				l.off = -1 // against the stop
			}
			same := false
			for i := from; i < len(out) && !same; i++ {
				if o := &out[i]; o.off == l.off && o.div == l.div && o.drive == l.drive && o.shunt.Ohm == l.shunt.Ohm {
					// The same place of the needle is rounded the same way.
					o.n++
					o.seqs = append(o.seqs, r.Seq)
					same = true
				}
			}
			if !same {
				out = append(out, l)
			}
		}
	}
	for i, run := range in.Runs {
		l := look{run: i, branch: -1, series: run.Series, divisions: in.Divisions, setSeq: run.Seq, runSeq: run.Seq}
		if n := len(run.Branches); n > 0 {
			l.partner = &run.Branches[n-1].Shunt
		}
		add(l, run.First)
		l.shunted = true
		for j, b := range run.Branches {
			l.branch, l.shunt, l.partner, l.setSeq = j, b.Shunt, nil, b.Seq
			add(l, b.Readings)
		}
	}
	if n := len(out) - maxLooks; n > 0 {
		out = out[n:]
	}
	var all []int
	for i := range out {
		all = append(all, out[i].seqs...)
	}
	slices.Sort(all)
	for i := range out {
		for _, n := range out[i].seqs {
			at, _ := slices.BinarySearch(all, n)
			out[i].order += float64(at) / float64(out[i].n)
		}
		out[i].sigma = in.sigma(&out[i])
		out[i].width = width(out[i].sigma)
	}
	return out
}

// sigma is the standard uncertainty of a reading: it lay within half a step,
// blurred by the repeatability, and the boxes' coils are off within their
// tolerance.
func (in *Input) sigma(l *look) float64 {
	theta := l.div - l.zero
	v := in.Step*in.Step/12 + in.Repeatability*in.Repeatability/float64(l.n) +
		math.Pow(theta*coilDoubt(in.Series.Box(), l.series), 2)
	if l.shunted {
		const share = 0.5 // of a relative change of the shunt, in the reading near the half
		v += math.Pow(theta*share*coilDoubt(in.Shunt.Box(), l.shunt), 2)
	}
	return math.Sqrt(v)
}

// coilDoubt is the relative standard uncertainty of a setting: each coil's
// limit is rectangular and its own.
func coilDoubt(b apparatus.Box, s apparatus.Setting) float64 {
	if s.Ohm <= 0 {
		return 0
	}
	sum := 0.0
	for _, c := range s.Coils {
		sum += c * c
	}
	return b.Tolerance * math.Sqrt(sum/3) / s.Ohm
}

// stood is what the shunt box stood at when event n happened.
func (r *Run) stood(n int) apparatus.Setting {
	set := r.Standing
	for _, b := range r.Branches {
		if b.Seq < n {
			set = b.Shunt
		}
	}
	return set
}

// width is the logarithm of the integral of a normal law's density over its
// greatest value.
func width(sigma float64) float64 { return math.Log(sigma * math.Sqrt(2*math.Pi)) }
