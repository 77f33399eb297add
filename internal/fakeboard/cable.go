package fakeboard

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"sync"
	"time"
)

// Cable is a line in memory. It can be pulled out and put back, and waits by channels and timers
// alone, so that it works in virtual time (testing/synctest).
type Cable struct {
	// Path is the port's, by which Dial knows it.
	Path string

	mu  sync.Mutex // guards end, and what lies in it
	end *End       // nil while it is unplugged
}

// cableRoom is how many bytes wait for a host that reads none, 170 ms of a four-channel board: a pty's usual room.
const cableRoom = 4096

// cableSilence is how long a host's Read waits for bytes.
const cableSilence = 20 * time.Millisecond

// ErrUnplugged is the error at both ends of a cable that has been pulled out.
var ErrUnplugged = errors.New("fakeboard: the cable is unplugged")

// NewCable returns a cable that is plugged in at that path.
func NewCable(path string) *Cable {
	c := &Cable{Path: path}
	c.Plug()
	return c
}

// Plug puts the cable in again: the port is a new one.
func (c *Cable) Plug() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.end == nil {
		c.end = &End{cable: c, arrived: make(chan struct{}, 1), taken: make(chan struct{}, 1),
			unplugged: make(chan struct{})}
	}
}

// Unplug pulls the cable out. What the host has not read is lost.
func (c *Cable) Unplug() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.end != nil {
		close(c.end.unplugged)
		c.end.buf, c.end.gone = nil, true
		c.end = nil
	}
}

// Plugged reports whether there is a port at the cable's path.
func (c *Cable) Plugged() bool { return c.port() != nil }

func (c *Cable) port() *End {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.end
}

// Dial opens the port, at any rate; fs.ErrNotExist if there is none at that path.
func (c *Cable) Dial(path string, _ int) (*End, error) {
	e := c.port()
	if e == nil || path != c.Path {
		return nil, fs.ErrNotExist
	}
	return e, nil
}

// Send sends bytes as a board does, which hardly waits, and returns how many the host's buffer had no room for.
func (c *Cable) Send(p []byte) (dropped int, err error) {
	e := c.port()
	if e == nil {
		return len(p), ErrUnplugged
	}
	late := time.After(sendWait)
	for {
		if p, err = e.put(p); len(p) == 0 || err != nil {
			return len(p), err
		}
		select {
		case <-e.taken:
		case <-e.unplugged:
			return len(p), ErrUnplugged
		case <-late:
			return len(p), nil
		}
	}
}

// Write sends bytes, and waits while the host takes none.
func (c *Cable) Write(p []byte) (int, error) {
	for n := 0; ; {
		left, err := c.Send(p[n:])
		if n = len(p) - left; n == len(p) || err != nil {
			return n, err
		}
	}
}

// Play sends the bytes of src, a board's, when the ticks of their frames say so, until src ends, ctx is done or the
// cable is unplugged; it returns how many bytes found no room.
func (c *Cable) Play(ctx context.Context, src io.Reader, pace Pace) (dropped int) {
	return play(ctx, c.Send, src, pace)
}

// End is the host's end of a cable, an open port.
type End struct {
	cable          *Cable
	arrived, taken chan struct{} // have room for one word that bytes came, or were read
	unplugged      chan struct{} // closed when the cable is pulled out
	buf            []byte        // guarded by the cable, as is gone
	gone           bool          // the cable has been pulled out
}

// put takes what there is room for and returns the rest.
func (e *End) put(p []byte) (rest []byte, err error) {
	e.cable.mu.Lock()
	defer e.cable.mu.Unlock()
	if e.gone {
		return p, ErrUnplugged
	}
	n := min(len(p), cableRoom-len(e.buf))
	e.buf = append(e.buf, p[:n]...)
	signal(e.arrived)
	return p[n:], nil
}

// signal leaves a token on a channel, unless there is one.
func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// Read gives what has come; if there is nothing it waits a little, and may return 0.
func (e *End) Read(p []byte) (int, error) {
	silence := time.After(cableSilence)
	for {
		e.cable.mu.Lock()
		n := copy(p, e.buf)
		e.buf = append(e.buf[:0], e.buf[n:]...)
		e.cable.mu.Unlock()
		if n > 0 {
			signal(e.taken)
			return n, nil
		}
		select {
		case <-e.arrived:
		case <-e.unplugged:
			return 0, ErrUnplugged
		case <-silence:
			return 0, nil
		}
	}
}

// SetBaud does nothing: a cable takes any rate.
func (e *End) SetBaud(int) error { return nil }

// Close does nothing: the port can be opened again.
func (e *End) Close() error { return nil }
