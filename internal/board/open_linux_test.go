package board

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

func TestAbsentAndNotSerial(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	write(t, file, "text")
	for name, x := range map[string]struct {
		path string
		kind Kind
	}{
		"no such pty":     {"/dev/pts/999999", Absent},
		"below a file":    {file + "/below", Absent},
		"no path":         {"", Absent},
		"a file":          {file, NotSerial},
		"the null device": {"/dev/null", NotSerial},
		"a directory":     {"/dev", NotSerial},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Open(t.Context(), x.path, Options{})
			mustBe(t, err, x.kind)
		})
	}
}

// What a board sends while it is waited for and after comes to the reader untouched.
func TestOpenGivesEveryByte(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	head := appendFrames([]byte("boot loader\r\n\x03\x00\xff"), 0, 3)
	sent := appendFrames(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)), 3, 2000)
	write := func() { // once the port is open: before that nobody listens
		for rest := append(head, sent...); len(rest) > 0; rest = rest[min(97, len(rest)):] {
			l.Write(rest[:min(97, len(rest))])
		}
	}
	var once sync.Once
	link, err := Open(t.Context(), l.Path, Options{
		Baud: 500_000, Wait: effort.Hang, Progress: func(Progress) { once.Do(func() { go write() }) },
	})
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	if b := link.Board(); b.Serial != "A1" || link.Path() != l.Path || link.baud != 500_000 {
		t.Errorf("board %+v on %s at %d", b, link.Path(), link.baud)
	}
	got := make([]byte, len(head)+len(sent))
	if _, err := io.ReadFull(link, got); err != nil || !bytes.Equal(got, append(head, sent...)) {
		t.Errorf("bytes differ: %v", err)
	}
}

// What comes while a board is waited for is kept up to a bound, however much it is.
func TestFloodOfJunkIsBounded(t *testing.T) {
	t.Parallel()
	kept := &Link{}
	g := &greeting{link: kept, opt: &Options{}}
	for junk := bytes.Repeat([]byte{1, 2, 3, 0}, chunkLen/4); g.dec.Stats().Bytes < 3*maxUnread; {
		g.takeChunk(junk)
	}
	if len(kept.unread) > maxUnread {
		t.Errorf("%d bytes kept", len(kept.unread))
	}
	l := fakeboard.NewLine(t)
	go func() {
		for junk := bytes.Repeat([]byte("\x55\xaa\x00"), 1000); ; {
			if _, err := l.Write(junk); err != nil {
				return
			}
		}
	}()
	_, err := Open(t.Context(), l.Path, Options{Baud: 250_000, Wait: 100 * time.Millisecond})
	mustBe(t, err, Silent)
}

// A pty that is unplugged is reported as vanished, while it is read and while a board is waited
// for.
func TestVanishedOnAPty(t *testing.T) {
	t.Parallel()
	took := vanishes(t)
	t.Logf("noticed after %v", took)
	mute := fakeboard.NewLine(t)
	opened := make(chan struct{})
	var once sync.Once
	go func() {
		<-opened
		mute.Unplug()
	}()
	_, err := Open(t.Context(), mute.Path, Options{
		Baud: 500_000, Wait: effort.Hang, Progress: func(Progress) { once.Do(func() { close(opened) }) },
	})
	mustBe(t, err, Vanished)
}

// vanishes unplugs a pty that is being read, and returns how long it took to be noticed.
func vanishes(t *testing.T) time.Duration {
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	link := open(t, l.Path)
	if _, err := link.Read(make([]byte, 1)); err != nil {
		t.Fatal(err)
	}
	pulled := make(chan time.Time, 1)
	go func() {
		pulled <- time.Now()
		l.Unplug()
	}()
	_, err := io.Copy(io.Discard, link)
	mustBe(t, err, Vanished)
	return time.Since(<-pulled)
}

// Close frees a pty, and wakes who reads it.
func TestCloseOnAPty(t *testing.T) {
	t.Parallel()
	t.Logf("woken after %v", closes(t))
}

