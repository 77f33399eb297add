package board

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// What this package decides by the clock, over cables in virtual time: to the bound itself.

// over has the options reach those cables and no others.
func over(opt Options, cables ...*fakeboard.Cable) Options {
	opt.Dial = func(path string, baud int) (Wire, error) {
		for _, c := range cables {
			if end, err := c.Dial(path, baud); err == nil {
				return end, nil
			}
		}
		return nil, &Error{Kind: Absent, Port: path}
	}
	opt.Ports = func() (ports []Port, _ error) {
		for _, c := range cables {
			if c.Plugged() {
				ports = append(ports, Port{Path: c.Path})
			}
		}
		return ports, nil
	}
	return opt
}

// talking is a cable on which a board announces itself once a second, until the test ends.
func talking(t *testing.T, path, serial string) *fakeboard.Cable {
	c := fakeboard.NewCable(path)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for says := frame.AppendAnnouncement(nil, fakeboard.Announcement(serial, 2)); ; {
			c.Send(says)
			select {
			case <-ctx.Done():
				return
			case <-time.After(time.Second):
			}
		}
	}()
	t.Cleanup(func() {
		stop()
		<-done
	})
	return c
}

// Each rate is tried for its time, and an announcement that lies across the change of rate is
// understood at the later one.
func TestOpenTriesTheUsualRates(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fakeboard.NewCable("p")
		sent := appendFrames(frame.AppendAnnouncement(nil, fakeboard.Announcement("A1", 2)), 0, 10)
		begun := time.Now()
		go func() {
			c.Write(append([]byte("junk\x00junk"), sent[:40]...))
			time.Sleep(eachRateWait + time.Second)
			c.Write(sent[40:])
		}()
		var reports []Progress
		link, err := Open(t.Context(), "p", over(Options{Progress: func(p Progress) { reports = append(reports, p) }}, c))
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		if took := time.Since(begun); link.Baud() != 1_000_000 || took != eachRateWait+time.Second {
			t.Errorf("at %d baud after %v", link.Baud(), took)
		}
		got := make([]byte, len(sent))
		if _, err := io.ReadFull(link, got); err != nil || !slices.Equal(got, sent) {
			t.Errorf("%v, %q", err, got)
		}
		if n := len(reports); n < 2 || reports[0].Baud != 500_000 || reports[n-1].Baud != 1_000_000 || reports[n-1].Bytes == 0 || reports[n-1].Damaged == 0 {
			t.Errorf("progress %+v", reports)
		}
	})
}

// A silent port is given up when its time is over, which its error tells; the wait is told of five
// times a second.
func TestSilent(t *testing.T) {
	for name, x := range map[string]struct {
		baud  int
		junk  string
		wait  time.Duration
		words string
	}{
		"no bytes, all rates": {0, "", 4 * eachRateWait, "no bytes at all"},
		"no bytes, one rate":  {500_000, "", oneRateWait, "no bytes at all"},
		"junk, one rate":      {250_000, "AT\r\r\nOK\r\n\x00\x01\x02", oneRateWait, "bytes but no valid frames: baud or firmware"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c := fakeboard.NewCable("p")
				c.Write([]byte(x.junk))
				var told []time.Duration
				begun := time.Now()
				_, err := Open(t.Context(), "p", over(Options{Baud: x.baud, Progress: func(p Progress) { told = append(told, p.Waited) }}, c))
				e := mustBe(t, err, Silent)
				if took := time.Since(begun); took < x.wait || took > x.wait+readSlice*4 || e.Waited != took {
					t.Errorf("given up after %v, tells %v, want %v", took, e.Waited, x.wait)
				}
				if e.Bytes != uint64(len(x.junk)) || !strings.Contains(e.Error(), x.words) {
					t.Error(e)
				}
				for i := 1; i < len(told); i++ {
					if pause := told[i] - told[i-1]; pause > progressEvery+readSlice {
						t.Errorf("told at %v, then at %v", told[i-1], told[i])
					}
				}
				if least := int(x.wait / (progressEvery + readSlice)); len(told) < least || told[0] != 0 {
					t.Errorf("told %d times, at %v first", len(told), told[0])
				}
			})
		})
	}
}

