//go:build unix

package fakeboard

import (
	"context"
	"errors"
	"io"
	"os"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/frame"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// Line is a pty: Path is the end that looks like a serial port.
type Line struct {
	Path  string
	board *os.File // the end that the board writes to
	port  *os.File // kept open, so that what was set on it stays
}

// NewLine returns a line that nobody talks on yet. It is unplugged at the end of
// the test, which is skipped where there are no ptys.
func NewLine(t testing.TB) *Line {
	t.Helper()
	l, err := openLine()
	if err != nil {
		t.Skip("no pty: ", err)
	}
	t.Cleanup(l.Unplug)
	return l
}

func openLine() (*Line, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, err
	}
	defer master.Close()
	l := &Line{Path: slave.Name(), port: slave}
	// Bytes that are written before the port is raw are changed on the way.
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		slave.Close()
		return nil, err
	}
	// The library's calls leave the master in blocking mode, in which Close does not wake a Write.
	fd, err := syscall.Dup(int(master.Fd()))
	if err == nil {
		err = syscall.SetNonblock(fd, true)
	}
	if err != nil {
		slave.Close()
		return nil, err
	}
	syscall.CloseOnExec(fd)
	l.board = os.NewFile(uintptr(fd), l.Path)
	return l, nil
}

// Unplug takes the line away, as pulling the lead does.
func (l *Line) Unplug() {
	l.board.Close()
	l.port.Close()
}

// LetIn lets every user open the port.
func (l *Line) LetIn(t testing.TB) {
	t.Helper()
	if err := os.Chmod(l.Path, 0o666); err != nil {
		t.Fatal(err)
	}
}

// Write sends bytes, and waits while the host takes none.
func (l *Line) Write(p []byte) (int, error) {
	if err := l.board.SetWriteDeadline(time.Time{}); err != nil {
		return 0, err
	}
	return l.board.Write(p)
}

// Read reads what the host has sent.
func (l *Line) Read(p []byte) (int, error) { return l.board.Read(p) }

// Send sends bytes as a board does, which never waits, and returns how many the host's buffer had no room for.
func (l *Line) Send(p []byte) (dropped int, err error) {
	if err := l.board.SetWriteDeadline(time.Now().Add(sendWait)); err != nil {
		return 0, err
	}
	n, err := l.board.Write(p)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = nil
	}
	return len(p) - n, err
}

// Talk announces a board every 20 ms until the line is unplugged. It returns the line.
func (l *Line) Talk(a *frame.Announcement) *Line {
	go func() {
		for says := frame.AppendAnnouncement(nil, a); ; time.Sleep(20 * time.Millisecond) {
			if _, err := l.board.Write(says); err != nil {
				return
			}
		}
	}()
	return l
}

// Play sends the bytes of src, a board's, when the ticks of their frames say so, until src ends, ctx is done or the
// line is unplugged; it returns how many bytes found no room.
func (l *Line) Play(ctx context.Context, src io.Reader, pace Pace) (dropped int) {
	return play(ctx, l.Send, src, pace)
}

// Socket is a path at which a line can be plugged in and out, as the names under /dev/serial/by-id are.
type Socket struct{ Path string }

// Plug makes the path lead to the line's port.
func (s *Socket) Plug(l *Line) error {
	if err := s.Empty(); err != nil {
		return err
	}
	return os.Symlink(l.Path, s.Path)
}

// Empty makes the path lead nowhere.
func (s *Socket) Empty() error {
	if err := os.Remove(s.Path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}
