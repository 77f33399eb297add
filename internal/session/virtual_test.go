package session_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
	"evendraw/internal/session"
)

// What a session says of time, in virtual time: to the nanosecond, on any machine.

// piped is a session on a pipe, in a bubble of virtual time.
type piped struct {
	t     *testing.T
	s     *session.Session
	w     *io.PipeWriter
	ended chan error
}

func newPiped(t *testing.T) *piped {
	b := bank.Default(4)
	p := &piped{t: t, s: session.New(session.Config{Bank: &b, Ambient: 101.3, Zeroed: true}, session.Options{})}
	p.plug()
	return p
}

// plug begins to read a new pipe, as when a board is found again.
func (p *piped) plug() {
	r, w := io.Pipe()
	p.w, p.ended = w, make(chan error, 1)
	ended := p.ended
	go func() { ended <- p.s.Run(p.t.Context(), r) }()
}

// send sends bytes, and comes back when all has been done that they bring about.
func (p *piped) send(bytes []byte) *session.Snapshot {
	p.t.Helper()
	if _, err := p.w.Write(bytes); err != nil {
		p.t.Fatal(err)
	}
	synctest.Wait()
	return p.s.Snapshot()
}

// unplug ends the pipe with an error, nil for its end.
func (p *piped) unplug(err error) *session.Snapshot {
	p.t.Helper()
	p.w.CloseWithError(err)
	if got := <-p.ended; got != err {
		p.t.Errorf("ended with %v, want %v", got, err)
	}
	return p.s.Snapshot()
}

// after lets virtual time pass.
func after(d time.Duration) time.Time {
	time.Sleep(d)
	return time.Now()
}

// Row 11: figures are live up to StaleAfter after the last frame, and stale right after it; a frame makes
// them live again. What comes and is no frame does not.
func TestStaleToTheInstant(t *testing.T) {
	t.Parallel()
	const ms = time.Millisecond
	rec, _ := idling(3)
	synctest.Test(t, func(t *testing.T) {
		p := newPiped(t)
		if p.s.Snapshot().Stale(after(time.Hour)) {
			t.Error("stale before the first frame")
		}
		for i := range 3 {
			snap := p.send(rec.Part(1000*i, 1000*(i+1)).Bytes())
			if !snap.LastFrame.Equal(time.Now()) {
				t.Errorf("the last frame came at %v, it is %v", snap.LastFrame, time.Now())
			}
			for _, c := range []struct {
				wait  time.Duration
				stale bool
			}{{0, false}, {100 * ms, false}, {150 * ms, false}, {1, true}, {time.Minute, true}} {
				now := after(c.wait)
				snap := p.send([]byte("\x00no frame\x00")) // of another program
				if snap.Stale(now) != c.stale {
					t.Errorf("stale is %v %v after the last frame", !c.stale, now.Sub(snap.LastFrame))
				}
			}
		}
		if snap := p.unplug(errUnplugged); !snap.Stale(time.Now()) {
			t.Error("what was lost is not stale")
		}
	})
	if session.StaleAfter != 250*time.Millisecond {
		t.Errorf("figures turn stale after %v", session.StaleAfter)
	}
}

var errUnplugged = errors.New("unplugged")

// A phase begins when what makes it comes, and goes on while that is so.
func TestPhasesToTheInstant(t *testing.T) {
	t.Parallel()
	rec, _ := idling(3)
	first, second := rec.Part(0, 1000).Bytes(), rec.Part(1000, 2000).Bytes()
	foreign := rec.About
	foreign.Protocol++
	synctest.Test(t, func(t *testing.T) {
		p := newPiped(t)
		begun := time.Now()
		at := func(step string, snap *session.Snapshot, phase session.Phase, begun time.Time) {
			t.Helper()
			if snap.Phase != phase || !snap.Since.Equal(begun) {
				t.Errorf("%s: %s for %v, want %s for %v", step, snap.Phase, time.Since(snap.Since), phase,
					time.Since(begun))
			}
		}
		after(time.Second)
		at("nothing", p.s.Snapshot(), session.Waiting, begun)
		begun = after(time.Second)
		at("garbage", p.send([]byte("\x00garbage\x00more\x00")), session.Garbled, begun)
		after(time.Second)
		at("more garbage", p.send([]byte("\x00garbage\x00more\x00")), session.Garbled, begun)
		begun = after(time.Second)
		at("frames", p.send(first), session.Running, begun)
		after(time.Second)
		at("more frames", p.send(second), session.Running, begun)
		begun = after(time.Second)
		at("unplugged", p.unplug(errUnplugged), session.Lost, begun)
		if err := p.s.Snapshot().Err; err != errUnplugged {
			t.Errorf("the cause is %v", err)
		}
		p.plug()
		after(time.Second)
		at("plugged in", p.s.Snapshot(), session.Lost, begun)
		begun = after(time.Second)
		at("frames again", p.send(rec.Part(2000, 3000).Bytes()), session.Running, begun)
		if err := p.s.Snapshot().Err; err != nil {
			t.Errorf("frames come, and the cause is %v", err)
		}
		begun = after(time.Second)
		at("the end", p.unplug(nil), session.Ended, begun)
	})
	synctest.Test(t, func(t *testing.T) {
		p := newPiped(t)
		begun := after(time.Second)
		snap := p.send(frame.AppendAnnouncement(nil, &foreign))
		if snap.Phase != session.Foreign || !snap.Since.Equal(begun) || snap.Err == nil {
			t.Errorf("a board of another protocol: %s since %v, %v", snap.Phase, snap.Since, snap.Err)
		}
		p.unplug(nil)
	})
}

