package board

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// What this package decides by the clock, over cables in virtual time: to the bound itself. Times
// are written out here, not taken from the code, which might have another.

// aRead is the longest time that a port is read for in vain.
const aRead = 20 * time.Millisecond

// Each rate is tried for its time, and an announcement that lies across the change of rate is
// understood at the later one.
func TestOpenTriesTheUsualRates(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c := fakeboard.NewCable("p")
		sent := appendFrames(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)), 0, 10)
		begun := time.Now()
		go func() {
			c.Write(append([]byte("junk\x00junk"), sent[:40]...))
			time.Sleep(3500 * time.Millisecond)
			c.Write(sent[40:])
		}()
		var reports []Progress
		link, err := Open(t.Context(), "p",
			over(t, Options{Progress: func(p Progress) { reports = append(reports, p) }}, c))
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		if took := time.Since(begun); link.baud != 1_000_000 || took != 3500*time.Millisecond {
			t.Errorf("at %d baud after %v", link.baud, took)
		}
		got := make([]byte, len(sent))
		if _, err := io.ReadFull(link, got); err != nil || !slices.Equal(got, sent) {
			t.Errorf("%v, %q", err, got)
		}
		if first, last := reports[0], reports[len(reports)-1]; first.Baud != 500_000 || last.Baud != 1_000_000 ||
			last.Bytes == 0 || last.Damaged == 0 {
			t.Errorf("progress %+v", reports)
		}
	})
}

// A board is understood at its own rate, when its turn comes; at the others it sends junk, and
// Progress reports bytes.
func TestEachRateHasItsTurn(t *testing.T) {
	t.Parallel()
	const wait = 2500 * time.Millisecond
	rates := []int{500_000, 1_000_000, 250_000, 115_200}
	blocks := fakeboard.Steady("A1", 2, 20).Blocks()
	for i, baud := range rates {
		t.Run(fmt.Sprint(baud), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := fakeboard.NewCable("p")
				var host atomic.Int64 // the rate that the port is set to
				begun := time.Now()
				var set []time.Duration
				opt := over(t, Options{}, c)
				dial := opt.Dial
				opt.Dial = func(path string, baud int) (Wire, error) {
					wire, err := dial(path, baud)
					host.Store(int64(baud))
					return rated{wire,
						func(baud int) { host.Store(int64(baud)); set = append(set, time.Since(begun)) }}, err
				}
				tried := map[int]Progress{} // the last report of each rate
				opt.Progress = func(p Progress) { tried[p.Baud] = p }
				time.AfterFunc(100*time.Millisecond, func() {
					often(t, time.Second, func() { c.Send(fakeboard.Resample(blocks, baud, int(host.Load()), false)) })
				})
				link, err := Open(t.Context(), "p", opt)
				if err != nil {
					t.Fatal(err)
				}
				defer link.Close()
				// It sends 0.1 s after each full second.
				want := (time.Duration(i)*wait - 100*time.Millisecond + time.Second - 1).Truncate(time.Second) +
					100*time.Millisecond
				if took := time.Since(begun); link.baud != baud || took != want {
					t.Errorf("at %d after %v, want %d after %v", link.baud, took, baud, want)
				}
				for n, at := range set {
					if at != time.Duration(n+1)*wait {
						t.Errorf("rates set after %v", set)
					}
				}
				for n, other := range rates[:i] {
					if p := tried[other]; len(set) != i || p.Bytes == 0 ||
						p.Waited < time.Duration(n+1)*wait-200*time.Millisecond {
						t.Errorf("at %d: %+v", other, p)
					}
				}
			})
		})
	}
}

// rated is a port that reports its rate.
type rated struct {
	Wire
	set func(baud int)
}

func (r rated) SetBaud(baud int) error {
	r.set(baud)
	return r.Wire.SetBaud(baud)
}

// A silent port is given up when its time is over, which its error says; the wait is reported five
// times a second, and when a rate's turn begins.
func TestSilent(t *testing.T) {
	t.Parallel()
	for name, x := range map[string]struct {
		baud    int
		junk    string
		wait    time.Duration
		reports int
		words   string
	}{
		"no bytes, all rates": {0, "", 10 * time.Second, 4 * 13, "no bytes at all"},
		"no bytes, one rate":  {500_000, "", 4 * time.Second, 21, "no bytes at all"},
		"junk, one rate": {250_000, "AT\r\r\nOK\r\n\x00\x01\x02", 4 * time.Second, 21,
			"bytes but no valid frames: baud or firmware"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := fakeboard.NewCable("p")
				c.Write([]byte(x.junk))
				var reports []time.Duration
				opt := over(t, Options{Baud: x.baud}, c)
				opt.Progress = func(p Progress) { reports = append(reports, p.Waited) }
				begun := time.Now()
				_, err := Open(t.Context(), "p", opt)
				e := mustBe(t, err, Silent)
				if took := time.Since(begun); took != x.wait || e.Waited != took {
					t.Errorf("given up after %v, says %v, want %v", took, e.Waited, x.wait)
				}
				if e.Bytes != uint64(len(x.junk)) || !strings.Contains(e.Error(), x.words) {
					t.Error(e)
				}
				if len(reports) != x.reports {
					t.Errorf("reported %d times, want %d: %v", len(reports), x.reports, reports)
				}
				for i, at := range reports {
					if i > 0 && at-reports[i-1] > 200*time.Millisecond {
						t.Errorf("reported after %v, then after %v", reports[i-1], at)
					}
				}
			})
		})
	}
}

