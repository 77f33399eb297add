package frame

import "fmt"

// Standstill says why a board that announces itself gives no frames.
type Standstill struct {
	// Refused is how many data frames in a row had a right CRC, and did not fit each other.
	Refused uint64
	// Why is what is wrong with them, in words.
	Why string
}

// Error returns the reason in one line.
func (e *Standstill) Error() string {
	if e.Refused == 0 {
		return e.Why
	}
	return fmt.Sprintf("%d frames refused: %s", e.Refused, e.Why)
}

const (
	// refusedEnough is from how many refused frames in a row the reason is told. Chosen: far more
	// than a fault of the line refuses, two seconds of the slowest board.
	refusedEnough = 100
	// announcedEnough is the same for announcements with no frame between them. Derived: they
	// come once a second, and the user must know within a few.
	announcedEnough = 3
	// refusedWindow is over how many refused frames the clock is looked at, so that it does not wrap.
	refusedWindow = 4096
)

// standing counts what came since the last frame that was given out.
type standing struct {
	refused       uint64
	first, last   mark   // of the refused frames in the window
	window        uint64 // refused frames since first
	announcements int
	damaged       int
}

// refuse counts a frame with a right CRC that could not be taken.
func (s *standing) refuse(m mark) {
	if s.window == 0 || s.window == refusedWindow {
		s.first, s.window = m, 0
	}
	s.last = m
	s.window++
	s.refused++
}

// Standstill returns why no frames come from a board that announces itself, nil while they do or
// it is too early to tell.
func (d *Decoder) Standstill() *Standstill {
	s := &d.order.standing
	switch {
	case d.board == nil || d.failure != nil || d.board.Printed != NotPrinted:
		return nil
	case s.refused >= refusedEnough, s.refused > 1 && s.announcements >= announcedEnough:
		return &Standstill{s.refused, s.why(d.board.Rate)}
	case s.announcements < announcedEnough:
		return nil
	case s.damaged > 0:
		return &Standstill{Why: fmt.Sprintf("the board announces itself, but all of its data frames are damaged: "+
			"%d blocks; is their CRC begun with the layout %q, and are counts of %d bits?", s.damaged, d.board.Layout,
			d.board.Bits)}
	}
	return &Standstill{Why: "the board announces itself, but sends no data frames"}
}

// why says what is wrong with the refused frames of a board that announces such a rate.
func (s *standing) why(rate int) string {
	frames, us := s.last.counter-s.first.counter, s.last.tick-s.first.tick
	instants := float64(frames) + float64(s.last.overflow-s.first.overflow)
	switch {
	case frames == 0:
		return "its counter stands"
	case us == 0:
		return "its tick stands"
	case uint64(frames) < 2*s.window: // counters that rise as they should, losses allowed for
		return fmt.Sprintf("the rate is not what it says: it announces %d a second, its counter and tick say %.0f",
			rate, 1e6*instants/float64(us))
	}
	return "their counters and ticks don't go together"
}
