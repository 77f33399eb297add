package board

import (
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
)

// at lists these lines as the ports there are.
func at(lines ...*fakeboard.Line) func() ([]Port, error) {
	return func() (ports []Port, _ error) {
		for _, l := range lines {
			ports = append(ports, Port{Path: l.Path})
		}
		return ports, nil
	}
}

func TestFind(t *testing.T) {
	a, b, mute := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2)), fakeboard.NewLine(t).Talk(fakeboard.Announcement("B2", 2)), fakeboard.NewLine(t)
	opt := func(serial string, lines ...*fakeboard.Line) Options {
		return Options{Baud: 500_000, Wait: 300 * time.Millisecond, Serial: serial, Ports: at(lines...)}
	}
	for _, x := range []struct {
		opt  Options
		path string
	}{
		{opt("", a), a.Path}, {opt("", mute, b), b.Path}, {opt("B2", a, b, mute), b.Path}, {opt("A1", a), a.Path},
	} {
		link, err := Find(t.Context(), x.opt)
		if err != nil {
			t.Fatal(err)
		}
		if link.Path() != x.path {
			t.Errorf("found %s, want %s", link.Path(), x.path)
		}
		link.Close()
	}
	for _, x := range []struct {
		opt   Options
		kind  Kind
		names []string
	}{
		{opt(""), NoBoard, []string{"no USB serial port"}},
		{opt("", a, b), Several, []string{"A1 on " + a.Path, "B2 on " + b.Path}},
		{opt("C3", a, b, mute), NoBoard, []string{"C3", "A1 on " + a.Path, "B2 on " + b.Path}},
		{opt("C3", a), NoBoard, []string{"C3", "A1"}},
		{opt("", mute), Silent, []string{mute.Path}},
		{opt("", mute, fakeboard.NewLine(t)), NoBoard, []string{mute.Path, "no bytes at all"}},
	} {
		_, err := Find(t.Context(), x.opt)
		e := mustBe(t, err, x.kind)
		for _, name := range x.names {
			if !strings.Contains(e.Error(), name) {
				t.Errorf("%q does not name %q", e, name)
			}
		}
	}
}

func TestFindTellsTheMostTellingFailure(t *testing.T) {
	mute, held := fakeboard.NewLine(t), fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	open(t, held.Path)
	_, err := Find(t.Context(), Options{Baud: 500_000, Wait: 50 * time.Millisecond, Ports: at(mute, held)})
	mustBe(t, err, Busy)
	broken := errors.New("broken")
	if _, err := Find(t.Context(), Options{Ports: func() ([]Port, error) { return nil, broken }}); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if _, err := Find(ctx, Options{Ports: at(mute)}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v", err)
	}
}

func TestReopenManyTimes(t *testing.T) {
	listed := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	other := fakeboard.NewLine(t).Talk(fakeboard.Announcement("B2", 2))
	link := open(t, listed.Path)
	var mu sync.Mutex
	ports := func() ([]Port, error) {
		mu.Lock()
		defer mu.Unlock()
		return at(other, listed)()
	}
	var atFirst fakeboard.Usage
	for i := range 12 {
		fresh := fakeboard.NewLine(t) // made before the old one goes, so that its path is a new one
		listed.Unplug()
		_, err := io.Copy(io.Discard, link)
		mustBe(t, err, Vanished)
		back := make(chan time.Time, 1)
		time.AfterFunc(100*time.Millisecond, func() {
			mu.Lock()
			defer mu.Unlock()
			back <- time.Now()
			listed = fresh.Talk(fakeboard.Announcement("A1", 2))
		})
		if link, err = Reopen(t.Context(), link, Options{Ports: ports}); err != nil {
			t.Fatal(err)
		}
		if took := time.Since(<-back); took > time.Second {
			t.Errorf("cycle %d: back after %v", i, took)
		}
		if link.Board().Serial != "A1" || link.Path() != fresh.Path {
			t.Errorf("cycle %d: %s on %s", i, link.Board().Serial, link.Path())
		}
		if i == 0 {
			atFirst = fakeboard.InUse(t)
		}
	}
	atFirst.MustHold(t)
	link.Close()
}

func TestReopenAtTheLastPath(t *testing.T) {
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	link := open(t, l.Path)
	unlisted := func() ([]Port, error) { return nil, os.ErrPermission }
	fresh, err := Reopen(t.Context(), link, Options{Ports: unlisted})
	if err != nil {
		t.Fatal(err)
	}
	defer fresh.Close()
	if fresh.Path() != l.Path || fresh.Baud() != 500_000 {
		t.Errorf("%s at %d", fresh.Path(), fresh.Baud())
	}
}

func TestReopenEndsWithItsContext(t *testing.T) {
	l := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	link := open(t, l.Path)
	l.Unplug()
	held := fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	open(t, held.Path)
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	var told []error
	start := time.Now()
	_, err := Reopen(ctx, link, Options{Ports: at(held), Progress: func(p Progress) { told = append(told, p.Err) }})
	if e := mustBe(t, err, Vanished); !errors.Is(e, context.DeadlineExceeded) || time.Since(start) > 500*time.Millisecond {
		t.Errorf("%v after %v", err, time.Since(start))
	}
	if len(told) == 0 || !isKind(told[0], Busy) {
		t.Errorf("told %v", told)
	}
}
