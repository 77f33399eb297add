package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/pflag"

	"evendraw/internal/screen"
	"evendraw/internal/view"
)

// drawEvery is the time between two pictures: 20 a second.
const drawEvery = 50 * time.Millisecond

// leaveWait is how long the session may take to end after the screen has been
// left. Chosen: a port is closed well within.
const leaveWait = 2 * time.Second

func (o *displayOptions) addFlags(f *pflag.FlagSet) {
	f.BoolVar(&o.noColor, "no-color", false, "no colour (also: NO_COLOR)")
	f.BoolVar(&o.ascii, "ascii", false, "draw with plain ASCII")
}

func (o *displayOptions) screen() screen.Options {
	return screen.Options{NoColor: o.noColor || os.Getenv("NO_COLOR") != "", ASCII: o.ascii}
}

// runScreen shows the full screen until the user leaves it.
func (l *live) runScreen(ctx context.Context) error {
	t, err := screen.OpenTerminal(l.opt.display.screen())
	if err != nil {
		fmt.Fprintf(l.err, "evendraw: this terminal can't draw (%v): one line a second instead\n", err)
		return l.runLines(ctx)
	}
	closed := false
	leave := func() {
		if !closed {
			closed = true
			t.Close()
		}
	}
	defer leave() // also when this goroutine panics
	if err := l.begin(nil); err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if l.opt.auto {
		defer l.watchPractice(ctx, func(error) {})()
	}
	ended := make(chan error, 1)
	go func() { ended <- l.read(ctx) }()
	err = l.show(ctx, t, ended)
	leave()
	for _, path := range l.saves {
		fmt.Fprintln(l.err, "saved "+path)
	}
	stop(errLeft)
	if end := l.awaitEnd(ended); err == nil {
		err = end
	}
	return err
}

// errLeft ends the session when the user has left the screen.
var errLeft = errors.New("the screen was left")

func (l *live) awaitEnd(ended <-chan error) error {
	select {
	case err := <-ended:
		if errors.Is(err, errLeft) {
			return nil
		}
		return err
	case <-time.After(leaveWait):
		return nil
	}
}

// show draws and takes keys until the user leaves, the terminal goes, or the
// session fails. A session that ends well leaves its last picture.
func (l *live) show(ctx context.Context, t *screen.Terminal, ended chan error) error {
	v := l.newView()
	tick := time.NewTicker(drawEvery)
	defer tick.Stop()
	draw := func() {
		c := t.Canvas()
		screen.Draw(c, &v)
		t.Show(c)
	}
	if l.warning != "" {
		v = view.Update(v, view.Told{Text: l.warning, Role: view.Warn})
	}
	draw()
	for {
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case err := <-ended:
			ended <- err // for awaitEnd
			if err != nil || l.opt.limit > 0 {
				return err
			}
			ended = nil
		case key, ok := <-t.Keys():
			if !ok {
				return errors.New("the terminal is gone")
			}
			if key == screen.Resized {
				break
			}
			v = view.Update(v, view.KeyPress{Key: key})
		case e := <-l.news:
			v = view.Update(v, e)
		case <-tick.C:
			v = l.tick(v)
		}
		if leave, err := l.carryOut(&v); leave {
			return err
		}
		draw()
	}
}

// tick brings the view up to date.
func (l *live) tick(v view.View) view.View {
	v = view.Update(v, view.Tick{Now: time.Now(), Snap: l.sess.Snapshot()})
	wants := v.Wants
	if l.practice != nil {
		v = view.Update(v, l.practice.state())
	}
	l.keepNewZero(&v)
	v.Wants = wants
	return v
}

// carryOut does what the view wants, and reports whether that is to leave, and
// with which error.
func (l *live) carryOut(v *view.View) (leave bool, err error) {
	wants := v.Wants
	v.Wants = nil
	for _, w := range wants {
		switch w.Kind {
		case view.Quit:
			return true, nil
		case view.Interrupt:
			return true, context.Canceled
		case view.Save:
			*v = view.Update(*v, l.saved(v))
		case view.SetReference:
			l.sess.SetReference(w.Cylinder)
		case view.GoOn:
			l.sess.GoOn()
		case view.StartZero:
			if err := l.sess.StartZero(); err != nil {
				*v = view.Update(*v, view.Told{Text: "No zero pass yet: no frames come.", Role: view.Warn})
			}
		default:
			if l.practice != nil {
				l.practice.do(w)
			}
		}
	}
	return false, nil
}

// saved saves a record and returns the words on it.
func (l *live) saved(v *view.View) view.Told {
	if l.replay != nil {
		return view.Told{Text: "A replay saves nothing.", Role: view.Warn}
	}
	l.keeper.unit = v.Unit.Name
	path, err := l.keeper.save(v.Snap)
	switch {
	case err != nil && path == "":
		return view.Told{Text: "Not saved: " + err.Error(), Role: view.Bad}
	case err != nil:
		return view.Told{Text: err.Error(), Role: view.Warn}
	}
	l.saves = append(l.saves, path)
	return view.Told{Text: "Saved: " + filepath.Base(path), Role: view.Good}
}
