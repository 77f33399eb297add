package board

import (
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"syscall"
	"time"

	"evendraw/internal/frame"

	"go.bug.st/serial"
)

// Kind says what is wrong with a port or a board, by the cure it needs.
type Kind int

// The kinds of Error.
const (
	Failed     Kind = iota // anything else: see Error.Err
	Absent                 // the named port does not exist
	NoBoard                // no board on any port, or not the wanted one
	Several                // several boards, and none was asked for by serial number
	Denied                 // this user may not open the port
	Busy                   // another process has the port
	NotSerial              // the path is something else than a serial port
	Vanished               // the port was there and is gone
	Silent                 // the port is open, but nothing announced itself in time
	Unreadable             // the board speaks another protocol version or layout
)

var kindNames = [...]string{"failed", "absent", "no-board", "several", "denied", "busy", "not-serial", "vanished",
	"silent", "unreadable"}

// String returns the kind in a word, such as "not-serial".
func (k Kind) String() string {
	if k < 0 || int(k) >= len(kindNames) {
		return "kind-" + strconv.Itoa(int(k))
	}
	return kindNames[k]
}

// Answer is a port on which a board announced itself.
type Answer struct {
	Port  string
	Board *frame.Announcement
}

// Error says why there is no link to a board. Fields that don't belong to the kind, or are not known, are zero.
type Error struct {
	Kind    Kind
	Port    string              // path of the port; empty when it is about none
	Holder  int                 // Busy: process that has the port
	Program string              // Busy: that process's name
	Group   string              // Denied: group that owns the device node
	Mode    fs.FileMode         // Denied: permissions of the device node
	Bytes   uint64              // Silent: bytes that came all the same
	Rates   []int               // Silent: rates tried, bit/s
	Waited  time.Duration       // Silent: how long
	Board   *frame.Announcement // Unreadable: the board
	Answers []Answer            // Several: the boards that answer
	Err     error               // cause
}

// errOwn says whose terminal a port is.
var errOwn = errors.New("it is the terminal that this program runs in")

// Unwrap returns the cause, which may be nil.
func (e *Error) Unwrap() error { return e.Err }

// Error returns what is wrong and where, in one line.
func (e *Error) Error() string {
	if e.Port == "" {
		return e.what()
	}
	return e.Port + ": " + e.what()
}

func (e *Error) what() string {
	switch e.Kind {
	case Absent:
		if e.Err == nil || errors.Is(e.Err, fs.ErrNotExist) {
			return "no such port"
		}
		return "no device behind this port: " + e.Err.Error()
	case NoBoard:
		if e.Err == nil {
			return "no board found: none shows at a USB port"
		}
		return "no board found: " + e.Err.Error()
	case Several:
		return fmt.Sprintf("%d boards answer: %s", len(e.Answers), answerList(e.Answers))
	case Denied:
		if e.Group == "" {
			return "permission denied"
		}
		return fmt.Sprintf("permission denied: it belongs to group %s", e.Group)
	case Busy:
		return "busy: in use by " + e.holder()
	case NotSerial:
		if errors.Is(e.Err, errOwn) {
			return "not a board's port: " + errOwn.Error()
		}
		return "not a serial port"
	case Vanished:
		return "port vanished while in use"
	case Silent:
		return e.whatSilent()
	case Unreadable:
		return e.whatUnreadable()
	}
	return fmt.Sprint("failed: ", e.Err)
}

func (e *Error) whatSilent() string {
	rates := make([]string, len(e.Rates))
	for i, r := range e.Rates {
		rates[i] = strconv.Itoa(r)
	}
	tried := fmt.Sprintf("in %.1f s at %s bit/s", e.Waited.Seconds(), strings.Join(rates, ", "))
	if e.Bytes == 0 {
		return "open, but no bytes at all " + tried
	}
	return fmt.Sprintf("%d bytes but no valid frames: baud or firmware (%s)", e.Bytes, tried)
}

func (e *Error) whatUnreadable() string {
	a := e.Board
	if a == nil {
		return fmt.Sprint("unreadable board: ", e.Err)
	}
	what := fmt.Sprintf("unreadable: board %s %s (program %s) speaks protocol %d, this program %d", a.Model, a.Serial,
		a.Program, a.Protocol, frame.Version)
	if a.Protocol == frame.Version {
		what += fmt.Sprintf("; the board's layout %q is unknown, known is %q up to %d channels", a.Layout,
			frame.Layout(1), frame.MaxChannels)
	}
	return what
}

// holder names the process that has the port.
func (e *Error) holder() string {
	switch {
	case e.Holder == 0:
		return "another program"
	case e.Program == "":
		return fmt.Sprintf("process %d", e.Holder)
	}
	return fmt.Sprintf("%s (process %d)", e.Program, e.Holder)
}

func answerList(answers []Answer) string {
	items := make([]string, len(answers))
	for i, a := range answers {
		items[i] = fmt.Sprintf("%s %s on %s", a.Board.Model, a.Board.Serial, a.Port)
	}
	return strings.Join(items, ", ")
}

// libraryError turns an error of the serial library into ours.
func libraryError(path string, err error) error {
	e := &Error{Kind: Failed, Port: path, Err: err}
	var pe *serial.PortError
	if !errors.As(err, &pe) {
		switch {
		case errors.Is(err, fs.ErrNotExist):
			e.Kind = Absent
		case errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV):
			e.Kind = Vanished
		}
		return e
	}
	switch pe.Code() {
	case serial.PortBusy:
		e.Kind = Busy
	case serial.PortNotFound:
		e.Kind, e.Err = Absent, fs.ErrNotExist
	case serial.PermissionDenied:
		e.Kind = Denied
	case serial.PortClosed:
		e.Kind = Vanished
	case serial.InvalidSerialPort:
		e.Kind = notSerialKind(path)
	}
	return e
}
