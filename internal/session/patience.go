package session

import (
	"context"
	"fmt"
	"time"
)

// NoFrames ends a session whose source gives no frames any more.
type NoFrames struct {
	Waited time.Duration
	// Err is why they can't be used, nil where none came.
	Err error
}

// Error returns how long there was none, and why.
func (e *NoFrames) Error() string {
	text := fmt.Sprintf("no frame for %.0f s", e.Waited.Seconds())
	if e.Err != nil {
		text += ": " + e.Err.Error()
	}
	return text
}

// Unwrap returns the reason, which may be nil.
func (e *NoFrames) Unwrap() error { return e.Err }

const (
	// frameLook is how often is looked whether frames come.
	frameLook = 250 * time.Millisecond
	// untilPatience is how long a session that has been running for Options.Until by the clock on the
	// wall goes on without a frame. Chosen: no board that works pauses for so long.
	untilPatience = 2 * time.Second
)

// watchFrames stops a Run whose source gives no frames for longer than the options allow. It counts its own
// looks, so that a program that was stopped has not waited meanwhile.
func (s *Session) watchFrames(ctx context.Context, stop context.CancelCauseFunc) {
	tick := time.NewTicker(frameLook)
	defer tick.Stop()
	var ran, idle time.Duration
	frames := s.Snapshot().Link.Frames
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		snap := s.Snapshot()
		ran, idle = ran+frameLook, idle+frameLook
		if snap.Link.Frames != frames {
			frames, idle = snap.Link.Frames, 0
		}
		over := s.opt.Until > 0 && ran.Seconds() >= s.opt.Until && idle >= untilPatience
		if over || s.opt.Patience > 0 && idle >= s.opt.Patience {
			stop(&NoFrames{idle, snap.Err})
			return
		}
	}
}
