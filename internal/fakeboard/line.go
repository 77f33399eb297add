//go:build unix

package fakeboard

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
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
	// The library's calls leave the master in blocking mode, in which Close does
	// not wake a Write.
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

// Send sends bytes as a board does, which never waits, and returns how many
// the host's buffer had no room for.
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

// sendWait is how long bytes wait in the bridge for room in the host. Chosen: a bridge has
// some hundred bytes.
const sendWait = 5 * time.Millisecond

// Talk announces a board every 20 ms until the line is unplugged, and returns
// the line.
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

// Echo answers everything that the host sends, and the line's start, as a modem
// would, until the line is unplugged.
func (l *Line) Echo() {
	go func() {
		junk := []byte("AT\r\r\nERROR\r\nAT+GCAP\r\r\n+CME ERROR: 3\r\n")
		for {
			if _, err := l.board.Write(junk); err != nil {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
	}()
}

// Pace is how bytes come over a line. The zero value is an exact board clock
// and batches of about 20 ms of a four-channel board.
type Pace struct {
	// Clock is how many of the board's seconds pass in a second; 0 is 1.
	Clock float64
	// Batch is how many bytes are handed over at a time; 0 is 512.
	Batch int
	// Jitter is by how much a batch comes late at most, by chance.
	Jitter time.Duration
	// Patient waits where the host takes no bytes, instead of dropping them.
	Patient bool
}

// usualBatch is 21 ms of a four-channel board at 1000 frames a second.
const usualBatch = 512

// Play sends the bytes of src, a board's, when the ticks of their frames say so,
// until src ends, ctx is done or the line is unplugged; it returns how many
// bytes found no room.
func (l *Line) Play(ctx context.Context, src io.Reader, pace Pace) (dropped int) {
	if pace.Batch == 0 {
		pace.Batch = usualBatch
	}
	if pace.Clock == 0 {
		pace.Clock = 1
	}
	p := pacer{pace: pace, start: time.Now(), random: rand.New(rand.NewPCG(1, 1))}
	buf := make([]byte, pace.Batch)
	for ctx.Err() == nil {
		n, err := src.Read(buf)
		if !p.await(ctx, buf[:n]) {
			return dropped
		}
		lost, sendErr := l.Send(buf[:n])
		for pace.Patient && lost > 0 && sendErr == nil && ctx.Err() == nil {
			lost, sendErr = l.Send(buf[n-lost : n])
		}
		dropped += lost
		if err != nil || sendErr != nil {
			return dropped
		}
	}
	return dropped
}

// pacer knows when bytes are due.
type pacer struct {
	pace   Pace
	start  time.Time
	dec    frame.Decoder
	begun  bool
	last   frame.Frame
	ahead  time.Duration // of the last frame, from the first, by the board's clock
	random *rand.Rand
}

// await waits until the last frame in chunk is due; false when ctx ended.
func (p *pacer) await(ctx context.Context, chunk []byte) bool {
	p.dec.Feed(chunk)
	for f, ok := p.dec.Next(); ok; f, ok = p.dec.Next() {
		if p.begun && f.Segment == p.last.Segment {
			p.ahead += time.Duration(f.Tick-p.last.Tick) * time.Microsecond
		}
		p.begun, p.last = true, *f
	}
	due := p.start.Add(time.Duration(float64(p.ahead) / p.pace.Clock))
	if p.pace.Jitter > 0 {
		due = due.Add(time.Duration(p.random.Int64N(int64(p.pace.Jitter))))
	}
	select {
	case <-time.After(time.Until(due)):
		return true
	case <-ctx.Done():
		return false
	}
}

// Socket is a path at which a line can be plugged in and out, as the names
// under /dev/serial/by-id are.
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
