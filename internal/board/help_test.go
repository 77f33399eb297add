package board

import (
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// over has the options reach those cables and no others. At the end of the test every port that was
// opened must have been closed.
func over(t *testing.T, opt Options, cables ...*fakeboard.Cable) Options {
	held := new(atomic.Int32)
	t.Cleanup(func() {
		if n := held.Load(); n != 0 {
			t.Errorf("%d ports stay open", n)
		}
	})
	opt.Dial = func(path string, baud int) (Wire, error) {
		for _, c := range cables {
			if end, err := c.Dial(path, baud); err == nil {
				held.Add(1)
				return counted{end, held}, nil
			}
		}
		return nil, &Error{Kind: Absent, Port: path}
	}
	opt.Ports = func() (ports []Port, _ error) {
		for _, c := range cables {
			if c.Plugged() {
				ports = append(ports, Port{Path: c.Path})
			}
		}
		return ports, nil
	}
	return opt
}

// counted is a port that counts while it is open.
type counted struct {
	Wire
	held *atomic.Int32
}

func (c counted) Close() error {
	c.held.Add(-1)
	return c.Wire.Close()
}

// often does something at once, and again each time the pause is over, until the test ends.
func often(t *testing.T, pause time.Duration, do func()) {
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			do()
			select {
			case <-stop:
				return
			case <-time.After(pause):
			}
		}
	}()
	t.Cleanup(func() {
		close(stop)
		<-done
	})
}

// talking is a cable on which a board announces itself once a second, until the test ends.
func talking(t *testing.T, path, serial string) *fakeboard.Cable {
	c := fakeboard.NewCable(path)
	says := frame.AppendAnnouncement(nil, fakeboard.Announcement(serial, 2))
	often(t, time.Second, func() { c.Send(says) })
	return c
}

// appendFrames appends n data frames, the first with that counter.
func appendFrames(dst []byte, first uint32, n int) []byte {
	run := fakeboard.Steady("A1", 2, n).StartingAt(first, 1000*first)
	for _, b := range run.Blocks() {
		if fakeboard.IsData(b) {
			dst = append(dst, b...)
		}
	}
	return dst
}

// mustBe returns err as an *Error of the kind it must be of.
func mustBe(t *testing.T, err error, kind Kind) *Error {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) || e.Kind != kind {
		t.Fatalf("got %v, want an error of kind %v", err, kind)
	}
	if e.Hint() == "" {
		t.Errorf("no hint for %v", err)
	}
	return e
}
