package board

import (
	"io"
	"time"
)

const (
	// readSlice is the longest that a port waits for bytes at a time. Chosen: a fifth of the 100 ms
	// that Close may take.
	readSlice = 20 * time.Millisecond
	// closeWait is how long a pump is waited for before its port is closed under it (chosen).
	closeWait = 4 * readSlice
)

// pump reads a port in a goroutine of its own, so that nobody waits longer than readSlice for bytes
// that don't come: not every driver keeps the time-out that it is asked for, Wine's doesn't.
type pump struct {
	port  io.ReadCloser
	full  chan []byte // bytes that came; closed when no more will
	empty chan []byte // buffers to read into
	rest  []byte      // what Read has not given out yet
	given []byte      // the buffer of rest
	err   error       // why full is closed
	late  *time.Timer
	stop  chan struct{}
	ended chan struct{}
}

// newPump begins to read port.
func newPump(port io.ReadCloser) *pump {
	p := &pump{port: port, full: make(chan []byte, 2), empty: make(chan []byte, 2), late: time.NewTimer(readSlice),
		stop: make(chan struct{}), ended: make(chan struct{})}
	for range cap(p.empty) {
		p.empty <- make([]byte, chunkLen)
	}
	go p.run()
	return p
}

// run reads until the port fails or the pump is closed.
func (p *pump) run() {
	defer close(p.ended)
	defer close(p.full)
	for {
		select {
		case <-p.stop:
			return
		case buf := <-p.empty:
			n, err := 0, error(nil)
			for n == 0 && err == nil && !p.stopped() {
				n, err = p.port.Read(buf)
			}
			p.full <- buf[:n] // has room for all the buffers there are
			if err != nil {
				p.err = err
				return
			}
		}
	}
}

func (p *pump) stopped() bool {
	select {
	case <-p.stop:
		return true
	default:
		return false
	}
}

// Read gives bytes that came, or after readSlice without any 0 and no error.
func (p *pump) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		if p.given != nil {
			p.empty <- p.given
			p.given = nil
		}
		p.late.Reset(readSlice)
		select {
		case buf, ok := <-p.full:
			if !ok {
				return 0, p.err
			}
			p.rest, p.given = buf, buf[:cap(buf)]
		case <-p.late.C:
			return 0, nil
		}
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

// Close closes the port, when nobody reads it any more: the library's Close on Unix frees the descriptor
// before it wakes a reader, which might then read from another file of the same number. A reader that
// a driver does not let go ends with its port.
func (p *pump) Close() error {
	close(p.stop)
	select {
	case <-p.ended:
	case <-time.After(closeWait):
	}
	return p.port.Close()
}
