package procedure

import (
	"fmt"
	"slices"
)

// A Ledger numbers the events of a practical and knows which of them are in
// force. It is what every procedure's state has in common; the zero value is
// an empty one. Copy it by Clone, never by assignment.
type Ledger struct {
	seq      int
	struck   []int    // struck[n]: the number of the strike in force on event n, 0 if none
	targets  []int    // targets[n]: what event n strikes, 0 unless it is a strike
	kinds    []string // kinds[n]: what event n is
	wired    int      // wired events in force
	finished int      // finish events in force
}

// Seq returns the number of the last event, 0 before any.
func (l *Ledger) Seq() int { return l.seq }

// Clone returns an independent copy.
func (l *Ledger) Clone() Ledger {
	c := *l
	c.struck = slices.Clone(l.struck)
	c.targets = slices.Clone(l.targets)
	c.kinds = slices.Clone(l.kinds)
	return c
}

// Stands reports whether event n, which must be there, is in force, that is
// not struck out.
func (l *Ledger) Stands(n int) bool { return l.struck[n] == 0 }

// Struck returns the number of the strike that is in force on event n, 0 if
// the event stands or does not exist.
func (l *Ledger) Struck(n int) int {
	if n < 1 || n > l.seq {
		return 0
	}
	return l.struck[n]
}

// Wired reports whether a wired event is in force.
func (l *Ledger) Wired() bool { return l.wired > 0 }

// Finished reports whether a finish event is in force.
func (l *Ledger) Finished() bool { return l.finished > 0 }

// Follows reports why an event cannot be the next one: its number, or what is
// wrong with it whatever came before. The body it returns is free of harmful
// text.
func (l *Ledger) Follows(e Event) (Body, error) {
	if e.Seq != l.seq+1 {
		return nil, fmt.Errorf("event %d comes after event %d", e.Seq, l.seq)
	}
	b := clean(e.Body)
	return b, b.Check()
}

// maxChain bounds strikes of strikes; to strike an event anew, strike it, not
// the strike of its strike's strike.
const maxChain = 8

// MayStrike reports why event t cannot be struck out.
func (l *Ledger) MayStrike(t int) error {
	if t > l.seq {
		return fmt.Errorf("there is no event %d to strike; the last is %d", t, l.seq)
	}
	if l.kinds[t] == KindBench {
		return fmt.Errorf("the bench cannot be struck: state a corrected one instead")
	}
	if !l.Stands(t) {
		return fmt.Errorf("event %d is struck already, by event %d; strike that one to restore it", t, l.struck[t])
	}
	for i, at := 0, t; l.targets[at] != 0; i, at = i+1, l.targets[at] {
		if i == maxChain {
			return fmt.Errorf("event %d is a strike of strikes: strike the reading or setting itself", t)
		}
	}
	return nil
}

// Enter gives an event that may follow its place, and puts a strike in force.
func (l *Ledger) Enter(e Event) {
	if l.seq == 0 { // numbers start at 1
		l.struck, l.targets, l.kinds = append(l.struck, 0), append(l.targets, 0), append(l.kinds, "")
	}
	l.seq = e.Seq
	target := 0
	if b, ok := e.Body.(Strike); ok {
		target = b.Event
	}
	l.struck = append(l.struck, 0)
	l.targets = append(l.targets, target)
	l.kinds = append(l.kinds, e.Body.Kind())
	l.count(e.Seq, true)
	if target > 0 {
		l.strike(target, e.Seq)
	}
}

// strike puts strike n in force on the event t. A strike that is struck
// gives back what it had struck, and so on down the chain.
func (l *Ledger) strike(t, n int) {
	for by := n; ; {
		was := l.Stands(t)
		l.struck[t] = by
		if stands := l.Stands(t); stands != was {
			l.count(t, stands)
		}
		if l.targets[t] == 0 {
			return
		}
		// What t struck is struck again if t stands, else it stands.
		if by = 0; l.Stands(t) {
			by = t
		}
		t = l.targets[t]
	}
}

// count keeps the numbers of wired and finish events in force.
func (l *Ledger) count(n int, stands bool) {
	by := 1
	if !stands {
		by = -1
	}
	switch l.kinds[n] {
	case KindWired:
		l.wired += by
	case KindFinish:
		l.finished += by
	}
}
