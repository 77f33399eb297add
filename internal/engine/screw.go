package engine

import (
	"math"

	"evendraw/internal/pressure"
)

// screw is one synchronising screw, or the throttle stop.
type screw struct {
	at, want float64      // turns from the start, clockwise
	travel   float64      // either way
	degrees  float64      // of plate per turn at the start
	curve    float64      // relative change of that per turn
	effect   pressure.KPa // on the draw of what it moves, per turn at the start

	play, jerk float64 // see ScrewHabit
	plateTurns float64 // where its plates are, as turns of a screw without play
	nut        float64 // by how much the lock nut has shifted it, turns
	turnsMade  float64 // turns made, either way
}

// lift returns what the screw moves its plates by, in degrees.
func (s *screw) lift() float64 {
	x := s.plateTurns + s.nut
	return s.degrees * (x + s.curve/2*x*x)
}

// turn begins to turn by so many turns, at most to the end of the travel, and reports
// whether there is anything to turn.
func (s *screw) turn(turns float64) bool {
	if math.IsNaN(turns) {
		return false
	}
	before := s.want
	s.want = min(max(s.want+turns, -s.travel), s.travel)
	return s.want != before
}

// follow moves the screw towards where it is wanted and reports whether it moved.
func (s *screw) follow(h float64) bool {
	if s.at == s.want {
		return false
	}
	most := handTurnsPerS * h
	step := min(max(s.want-s.at, -most), most)
	s.at += step
	s.turnsMade += math.Abs(step)
	// With play, plates stay while the screw moves within it. A stiff screw's plates stay
	// until its thread lets go.
	to := min(max(s.plateTurns, s.at-s.play/2), s.at+s.play/2)
	if math.Abs(to-s.plateTurns) >= s.jerk {
		s.plateTurns = to
	}
	return true
}
