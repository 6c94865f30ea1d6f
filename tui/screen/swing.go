package screen

import (
	"math"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/harmonica"
)

// swing is the drawn needle on its way to where it is to rest. It is a spring
// on the screen and no model of the movement.
type swing struct {
	spring    harmonica.Spring
	at, speed float64 // divisions, and divisions a second
	to        float64
	ticking   bool // a tick is under way
}

// frames is how often a second the needle moves on. Over a slow line more
// would only pile up.
const frames = 30

// newSwing returns a needle at rest at zero. It is damped enough to pass its
// mark once, by little.
func newSwing() swing {
	const angular, damping = 14, 0.75
	return swing{spring: harmonica.NewSpring(harmonica.FPS(frames), angular, damping)}
}

// swung is the tick by which the needle moves on.
type swung struct{}

func (s *swing) tick() tea.Cmd {
	s.ticking = true
	return tea.Tick(time.Second/frames, func(time.Time) tea.Msg { return swung{} })
}

// towards sends the needle on its way to a reading, from where it is. There
// is no tick while it rests.
func (s *swing) towards(v float64, still bool) tea.Cmd {
	s.to = v
	switch {
	case still || math.IsNaN(v):
		s.at, s.speed = v, 0
	case s.at != s.to && !s.ticking:
		return s.tick()
	}
	return nil
}

// away is the needle that is not drawn; it begins at zero again.
func (s *swing) away() { s.at, s.speed, s.to = 0, 0, 0 }

// on moves the needle on by a frame; near is what cannot be told from rest.
func (s *swing) on(near float64) tea.Cmd {
	s.ticking = false
	s.at, s.speed = s.spring.Update(s.at, s.speed, s.to)
	if math.Abs(s.at-s.to) < near && math.Abs(s.speed) < near*frames {
		s.at, s.speed = s.to, 0
	}
	if s.at == s.to {
		return nil
	}
	return s.tick()
}
