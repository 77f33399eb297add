package board

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

func TestOpenGivesEveryByte(t *testing.T) {
	l := fakeboard.NewLine(t)
	head := appendFrames([]byte("boot loader\r\n\x03\x00\xff"), 0, 3)
	sent := appendFrames(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)), 3, 2000)
	go func() {
		time.Sleep(30 * time.Millisecond)
		for rest := append(head, sent...); len(rest) > 0; rest = rest[min(97, len(rest)):] {
			l.Write(rest[:min(97, len(rest))])
		}
	}()
	link := open(t, l.Path)
	if b := link.Board(); b.Serial != "A1" || link.Path() != l.Path || link.Baud() != 500_000 {
		t.Errorf("board %+v on %s at %d", b, link.Path(), link.Baud())
	}
	got := make([]byte, len(head)+len(sent))
	if _, err := io.ReadFull(link, got); err != nil {
		t.Fatal(err)
	}
	if i := bytes.Index(got, sent[:20]); i < 0 || !bytes.Equal(got[i:], sent) {
		t.Errorf("bytes differ; announcement at %d", i)
	}
}

func TestOpenTriesTheUsualRates(t *testing.T) {
	l := fakeboard.NewLine(t)
	sent := appendFrames(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)), 0, 10)
	const wait = 150 * time.Millisecond
	go func() {
		l.Write(append([]byte("junk\x00junk"), sent[:40]...))
		time.Sleep(wait + wait/2)
		l.Write(sent[40:]) // the announcement lies across the change of rate
	}()
	var reports []Progress
	link, err := Open(t.Context(), l.Path, Options{Wait: wait, Progress: func(p Progress) { reports = append(reports, p) }})
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	if link.Baud() != 1_000_000 {
		t.Errorf("baud %d", link.Baud())
	}
	got := make([]byte, len(sent))
	if _, err := io.ReadFull(link, got); err != nil || !bytes.Equal(got, sent) {
		t.Errorf("%v, %q", err, got)
	}
	if n := len(reports); n < 2 || reports[0].Baud != 500_000 || reports[n-1].Baud != 1_000_000 || reports[n-1].Bytes == 0 || reports[n-1].Damaged == 0 {
		t.Errorf("progress %+v", reports)
	}
}

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

// TestOpenMeasuresAPrintingBoard checks that lines of counts alone are read,
// with the rate that the lines came at.
func TestOpenMeasuresAPrintingBoard(t *testing.T) {
	l := fakeboard.NewLine(t)
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		start := time.Now()
		for sent := 0; ; {
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
			}
			for ; sent < int(time.Since(start).Seconds()*200); sent++ {
				fmt.Fprintf(l, "%d,%d\r\n", 500+sent%9, 400)
			}
		}
	}()
	link, err := Open(t.Context(), l.Path, Options{Baud: 115_200})
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	a := link.Board()
	if a.Printed != frame.NoClock || a.Rate < 190 || a.Rate > 210 || len(a.Channels) != 2 {
		t.Errorf("board %+v", a)
	}
	r := frame.NewReader(link)
	f, err := r.Read()
	if err != nil || f.Counts[1] != 400 || r.Board().Rate != a.Rate {
		t.Errorf("%+v %v %+v", f, err, r.Board())
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

func TestSilent(t *testing.T) {
	opt := Options{Wait: 60 * time.Millisecond}
	l := fakeboard.NewLine(t)
	_, err := Open(t.Context(), l.Path, opt)
	if e := mustBe(t, err, Silent); e.Bytes != 0 || len(e.Rates) != 4 || !strings.Contains(e.Error(), "no bytes at all") {
		t.Error(e)
	}
	l.Write([]byte("AT\r\r\nOK\r\n\x00\x01\x02"))
	_, err = Open(t.Context(), l.Path, opt)
	if e := mustBe(t, err, Silent); e.Bytes != 12 || !strings.Contains(e.Error(), "bytes but no valid frames: baud or firmware") {
		t.Error(e)
	}
}

func TestFloodOfJunkIsBounded(t *testing.T) {
	l := fakeboard.NewLine(t)
	go func() {
		for junk := bytes.Repeat([]byte("\x55\xaa\x00"), 1000); ; {
			if _, err := l.Write(junk); err != nil {
				return
			}
		}
	}()
	kept := &Link{}
	g := &greeting{link: kept, opt: &Options{}}
	for junk := bytes.Repeat([]byte{1, 2, 3, 0}, chunkLen/4); g.dec.Stats().Bytes < 3*maxAhead; {
		g.take(junk)
	}
	if len(kept.ahead) > maxAhead {
		t.Errorf("%d bytes kept", len(kept.ahead))
	}
	_, err := Open(t.Context(), l.Path, Options{Baud: 250_000, Wait: 100 * time.Millisecond})
	mustBe(t, err, Silent)
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

func TestVanishedWhileReadingAndWaiting(t *testing.T) {
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	link := open(t, l.Path)
	pulled := make(chan time.Time, 1)
	time.AfterFunc(50*time.Millisecond, func() { pulled <- time.Now(); l.Unplug() })
	_, err := io.Copy(io.Discard, link)
	mustBe(t, err, Vanished)
	if took := time.Since(<-pulled); took > 300*time.Millisecond {
		t.Errorf("noticed after %v", took)
	}
	if _, err := link.Read(make([]byte, 1)); !isKind(err, Vanished) {
		t.Errorf("read again: %v", err)
	}

	mute := fakeboard.NewLine(t)
	time.AfterFunc(50*time.Millisecond, mute.Unplug)
	_, err = Open(t.Context(), mute.Path, Options{})
	mustBe(t, err, Vanished)
}

func TestOpenEndsWithItsContext(t *testing.T) {
	l := fakeboard.NewLine(t)
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	start := time.Now()
	for range 2 {
		if _, err := Open(ctx, l.Path, Options{}); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("got %v", err)
		}
	}
	if took := time.Since(start); took > 150*time.Millisecond {
		t.Errorf("took %v", took)
	}
}

func TestCloseWakesRead(t *testing.T) {
	l := fakeboard.NewLine(t)
	l.Write(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)))
	link := open(t, l.Path)
	ended := make(chan error)
	var reading sync.WaitGroup
	reading.Add(1)
	go func() {
		b := make([]byte, 4096)
		n, err := link.Read(b)
		reading.Done()
		for err == nil && n > 0 {
			n, err = link.Read(b)
		}
		ended <- err
	}()
	reading.Wait()
	time.Sleep(50 * time.Millisecond)
	start := time.Now()
	if err := link.Close(); err != nil {
		t.Error(err)
	}
	if err := <-ended; !errors.Is(err, os.ErrClosed) {
		t.Errorf("read: %v", err)
	}
	if took := time.Since(start); took > 100*time.Millisecond {
		t.Errorf("took %v", took)
	}
	if n, err := link.Read(make([]byte, 1)); n != 0 || !errors.Is(err, os.ErrClosed) || link.Close() != nil {
		t.Errorf("after Close: %d, %v", n, err)
	}
}

func TestNothingLeaks(t *testing.T) {
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
	for range 200 {
		cycle()
	}
	atFirst.MustHold(t)
}