// TestOpenMeasuresAPrintingBoard checks that lines of counts alone are read,
// with the rate that the lines came at.
func TestOpenMeasuresAPrintingBoard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fakeboard.NewCable("p")
		stop := make(chan struct{})
		defer close(stop)
		go func() {
			for n := 0; ; n++ {
				fmt.Fprintf(c, "%d,%d\r\n", 500+n%9, 400)
				select {
				case <-stop:
					return
				case <-time.After(5 * time.Millisecond):
				}
			}
		}()
		begun := time.Now()
		link, err := Open(t.Context(), "p", over(Options{Baud: 115_200}, c))
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		a := link.Board()
		if took := time.Since(begun); a.Printed != frame.NoClock || a.Rate != 200 || len(a.Channels) != 2 || took > measureFor+500*time.Millisecond {
			t.Errorf("board %+v after %v", a, took)
		}
		r := frame.NewReader(link)
		f, err := r.Read()
		if err != nil || f.Counts[1] != 400 || r.Board().Rate != a.Rate {
			t.Errorf("%+v %v %+v", f, err, r.Board())
		}
	})
}

// A port that goes away is told at once, while it is read and while a board is waited for.
func TestVanishedAtOnce(t *testing.T) {
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
				if link, err = Open(t.Context(), "p", over(Options{}, c)); err == nil {
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
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
		defer cancel()
		begun := time.Now()
		for range 2 {
			if _, err := Open(ctx, "p", over(Options{}, fakeboard.NewCable("p"))); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("got %v", err)
			}
		}
		if took := time.Since(begun); took > 50*time.Millisecond+readSlice {
			t.Errorf("took %v", took)
		}
	})
}

// Close wakes a Read within a slice of reading.
func TestCloseWakesRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		link, err := Open(t.Context(), "p", over(Options{}, talking(t, "p", "A1")))
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
		if took := time.Since(begun); took > readSlice {
			t.Errorf("took %v", took)
		}
		if n, err := link.Read(make([]byte, 1)); n != 0 || !errors.Is(err, os.ErrClosed) || link.Close() != nil {
			t.Errorf("after Close: %d, %v", n, err)
		}
	})
}

func TestFind(t *testing.T) {
	for _, x := range []struct {
		name   string
		boards []string // serial numbers; "" is a port without a board
		serial string
		path   string // that is found, else
		kind   Kind
		names  []string
	}{
		{"the only one", []string{"A1"}, "", "p0", 0, nil},
		{"the only one beside a mute port", []string{"", "B2"}, "", "p1", 0, nil},
		{"by number", []string{"A1", "B2", ""}, "B2", "p1", 0, nil},
		{"none", nil, "", "", NoBoard, []string{"no USB serial port"}},
		{"several", []string{"A1", "B2"}, "", "", Several, []string{"A1 on p0", "B2 on p1"}},
		{"another number", []string{"A1", "B2", ""}, "C3", "", NoBoard, []string{"C3", "A1 on p0", "B2 on p1"}},
		{"a mute port", []string{""}, "", "", Silent, []string{"p0"}},
		{"two mute ports", []string{"", ""}, "", "", NoBoard, []string{"p0", "no bytes at all"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var cables []*fakeboard.Cable
				for i, serial := range x.boards {
					if path := fmt.Sprint("p", i); serial != "" {
						cables = append(cables, talking(t, path, serial))
					} else {
						cables = append(cables, fakeboard.NewCable(path))
					}
				}
				link, err := Find(t.Context(), over(Options{Baud: 500_000, Serial: x.serial}, cables...))
				if x.path != "" {
					if err != nil || link.Path() != x.path {
						t.Fatalf("%v, want %s", err, x.path)
					}
					link.Close()
					return
				}
				e := mustBe(t, err, x.kind)
				for _, name := range x.names {
					if !strings.Contains(e.Error(), name) {
						t.Errorf("%q does not name %q", e, name)
					}
				}
			})
		})
	}
}