// A session whose context ends closes its source, and ends at that instant.
func TestEndsWithItsContext(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithTimeout(t.Context(), time.Second)
		defer stop()
		s := session.New(session.Config{}, session.Options{})
		r, w := io.Pipe()
		begun := time.Now()
		err := s.Run(ctx, r)
		if took := time.Since(begun); took != time.Second || !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("ended after %v with %v", took, err)
		}
		if _, err := w.Write([]byte{0}); err == nil {
			t.Error("the source is open")
		}
	})
}

// Pace hands bytes on exactly when their last frame is due by the board's ticks, across wraps,
// losses and a restart of the board, which begins where the last frame was.
func TestPaceIsTheBoards(t *testing.T) {
	t.Parallel()
	rec, _ := idling(4)
	lossy := fakeboard.WithoutRun(rec.Part(0, 700).StartingAt(7, 1<<32-300_000).Blocks(), 500, 50)
	stream := append(fakeboard.Join(lossy), rec.Part(1000, 3000).Restarted("0002").Bytes()...)
	synctest.Test(t, func(t *testing.T) {
		p := session.NewPace(t.Context(), bytes.NewReader(stream))
		var dec frame.Decoder
		var last frame.Frame
		begun := time.Now() // the first piece holds a frame
		due, frames, restarts := time.Duration(0), 0, 0
		var got []byte
		buf := make([]byte, 4096)
		for {
			n, err := p.Read(buf)
			got = append(got, buf[:n]...)
			dec.Feed(buf[:n])
			for f, ok := dec.Next(); ok; f, ok = dec.Next() {
				switch {
				case frames == 0:
				case f.Segment != last.Segment:
					restarts++
				default:
					due += time.Duration(f.Tick-last.Tick) * time.Microsecond
				}
				last = *f
				frames++
			}
			if time.Since(begun) != due {
				t.Fatalf("frame %d is handed on after %v, due after %v", last.Counter, time.Since(begun), due)
			}
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(got, stream) || frames != 2650 || restarts != 1 || due != 2698*time.Millisecond {
			t.Errorf("%d bytes of %d, %d frames, %d restarts, %v", len(got), len(stream), frames, restarts, due)
		}
	})
}

// A waiting Pace ends with its context, at that instant.
func TestPaceEndsWithItsContext(t *testing.T) {
	t.Parallel()
	rec, _ := idling(1)
	synctest.Test(t, func(t *testing.T) {
		const end = 123456789 * time.Nanosecond
		ctx, stop := context.WithTimeout(t.Context(), end)
		defer stop()
		p := session.NewPace(ctx, bytes.NewReader(rec.Bytes()))
		begun := time.Now()
		_, err := io.Copy(io.Discard, p)
		if took := time.Since(begun); took != end || !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("ended after %v with %v", took, err)
		}
	})
}

// A session on a Pace is live all the time, whenever it is looked at.
func TestPacedSessionIsLive(t *testing.T) {
	t.Parallel()
	rec, _ := idling(3)
	synctest.Test(t, func(t *testing.T) {
		b := bank.Default(4)
		s := session.New(session.Config{Bank: &b, Ambient: 101.3, Zeroed: true}, session.Options{})
		ended := make(chan error, 1)
		begun := time.Now()
		go func() { ended <- s.Run(t.Context(), session.NewPace(t.Context(), bytes.NewReader(rec.Bytes()))) }()
		for range 299 {
			now := after(10 * time.Millisecond)
			snap := s.Snapshot()
			if age := now.Sub(snap.LastFrame); snap.Phase != session.Running || age > 30*time.Millisecond ||
				snap.Stale(now) {
				t.Fatalf("after %v: %s, the last frame %v ago", now.Sub(begun), snap.Phase, age)
			}
		}
		if err := <-ended; err != nil || time.Since(begun) > 3*time.Second {
			t.Errorf("ended after %v with %v", time.Since(begun), err)
		}
	})
}
