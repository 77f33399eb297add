package board

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evendraw/internal/fakeboard"
)

func TestFind(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		name   string
		boards []string // serial numbers; "" is a port without a board
		path   string   // that is found, else
		kind   Kind
		names  []string
	}{
		{"the only one", []string{"A1"}, "p0", 0, nil},
		{"the only one beside a mute port", []string{"", "B2"}, "p1", 0, nil},
		{"none", nil, "", NoBoard, []string{"none shows at a USB port"}},
		{"several", []string{"A1", "B2"}, "", Several, []string{"A1 on p0", "B2 on p1"}},
		{"a mute port", []string{""}, "", Silent, []string{"p0"}},
		{"two mute ports", []string{"", ""}, "", NoBoard, []string{"p0", "no bytes at all"}},
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
				link, err := Find(t.Context(), over(t, Options{Baud: 500_000}, cables...))
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

// Of the failures that kept the board from being found, the likeliest is reported.
func TestFindReportsTheLikeliestFailure(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		opt := over(t, Options{Baud: 500_000}, fakeboard.NewCable("mute"))
		dial := opt.Dial
		opt.Dial = func(path string, baud int) (Wire, error) {
			if path == "held" {
				return nil, &Error{Kind: Busy, Port: path}
			}
			return dial(path, baud)
		}
		opt.Ports = func() ([]Port, error) { return []Port{{Path: "gone"}, {Path: "mute"}, {Path: "held"}}, nil }
		_, err := Find(t.Context(), opt)
		mustBe(t, err, Busy)
		broken := errors.New("broken")
		opt.Ports = func() ([]Port, error) { return nil, broken }
		if _, err := Find(t.Context(), opt); !errors.Is(err, broken) {
			t.Errorf("got %v", err)
		}
	})
}

// Find ends with its context, within a slice of reading, and keeps no board that has answered.
func TestFindEndsWithItsContext(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 1234*time.Millisecond)
		defer cancel()
		begun := time.Now()
		_, err := Find(ctx, over(t, Options{}, fakeboard.NewCable("mute"), talking(t, "p", "A1")))
		took, least := time.Since(begun), 1234*time.Millisecond
		if !errors.Is(err, context.DeadlineExceeded) || took < least || took > least+aRead {
			t.Errorf("%v after %v", err, took)
		}
	})
}

// A board that comes back is found at the next look, one in five a second, and at the path that
// it now has.
func TestReopenManyTimes(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now, other := talking(t, "p", "A1"), talking(t, "other", "B2")
		link, err := Open(t.Context(), "p", over(t, Options{Baud: 500_000}, now))
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
			if link, err = Reopen(t.Context(), link, over(t, Options{}, other, now)); err != nil {
				t.Fatal(err)
			}
			// The board itself announces itself once a second.
			if took := time.Since(back); took > 1200*time.Millisecond+aRead {
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
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		lost, mute := talking(t, "lost", "A1"), fakeboard.NewCable("mute")
		link, err := Open(t.Context(), "lost", over(t, Options{Baud: 500_000}, lost))
		if err != nil {
			t.Fatal(err)
		}
		lost.Unplug()
		opt := over(t, Options{Wait: time.Second}, mute)
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
		looks, ports := 0, opt.Ports
		opt.Ports = func() ([]Port, error) {
			looks++
			return ports()
		}
		time.AfterFunc(5050*time.Millisecond, mute.Unplug) // while it rests for the second time
		time.AfterFunc(5550*time.Millisecond, mute.Plug)
		ctx, cancel := context.WithTimeout(t.Context(), 6100*time.Millisecond)
		defer cancel()
		_, err = Reopen(ctx, link, opt)
		mustBe(t, err, Vanished)
		// Silent after 1 s, it rests for 2 s and is opened at the look after that.
		if want := []time.Duration{0, 3200 * time.Millisecond, 5600 * time.Millisecond}; !slices.Equal(opened, want) {
			t.Errorf("opened at %v, want %v", opened, want)
		}
		if looks != 31 {
			t.Errorf("%d looks in 6.1 s", looks)
		}
	})
}

// Reopen ends with its context, and meanwhile reports why a port is no use.
func TestReopenEndsWithItsContext(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		lost := talking(t, "lost", "A1")
		link, err := Open(t.Context(), "lost", over(t, Options{}, lost))
		if err != nil {
			t.Fatal(err)
		}
		lost.Unplug()
		opt := Options{
			Ports: func() ([]Port, error) { return []Port{{Path: "held"}}, nil },
			Dial: func(path string, _ int) (Wire, error) {
				if path == "held" {
					return nil, &Error{Kind: Busy, Port: path}
				}
				return nil, &Error{Kind: Absent, Port: path}
			},
		}
		var reports []error
		opt.Progress = func(p Progress) { reports = append(reports, p.Err) }
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		defer cancel()
		begun := time.Now()
		_, err = Reopen(ctx, link, opt)
		took := time.Since(begun)
		if e := mustBe(t, err, Vanished); !errors.Is(e, context.DeadlineExceeded) || took != 300*time.Millisecond {
			t.Errorf("%v after %v", err, took)
		}
		if len(reports) == 0 || !isKind(reports[0], Busy) {
			t.Errorf("reported %v", reports)
		}
	})
}