// TestOpenMeasuresAPrintingBoard checks that lines of counts alone are read,
// with the rate that the lines came at.
func TestOpenMeasuresAPrintingBoard(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c := fakeboard.NewCable("p")
		n := 0
		often(t, 5*time.Millisecond, func() {
			fmt.Fprintf(c, "%d,%d\r\n", 500+n%9, 400)
			n++
		})
		begun := time.Now()
		link, err := Open(t.Context(), "p", over(t, Options{Baud: 115_200}, c))
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		a := link.Board()
		if a.Printed != frame.NoClock || a.Rate != 200 || len(a.Channels) != 2 {
			t.Errorf("board %+v", a)
		}
		// Some lines come before they are known for a printing board's.
		if took := time.Since(begun); took < 2*time.Second || took > 2500*time.Millisecond {
			t.Errorf("took %v", took)
		}
		r := frame.NewReader(link)
		f, err := r.Read()
		if err != nil || f.Counts[1] != 400 || r.Board().Rate != a.Rate {
			t.Errorf("%+v %v %+v", f, err, r.Board())
		}
	})
}

// A port that goes away is reported at once, while it is read and while a board is waited for.
func TestVanishedAtOnce(t *testing.T) {
	t.Parallel()
	for name, board := range map[string]string{"reading": "A1", "waiting": ""} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := fakeboard.NewCable("p")
				if board != "" {
					c = talking(t, "p", board)
				}
				link, err := (*Link)(nil), error(nil)
				var pulled time.Time
				time.AfterFunc(1234*time.Millisecond, func() { pulled = time.Now(); c.Unplug() })
				if link, err = Open(t.Context(), "p", over(t, Options{}, c)); err == nil {
					_, err = io.Copy(io.Discard, link)
					defer link.Close()
				}
				mustBe(t, err, Vanished)
				if took := time.Since(pulled); took != 0 {
					t.Errorf("noticed after %v", took)
				}
				if link != nil {
					if _, err := link.Read(make([]byte, 1)); !isKind(err, Vanished) {
						t.Errorf("read again: %v", err)
					}
				}
			})
		})
	}
}

// Open ends with its context, within a slice of reading.
func TestOpenEndsWithItsContext(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		defer cancel()
		begun := time.Now()
		for range 2 {
			if _, err := Open(ctx, "p", over(t, Options{}, fakeboard.NewCable("p"))); !errors.Is(err,
				context.DeadlineExceeded) {
				t.Errorf("got %v", err)
			}
		}
		if took := time.Since(begun); took > 50*time.Millisecond+aRead {
			t.Errorf("took %v", took)
		}
	})
}

// Close wakes a Read within a slice of reading.
func TestCloseWakesRead(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		link, err := Open(t.Context(), "p", over(t, Options{}, talking(t, "p", "A1")))
		if err != nil {
			t.Fatal(err)
		}
		ended := make(chan error)
		go func() {
			_, err := io.Copy(io.Discard, link)
			ended <- err
		}()
		time.Sleep(333 * time.Millisecond)
		begun := time.Now()
		if err := link.Close(); err != nil {
			t.Error(err)
		}
		if err := <-ended; !errors.Is(err, os.ErrClosed) {
			t.Errorf("read: %v", err)
		}
		if took := time.Since(begun); took > aRead {
			t.Errorf("took %v", took)
		}
		if n, err := link.Read(make([]byte, 1)); n != 0 || !errors.Is(err, os.ErrClosed) || link.Close() != nil {
			t.Errorf("after Close: %d, %v", n, err)
		}
	})
}

// A board of a later protocol or another layout is named.
func TestUnreadable(t *testing.T) {
	t.Parallel()
	newer, layout := fakeboard.Announcement("A1", 2), fakeboard.Announcement("A1", 2)
	newer.Protocol, newer.Program = 2, "2.1.0"
	layout.Layout = "counter:u32 heat:u16"
	for name, a := range map[string]*frame.Announcement{"newer": newer, "layout": layout} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := fakeboard.NewCable("p")
				c.Write(frame.AppendAnnouncement(nil, a))
				_, err := Open(t.Context(), "p", over(t, Options{}, c))
				if e := mustBe(t, err, Unreadable); e.Board.Program != a.Program {
					t.Error(e)
				}
			})
		})
	}
}

func TestDefaults(t *testing.T) {
	t.Parallel()
	o := Options{}
	if o.wait() != 2500*time.Millisecond || len(o.rates()) != 4 || o.rates()[0] != 500_000 {
		t.Errorf("%v %v", o.wait(), o.rates())
	}
	o.Baud = 115_200
	if o.wait() != 4*time.Second || len(o.rates()) != 1 {
		t.Errorf("%v %v", o.wait(), o.rates())
	}
}
