//go:build unix

package session_test

import (
	"context"
	"io"
	"math"
	"runtime"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
	"evendraw/internal/session"
)

// endless is a board that runs for very long: a piece of whole cycles, over and over, with
// what goes wrong on the way counted.
type endless struct {
	piece []frame.Frame
	seed  uint16
	says  []byte
	next  frame.Frame
	k     int // of piece
	buf   []byte

	left                     int // frames still to come
	frames, lost, over, more uint64
	at                       func(frames uint64)
}

// Of so many frames one each is lost, doubled, or comes after an instant that the board
// missed: numbers that share no factor.
const lostEach, doubledEach, missedEach = 10_007, 7_919, 13_009

func (e *endless) Read(p []byte) (int, error) {
	for len(e.buf) < len(p) && e.left > 0 {
		e.add()
	}
	if len(e.buf) == 0 {
		return 0, io.EOF
	}
	n := copy(p, e.buf)
	e.buf = append(e.buf[:0], e.buf[n:]...)
	e.at(e.frames)
	return n, nil
}

// add sends one frame, or loses it.
func (e *endless) add() {
	f := &e.next
	i := f.Counter
	f.N, f.Counts = e.piece[e.k].N, e.piece[e.k].Counts
	if e.k++; e.k == len(e.piece) {
		e.k = 0
	}
	if i%fakeboard.Rate == 0 {
		e.buf = append(e.buf, e.says...)
	}
	switch {
	case i%lostEach == lostEach-1 && e.left > 1:
		e.lost++
	case i%doubledEach == doubledEach-1:
		e.buf = frame.AppendData(frame.AppendData(e.buf, e.seed, f), e.seed, f)
		e.frames, e.more = e.frames+1, e.more+1
	default:
		e.buf = frame.AppendData(e.buf, e.seed, f)
		e.frames++
	}
	if i%missedEach == missedEach-1 && e.left > 1 {
		f.Overflow++
		f.Tick += 1000
		e.over++
	}
	f.Counter++
	f.Tick += 1000
	e.left--
}

// fourHours are the frames of four hours.
const fourHours = 14_400_000

// longRun runs a session over so many frames, and returns the board that sent them, the last
// Snapshot, and the memory in use after a tenth of them and near their end.
func longRun(t *testing.T, frames int) (e *endless, snap *session.Snapshot, early, late uint64) {
	t.Helper()
	rec, cycles := idling(14)
	from, to := cycles[4].StartS, cycles[len(cycles)-4].StartS
	e = &endless{piece: rec.Frames[int(from*1000):int(to*1000)], seed: frame.Seed(rec.About.Layout), left: frames,
		says: frame.AppendAnnouncement(nil, &rec.About)}
	e.at = func(n uint64) {
		switch {
		case early == 0 && n > uint64(frames/10):
			early = heap()
		case late == 0 && n > uint64(frames*99/100):
			late = heap()
		}
	}
	b := bank.Default(4)
	s := session.New(session.Config{Bank: &b, Ambient: 101.3, Zeroed: true}, session.Options{})
	if err := s.Run(context.Background(), e); err != nil {
		t.Fatal(err)
	}
	snap = s.Snapshot()
	r := snap.Reading
	if r == nil || math.IsNaN(r.RPM) || math.Abs(r.RPM/cycles[10].RPM()-1) > 0.1 {
		t.Errorf("the last reading: %+v", r)
	}
	return e, snap, early, late
}

// Four hours at full speed: memory stays flat and every count is exact, across three
// wraps of the board's clock. It is not run beside other tests, whose memory would count.
func TestFourHours(t *testing.T) {
	frames := effort.Of(200_000, fourHours)
	begin, used := time.Now(), cpu()
	e, snap, early, late := longRun(t, frames)
	took, used := time.Since(begin), cpu()-used
	l := snap.Link
	if l.Frames != e.frames || l.Lost != e.lost || l.Duplicates != e.more || l.Overflows != e.over || l.Damaged != 0 ||
		l.Restarts != 0 {
		t.Errorf("counted %+v, sent %d frames, lost %d, doubled %d, missed %d", l, e.frames, e.lost, e.more, e.over)
	}
	if want := float64(uint64(frames)+e.over-1) / 1000; math.Abs(l.LastTime-want) > 1e-3 {
		t.Errorf("the last frame is at %.6f s, is truly at %.6f", l.LastTime, want)
	}
	if early == 0 || late > early+1<<20 {
		t.Errorf("%d kB in use after a tenth of the time, %d at its end", early>>10, late>>10)
	}
	t.Logf("count: %d frames in one session (%.1f hours in %.0f s, %.0f s of the processor), %d lost, %d doubled, %d "+
		"missed, all counted; memory %d kB, then %d kB",
		e.frames, l.LastTime/3600, took.Seconds(), used.Seconds(), e.lost, e.more, e.over, early>>10, late>>10)
}

// An hour takes less than six seconds of the processor.
func TestQuietHour(t *testing.T) {
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		used := cpu()
		longRun(t, fourHours/4)
		return []effort.Figure{effort.Millis("processor for an hour of 1000 frames a second", cpu()-used,
			6*time.Second)}
	})
}

// cpu is the processor's time that this process has had.
func cpu() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// heap is the memory in use after a collection.
func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
