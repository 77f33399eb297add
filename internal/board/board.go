package board

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"evendraw/internal/frame"

	"go.bug.st/serial"
)

const (
	// oneRateWait is how long a board may take to announce itself when its rate is known. Derived: up to 2 s of boot
	// loader after the restart that opening causes, one announcement period of about 1 s, and 1 s to spare.
	oneRateWait = 4 * time.Second
	// eachRateWait is PROTOCOL.md's wait at each rate that is tried.
	eachRateWait = 2500 * time.Millisecond
)

// usualRates are the rates PROTOCOL.md lets a host try, in its order, in bit/s;
// the last is the usual one of boards that print.
var usualRates = []int{500_000, 1_000_000, 250_000, 115_200}

// Options says how to open a board. The zero value is right for most.
type Options struct {
	// Baud is the line rate in bit/s; 0 tries 500000, 1000000, 250000 and 115200 and
	// takes the first at which an announcement is read.
	Baud int
	// Wait is how long to wait for the announcement at each rate that is tried;
	// 0 is 4 s when Baud is given and 2.5 s when not.
	Wait time.Duration
	// Ports lists the ports that Find and Reopen look at; nil is List.
	Ports func() ([]Port, error)
	// Dial opens a port at a rate, in bit/s; nil is the serial library, claimed for this
	// process alone. Its errors are returned as they are: *Error says what a mechanic can do.
	Dial func(path string, baud int) (Wire, error)
	// Progress, unless nil, is called about five times a second during the wait for the announcement. It must return
	// quickly; Find and Reopen may call it from several goroutines at once.
	Progress func(Progress)
}

// Progress reports how the wait for a board's announcement goes. Bytes that keep
// coming while none of them is an announcement mean a wrong rate or program.
type Progress struct {
	Port    string
	Baud    int           // rate being tried, bit/s
	Waited  time.Duration // since the port was opened
	Bytes   uint64        // received so far, at all rates
	Damaged uint64        // blocks so far that were no intact frame
	Err     error         // Reopen only: why the port can't be used now; it is tried again
}

// rates returns the rates to try.
func (o *Options) rates() []int {
	if o.Baud != 0 {
		return []int{o.Baud}
	}
	return usualRates
}

// wait returns the wait at each rate.
func (o *Options) wait() time.Duration {
	switch {
	case o.Wait > 0:
		return o.Wait
	case o.Baud != 0:
		return oneRateWait
	}
	return eachRateWait
}

// Wire is an open port: the bytes of a board, and its rate.
type Wire interface {
	// Read gives the bytes that are there, and waits for some if there are none. After a
	// short silence it may return 0 and no error. An error means that the port is gone.
	Read(p []byte) (int, error)
	// SetBaud changes the rate, in bit/s.
	SetBaud(baud int) error
	// Close frees the port. No Read is under way then.
	Close() error
}

// Link is an open port on which a board has announced itself.
type Link struct {
	path  string
	baud  int
	board *frame.Announcement
	wire  Wire

	closed  atomic.Bool
	turn    chan struct{} // holds one token, taken while the wire is read or closed
	unread  []byte        // came during the wait for the announcement, not yet given out
	readErr error         // what every Read returns from now on

	once     sync.Once
	closeErr error
}

var _ io.ReadCloser = (*Link)(nil)

// Open opens the serial port at path, claims it for this process and waits for the board's announcement. Opening
// restarts many boards; that is normal. It takes at most the wait of opt times the number of rates, and returns early
// when ctx ends, with its error wrapped. All other errors are *Error, of kind Absent, Denied, Busy, NotSerial,
// Vanished, Silent, Unreadable or Failed.
func Open(ctx context.Context, path string, opt Options) (*Link, error) {
	if err := ctx.Err(); err != nil {
		return nil, cancelled(path, err)
	}
	l, err := opt.dial(path, opt.rates()[0])
	if err != nil {
		return nil, err
	}
	if err := l.greet(ctx, &opt); err != nil {
		l.Close()
		return nil, err
	}
	return l, nil
}