// A board that comes back is found at the next look, one in five a second, and at the path that
// it now has.
func TestReopenManyTimes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now, other := talking(t, "p", "A1"), talking(t, "other", "B2")
		link, err := Open(t.Context(), "p", over(Options{Baud: 500_000}, now))
		if err != nil {
			t.Fatal(err)
		}
		for i := range 12 {
			gone := now
			now = talking(t, fmt.Sprint("p", i), "A1")
			now.Unplug()
			gone.Unplug()
			_, err := io.Copy(io.Discard, link)
			mustBe(t, err, Vanished)
			var back time.Time
			time.AfterFunc(time.Duration(1000+37*i)*time.Millisecond, func() { back = time.Now(); now.Plug() })
			if link, err = Reopen(t.Context(), link, over(Options{}, other, now)); err != nil {
				t.Fatal(err)
			}
			// The board itself announces itself once a second.
			if took := time.Since(back); took > pollEvery+time.Second+readSlice {
				t.Errorf("cycle %d: back after %v", i, took)
			}
			if link.Board().Serial != "A1" || link.Path() != now.Path {
				t.Errorf("cycle %d: %s on %s", i, link.Board().Serial, link.Path())
			}
		}
		link.Close()
	})
}

// A port that was silent is left alone for two seconds, as opening may start its device anew; one
// that has gone and come back is tried at once.
func TestReopenLeavesASilentPortAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		lost, mute := talking(t, "lost", "A1"), fakeboard.NewCable("mute")
		link, err := Open(t.Context(), "lost", over(Options{Baud: 500_000}, lost))
		if err != nil {
			t.Fatal(err)
		}
		lost.Unplug()
		opt := over(Options{Wait: time.Second}, mute)
		dial := opt.Dial
		var mu sync.Mutex
		var opened []time.Duration
		begun := time.Now()
		opt.Dial = func(path string, baud int) (Wire, error) {
			if path == "mute" {
				mu.Lock()
				defer mu.Unlock()
				opened = append(opened, time.Since(begun))
			}
			return dial(path, baud)
		}
		time.AfterFunc(5*time.Second, mute.Unplug) // while it rests for the second time
		time.AfterFunc(5500*time.Millisecond, mute.Plug)
		ctx, cancel := context.WithTimeout(t.Context(), 6*time.Second)
		defer cancel()
		_, err = Reopen(ctx, link, opt)
		mustBe(t, err, Vanished)
		want := []time.Duration{0, 3200 * time.Millisecond, 5600 * time.Millisecond} // by looks each 0.2 s
		if len(opened) != len(want) {
			t.Fatalf("opened at %v, want %v", opened, want)
		}
		for i := range want {
			if (opened[i] - want[i]).Abs() > pollEvery {
				t.Errorf("opened at %v, want %v", opened, want)
			}
		}
	})
}

// Reopen ends with its context, and tells meanwhile why a port is no use.
func TestReopenEndsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		lost := talking(t, "lost", "A1")
		link, err := Open(t.Context(), "lost", over(Options{}, lost))
		if err != nil {
			t.Fatal(err)
		}
		lost.Unplug()
		opt := Options{
			Ports: func() ([]Port, error) { return []Port{{Path: "held"}}, nil },
			Dial: func(path string, _ int) (Wire, error) {
				return nil, &Error{Kind: map[bool]Kind{true: Busy, false: Absent}[path == "held"], Port: path}
			},
		}
		var told []error
		opt.Progress = func(p Progress) { told = append(told, p.Err) }
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		defer cancel()
		begun := time.Now()
		_, err = Reopen(ctx, link, opt)
		if e := mustBe(t, err, Vanished); !errors.Is(e, context.DeadlineExceeded) || time.Since(begun) != 300*time.Millisecond {
			t.Errorf("%v after %v", err, time.Since(begun))
		}
		if len(told) == 0 || !isKind(told[0], Busy) {
			t.Errorf("told %v", told)
		}
	})
}
