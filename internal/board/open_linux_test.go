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

func TestDefaults(t *testing.T) {
	o := Options{}
	if o.wait() != eachRateWait || len(o.rates()) != 4 || o.rates()[0] != 500_000 {
		t.Errorf("%v %v", o.wait(), o.rates())
	}
	o.Baud = 115_200
	if o.wait() != oneRateWait || len(o.rates()) != 1 {
		t.Errorf("%v %v", o.wait(), o.rates())
	}
}

func TestAbsentAndNotSerial(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	write(t, file, "text")
	for path, kind := range map[string]Kind{
		"/dev/pts/999999": Absent, file + "/below": Absent, "": Absent,
		file: NotSerial, "/dev/null": NotSerial, "/dev": NotSerial,
	} {
		_, err := Open(t.Context(), path, Options{})
		mustBe(t, err, kind)
	}
}

func TestUnreadable(t *testing.T) {
	newer, layout := fakeboard.Announcement("A1", 2), fakeboard.Announcement("A1", 2)
	newer.Protocol, newer.Program = 2, "2.1.0"
	layout.Layout = "counter:u32 heat:u16"
	for _, a := range []*frame.Announcement{newer, layout} {
		l := fakeboard.NewLine(t)
		l.Write(frame.AppendAnnouncement(nil, a))
		_, err := Open(t.Context(), l.Path, Options{})
		if e := mustBe(t, err, Unreadable); e.Board.Program != a.Program {
			t.Error(e)
		}
	}
}

// What a board sends while it is waited for and after comes to the reader untouched.
func TestOpenGivesEveryByte(t *testing.T) {
	t.Parallel()
	l := fakeboard.NewLine(t)
	head := appendFrames([]byte("boot loader\r\n\x03\x00\xff"), 0, 3)
	sent := appendFrames(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)), 3, 2000)
	go func() {
		for rest := append(head, sent...); len(rest) > 0; rest = rest[min(97, len(rest)):] {
			l.Write(rest[:min(97, len(rest))])
		}
	}()
	link := open(t, l.Path)
	if b := link.Board(); b.Serial != "A1" || link.Path() != l.Path || link.Baud() != 500_000 {
		t.Errorf("board %+v on %s at %d", b, link.Path(), link.Baud())
	}
	// The system may drop what came before the library had the port: not what came after.
	got := make([]byte, 0, len(head)+len(sent))
	for buf := make([]byte, 4096); !bytes.HasSuffix(got, sent[len(sent)-20:]); {
		n, err := link.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, buf[:n]...)
	}
	if i := bytes.Index(got, sent[:20]); i < 0 || !bytes.Equal(got[i:], sent) {
		t.Errorf("bytes differ; announcement at %d", i)
	}
}

// What comes while a board is waited for is kept up to a bound, however much it is.
func TestFloodOfJunkIsBounded(t *testing.T) {
	t.Parallel()
	kept := &Link{}
	g := &greeting{link: kept, opt: &Options{}}
	for junk := bytes.Repeat([]byte{1, 2, 3, 0}, chunkLen/4); g.dec.Stats().Bytes < 3*maxAhead; {
		g.take(junk)
	}
	if len(kept.ahead) > maxAhead {
		t.Errorf("%d bytes kept", len(kept.ahead))
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

// A pty that is unplugged is told to have vanished, while it is read and while a board is waited
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
	_, err := Open(t.Context(), mute.Path, Options{Baud: 500_000, Wait: effort.Hang, Progress: func(Progress) { once.Do(func() { close(opened) }) }})
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
	atFirst := fakeboard.InUse(t)
	for range effort.Of(40, 200) {
		cycle()
	}
	atFirst.MustHold(t)
}

// Nor do boards that are lost and found again.
func TestReopenLeavesNothing(t *testing.T) { // not beside others, which have some of their own
	socket := fakeboard.Socket{Path: filepath.Join(t.TempDir(), "board")}
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	plug := func() {
		if err := socket.Plug(l); err != nil {
			t.Fatal(err)
		}
	}
	plug()
	link := open(t, socket.Path)
	var atFirst fakeboard.Usage
	for i := range effort.Of(4, 12) {
		fresh := fakeboard.NewLine(t) // made before the old one goes, so that its path is a new one
		socket.Empty()
		l.Unplug()
		_, err := io.Copy(io.Discard, link)
		mustBe(t, err, Vanished)
		l = fresh.Talk(fakeboard.Announcement("A1", 2))
		plug()
		none := func() ([]Port, error) { return nil, os.ErrPermission } // the last path is tried all the same
		if link, err = Reopen(t.Context(), link, Options{Wait: effort.Hang, Ports: none}); err != nil {
			t.Fatal(err)
		}
		if link.Board().Serial != "A1" || link.Path() != socket.Path || link.Baud() != 500_000 {
			t.Errorf("cycle %d: %s on %s at %d", i, link.Board().Serial, link.Path(), link.Baud())
		}
		if i == 0 {
			atFirst = fakeboard.InUse(t)
		}
	}
	atFirst.MustHold(t)
	link.Close()
}

// On a quiet machine: unplugging is noticed within 300 ms, a reader woken within 100, a second
// process refused within 500.
func TestQuietPort(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		var vanished, closed, refused time.Duration
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
		})
		return []effort.Figure{
			effort.Millis("unplugging noticed", vanished, 300*time.Millisecond+2*late),
			effort.Millis("a reader woken", closed, 100*time.Millisecond+2*late),
			effort.Millis("a second process refused", refused, 500*time.Millisecond+2*late),
		}
	})
}