// Listen opens the serial port at path at one rate, claims it for this process, and waits for nothing: Link.Board is
// nil. It is for looking at the bytes of a board that may not say what it is. Of opt only Dial counts. Errors are those
// of Open, but for Silent and Unreadable.
func Listen(ctx context.Context, path string, baud int, opt Options) (*Link, error) {
	if err := ctx.Err(); err != nil {
		return nil, cancelled(path, err)
	}
	return opt.dial(path, baud)
}

// dial opens a port at a rate.
func (o *Options) dial(path string, baud int) (*Link, error) {
	dial := o.Dial
	if dial == nil {
		dial = claimAndOpen
	}
	wire, err := dial(path, baud)
	if err != nil {
		return nil, err
	}
	l := &Link{path: path, wire: wire, baud: baud, turn: make(chan struct{}, 1)}
	l.turn <- struct{}{}
	return l, nil
}

// serialWire is a port of the serial library, claimed for this process.
type serialWire struct {
	*pump
	port   serial.Port
	path   string
	claim  *claim
	closed bool
}

// SetBaud changes the rate, in bit/s.
func (w *serialWire) SetBaud(baud int) error {
	if err := w.port.SetMode(mode(baud)); err != nil {
		return libraryError(w.path, err)
	}
	return nil
}

// Close frees the port; the claim comes last. Closing again does nothing.
func (w *serialWire) Close() error {
	if w.closed {
		return nil
	}
	w.closed = true
	defer w.claim.release()
	return w.pump.Close()
}

// claimAndOpen opens a port for this process alone.
func claimAndOpen(path string, baud int) (Wire, error) {
	c, err := claimPort(path)
	if err != nil {
		return nil, err
	}
	port, err := openPort(path, baud)
	if err != nil {
		c.release()
		return nil, err
	}
	c.opened()
	return &serialWire{pump: newPump(port), port: port, path: path, claim: c}, nil
}

// openPort opens the port with the serial library: 8 data bits, no parity, one stop bit, no flow control.
func openPort(path string, baud int) (serial.Port, error) {
	port, err := serial.Open(path, mode(baud))
	if err != nil {
		return nil, libraryError(path, err)
	}
	if err := port.SetReadTimeout(readSlice); err != nil {
		port.Close()
		return nil, libraryError(path, err)
	}
	return port, nil
}

func mode(baud int) *serial.Mode {
	return &serial.Mode{BaudRate: baud, DataBits: 8, Parity: serial.NoParity, StopBits: serial.OneStopBit}
}

func cancelled(path string, cause error) error {
	return fmt.Errorf("%s: gave up waiting: %w", path, cause)
}

// Read gives the board's bytes as they come, those before its first announcement too, and blocks until there are some.
// It fails with an *Error of kind Vanished when the port is gone, and with os.ErrClosed after Close. It never returns 0
// bytes without an error, unless p is empty.
func (l *Link) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	l.acquire()
	defer l.release()
	if len(l.unread) > 0 && !l.closed.Load() {
		n := copy(p, l.unread)
		if l.unread = l.unread[n:]; len(l.unread) == 0 {
			l.unread = nil
		}
		return n, nil
	}
	for l.readErr == nil && !l.closed.Load() {
		n, err := l.wire.Read(p)
		if err != nil {
			l.readErr = &Error{Kind: Vanished, Port: l.path, Err: err}
		}
		if n > 0 {
			return n, nil
		}
	}
	if l.closed.Load() {
		return 0, os.ErrClosed
	}
	return 0, l.readErr
}

// acquire waits until nobody has the wire and takes it, release gives it back. It is a channel and
// no mutex because a reader holds it while it waits for bytes, which would stop a test's virtual time.
func (l *Link) acquire() { <-l.turn }
func (l *Link) release() { l.turn <- struct{}{} }

// Close frees the port for others; a Read that waits returns within about 20 ms, or 80 where the driver keeps no
// time-out. Closing again does nothing and returns the same error.
func (l *Link) Close() error {
	l.once.Do(func() {
		l.closed.Store(true)
		l.acquire()
		defer l.release()
		l.unread = nil
		if err := l.wire.Close(); err != nil {
			l.closeErr = &Error{Kind: Failed, Port: l.path, Err: err}
		}
	})
	return l.closeErr
}

// Board returns what the board announced when the port was opened. It must not be changed.
func (l *Link) Board() *frame.Announcement { return l.board }

// Path returns the path by which the port was opened.
func (l *Link) Path() string { return l.path }
