package board

import (
	"context"
	"errors"
	"io"
	"time"
)

// Duplex is a Wire that carries bytes both ways and can restart the board.
type Duplex interface {
	Wire
	io.Writer
	// Restart pulls the board's reset line, sets the rate, in bit/s, and forgets what came before.
	Restart(baud int) error
}

const (
	// resetPulse is how long the reset line is pulled. Derived: boards couple it by 100 nF to 10 kΩ (from memory),
	// 1 ms; the rest is for USB bridges, which pass on a change in up to 16 ms, and slow drivers.
	resetPulse = 100 * time.Millisecond
	// afterReset is how long what a bridge still holds may take to arrive after a restart (derived as above).
	afterReset = 20 * time.Millisecond
)

// Talk is a port opened to speak to what is on it, and not only to listen.
type Talk struct {
	path string
	wire Duplex
}

// OpenTalk opens the serial port at path at a rate, in bit/s, and claims it for this process. Errors are those of Open,
// but for Silent and Unreadable; those of the methods of Talk are of kind Vanished, of Restart also of Busy.
func OpenTalk(ctx context.Context, path string, baud int, opt Options) (*Talk, error) {
	l, err := Listen(ctx, path, baud, opt)
	if err != nil {
		return nil, err
	}
	wire, ok := l.wire.(Duplex)
	if !ok {
		l.Close()
		return nil, &Error{Kind: Failed, Port: path, Err: errors.New("it can only be listened to")}
	}
	return &Talk{path, wire}, nil
}

// lost makes an error of the wire ours.
func (t *Talk) lost(err error) error {
	if known := (*Error)(nil); err == nil || errors.As(err, &known) {
		return err
	}
	return &Error{Kind: Vanished, Port: t.path, Err: err}
}

// Read gives the bytes that are there; after a short silence 0 and no error.
func (t *Talk) Read(p []byte) (int, error) {
	n, err := t.wire.Read(p)
	return n, t.lost(err)
}

// Write sends bytes to the board.
func (t *Talk) Write(p []byte) (int, error) {
	n, err := t.wire.Write(p)
	return n, t.lost(err)
}

// SetBaud changes the rate, in bit/s.
func (t *Talk) SetBaud(baud int) error { return t.lost(t.wire.SetBaud(baud)) }

// Restart pulls the board's reset line, sets the rate, and forgets what came before.
func (t *Talk) Restart(baud int) error { return t.lost(t.wire.Restart(baud)) }

// Close frees the port.
func (t *Talk) Close() error { return t.wire.Close() }

// Restart lets DTR and RTS go and pulls them again, which the usual boards pass on to their reset pin. A port without
// these lines, such as a pty, is closed and opened again, which does the same on a real one.
func (w *serialWire) Restart(baud int) error {
	if w.port.SetDTR(false) != nil {
		return w.reopen(baud)
	}
	_ = w.port.SetRTS(false) // not every bridge has it
	time.Sleep(resetPulse)
	if err := errors.Join(w.SetBaud(baud), w.port.SetDTR(true)); err != nil {
		return err
	}
	_ = w.port.SetRTS(true)
	return w.forget()
}

// reopen closes the port and opens it at a rate.
func (w *serialWire) reopen(baud int) error {
	if err := w.Close(); err != nil {
		return err
	}
	time.Sleep(resetPulse)
	again, err := claimAndOpen(w.path, baud)
	if err != nil {
		return err
	}
	*w = *again.(*serialWire)
	return w.forget()
}

// forget reads what came before a restart, for afterReset.
func (w *serialWire) forget() error {
	var b [chunkLen]byte
	for end := time.Now().Add(afterReset); time.Now().Before(end); {
		if _, err := w.Read(b[:]); err != nil {
			return err
		}
	}
	return nil
}

// Write sends bytes to the board.
func (w *serialWire) Write(p []byte) (int, error) { return w.port.Write(p) }
