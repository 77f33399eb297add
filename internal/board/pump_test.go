package board

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"
)

// stuckPort is a port whose driver never lets a reader go before the port is closed.
type stuckPort struct {
	bytes  chan []byte
	closed chan struct{}
}

func newStuckPort() *stuckPort {
	return &stuckPort{bytes: make(chan []byte), closed: make(chan struct{})}
}

func (s *stuckPort) Read(p []byte) (int, error) {
	select {
	case b := <-s.bytes:
		if b == nil {
			return 0, io.ErrUnexpectedEOF
		}
		return copy(p, b), nil
	case <-s.closed:
		return 0, io.ErrClosedPipe
	}
}

func (s *stuckPort) Close() error {
	close(s.closed)
	return nil
}

// A driver that keeps no time-out holds nobody up: a read of a silent port takes readSlice, to close it
// closeWait, and what reads it ends.
func TestSilentPortHoldsNobodyUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newStuckPort()
		p := newPump(port)
		begun := time.Now()
		if n, err := p.Read(make([]byte, 10)); n != 0 || err != nil || time.Since(begun) != readSlice {
			t.Errorf("%d bytes, %v after %v", n, err, time.Since(begun))
		}
		begun = time.Now()
		if err := p.Close(); err != nil || time.Since(begun) != closeWait {
			t.Errorf("closed after %v: %v", time.Since(begun), err)
		}
		<-p.ended
	})
}

// Every byte comes in order, in whatever pieces it is sent and taken, and then the port's error, each time.
func TestPumpKeepsEveryByte(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port := newStuckPort()
		p := newPump(port)
		sent := bytes.Repeat([]byte("0123456789abc"), 1000)
		go func() {
			for rest, n := sent, 1; len(rest) > 0; n = n%97 + 1 {
				n = min(n, len(rest))
				port.bytes <- rest[:n]
				rest = rest[n:]
			}
			port.bytes <- nil
		}()
		var got []byte
		for size := 1; ; size = size%31 + 1 {
			b := make([]byte, size)
			n, err := p.Read(b)
			got = append(got, b[:n]...)
			if err != nil {
				break
			}
		}
		if !bytes.Equal(got, sent) {
			t.Errorf("%d bytes came of %d", len(got), len(sent))
		}
		if _, err := p.Read(make([]byte, 1)); !errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("a second time: %v", err)
		}
		begun := time.Now()
		if err := p.Close(); err != nil || time.Since(begun) != 0 {
			t.Errorf("closed after %v: %v", time.Since(begun), err)
		}
	})
}