// closes closes a link that is being read, and returns how long it took its reader to wake.
func closes(t *testing.T) time.Duration {
	l := fakeboard.NewLine(t)
	l.Write(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)))
	link := open(t, l.Path)
	ended, reading := make(chan error), make(chan struct{})
	go func() {
		link.Read(make([]byte, 4096))
		close(reading)
		_, err := io.Copy(io.Discard, link)
		ended <- err
	}()
	<-reading
	begun := time.Now()
	if err := link.Close(); err != nil {
		t.Error(err)
	}
	if err := <-ended; !errors.Is(err, os.ErrClosed) {
		t.Errorf("read: %v", err)
	}
	return time.Since(begun)
}

// Links that are opened and closed leave no descriptor and no goroutine behind.
func TestNothingLeaks(t *testing.T) { // not beside others, which have some of their own
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	dead := fakeboard.NewLine(t)
	cycle := func() {
		link := open(t, l.Path)
		go io.Copy(io.Discard, link)
		link.Close()
		Open(t.Context(), dead.Path, Options{Baud: 500_000, Wait: time.Millisecond})
	}
	cycle()
	atFirst := inUse(t)
	for range effort.Of(40, 200) {
		cycle()
	}
	atFirst.mustHold(t)
}

// Nor do boards that are lost and found again.
func TestReopenLeavesNothing(t *testing.T) { // not beside others, which have some of their own
	b := newReplugged(t)
	b.again(t)
	atFirst := inUse(t)
	for range effort.Of(4, 12) {
		b.again(t)
	}
	atFirst.mustHold(t)
}

// replugged is an open board at a path that stays while its ptys come and go.
type replugged struct {
	socket fakeboard.Socket
	line   *fakeboard.Line
	link   *Link
}

func newReplugged(t *testing.T) *replugged {
	b := &replugged{socket: fakeboard.Socket{Path: filepath.Join(t.TempDir(), "board")}}
	b.line = fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	if err := b.socket.Plug(b.line); err != nil {
		t.Fatal(err)
	}
	b.link = open(t, b.socket.Path)
	return b
}

// again pulls the lead and, when Reopen has just looked in vain for the third time, puts it back:
// another pty. It returns how long the board was back before the link was.
func (b *replugged) again(t *testing.T) time.Duration {
	t.Helper()
	fresh := fakeboard.NewLine(t) // made before the old one goes, so that its path is a new one
	b.socket.Empty()
	b.line.Unplug()
	_, err := io.Copy(io.Discard, b.link)
	mustBe(t, err, Vanished)
	b.line = fresh.Talk(fakeboard.Announcement("A1", 2))
	looks, back := 0, make(chan time.Time, 1)
	ports := func() ([]Port, error) {
		if looks++; looks == 3 {
			time.AfterFunc(pollEvery/10, func() {
				back <- time.Now()
				if err := b.socket.Plug(fresh); err != nil {
					t.Error(err)
				}
			})
		}
		return nil, os.ErrPermission // the last path is tried all the same
	}
	if b.link, err = Reopen(t.Context(), b.link, Options{Wait: effort.Hang, Ports: ports}); err != nil {
		t.Fatal(err)
	}
	took := time.Since(<-back)
	t.Cleanup(func() { b.link.Close() })
	if l := b.link; l.Board().Serial != "A1" || l.Path() != b.socket.Path || l.baud != 500_000 {
		t.Errorf("%s on %s at %d", l.Board().Serial, l.Path(), l.baud)
	}
	return took
}

// On a quiet machine: unplugging is noticed within 300 ms, a reader woken within 100, a second
// process refused within 500, a board that is back is read again within a second.
func TestQuietPort(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		var vanished, closed, refused, back time.Duration
		late := effort.Lateness(func() {
			for range 5 {
				vanished, closed = max(vanished, vanishes(t)), max(closed, closes(t))
			}
			l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
			l.LetIn(t)
			open(t, l.Path)
			for _, uid := range users() {
				refused = max(refused, tries(t, l.Path, uid).Took)
			}
			b := newReplugged(t)
			for range 5 {
				back = max(back, b.again(t))
			}
		})
		return []effort.Figure{
			effort.Millis("unplugging noticed", vanished, 300*time.Millisecond+2*late),
			effort.Millis("a reader woken", closed, 100*time.Millisecond+2*late),
			effort.Millis("a second process refused", refused, 500*time.Millisecond+2*late),
			effort.Millis("read again", back, time.Second+2*late),
		}
	})
}
