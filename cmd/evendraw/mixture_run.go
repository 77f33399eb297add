package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

type chain = *session.Chain

// tuning is a stage after levelling, as a tuner runs it: begun when frames come, told
// in lines, closed when done.
type tuning interface {
	begin() error
	json(now float64) []byte
	words() (view.Words, bool)
	done() bool
	close() error
}

// tuner runs a stage after levelling over a board or the practice engine.
type tuner struct {
	rig      *rig
	opt      *mixtureOptions
	in       io.Reader
	out, err io.Writer
	practice *mixturePractice // nil on a board
	sess     *session.Session
	begun    bool
	failed   error
	next     float64 // when the next JSON line is due
	lineAt   float64 // when the next plain line is due
	told     string  // the advice that was told in full last
}

func newTuner(r *rig, o *mixtureOptions, in io.Reader, out, errOut io.Writer) (*tuner, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if err := r.open(); err != nil {
		return nil, err
	}
	if err := r.chooseBike(); err != nil {
		return nil, err
	}
	t := &tuner{rig: r, opt: o, in: in, out: out, err: errOut}
	if o.practice != "" {
		var err error
		if t.practice, err = newMixturePractice(r, o); err != nil {
			return nil, err
		}
		if !isTerminal(out) {
			o.auto = true // nobody is at the keys
		}
	}
	return t, nil
}

// errTuned ends a session whose stage is done, or left by the user.
var errTuned = errors.New("the stage is done")

// run runs a stage to its end.
func (t *tuner) run(ctx context.Context, stage tuning) error {
	cautions := view.MixtureCautions
	if _, ok := stage.(raising); ok {
		cautions = view.RaisedCautions
	}
	fmt.Fprintln(t.err, strings.Join(cautions, "\n"))
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	cfg := session.Config{BankOf: t.rig.config}
	if t.practice != nil {
		cfg = t.practice.config
	}
	t.sess = session.New(cfg, session.Options{Until: t.opt.limit.Seconds(), OnReading: func(r *balance.Reading, _ *session.Chain) {
		t.tell(stage, r)
	}})
	go t.listen(stop)
	err := t.read(ctx, stage, stop)
	switch {
	case errors.Is(err, errTuned):
		err = nil
	case err == nil && t.failed != nil:
		err = t.failed
	}
	if t.opt.json {
		if line := stage.json(t.sess.Snapshot().Link.LastTime); line != nil {
			fmt.Fprintf(t.out, "{\"summary\":%s}\n", line)
		}
	}
	if err == nil && t.begun {
		err = stage.close()
	}
	return err
}

// read runs the session over its source; after each chunk the stage is begun, or ended
// when it is done.
func (t *tuner) read(ctx context.Context, stage tuning, stop context.CancelCauseFunc) error {
	watch := func() {
		switch {
		case !t.begun && t.sess.Snapshot().Reading != nil:
			t.begun = true
			if err := stage.begin(); err != nil {
				stop(err)
			}
		case t.begun && stage.done():
			stop(errTuned)
		}
	}
	if t.practice != nil {
		return t.sess.Run(ctx, t.practice.source(ctx, t, watch))
	}
	link, err := t.opt.port.open(ctx, nil)
	if err != nil {
		return err
	}
	done := make(chan struct{})
	defer close(done)
	go func() {
		tick := time.NewTicker(50 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
				watch()
			}
		}
	}()
	return stayOn(ctx, t.sess, link, &t.opt.port, headlessReturn, func(text string) {
		if text != "" {
			fmt.Fprintln(t.err, "evendraw: "+tell.Lines(text))
		}
	})
}

// tell prints a line when one is due.
func (t *tuner) tell(stage tuning, r *balance.Reading) {
	if t.opt.json {
		if r.Time < t.next {
			return
		}
		if line := stage.json(r.Time); line != nil {
			t.next = r.Time + jsonInterval
			fmt.Fprintf(t.out, "%s\n", line)
		}
		return
	}
	if r.Time < t.lineAt {
		return
	}
	if w, ok := stage.words(); ok {
		t.lineAt = r.Time + 1
		t.line(&w, r)
	}
}

// line prints where a stage stands; what to do is told in full when it has changed.
func (t *tuner) line(w *view.Words, r *balance.Reading) {
	head := w.Big
	if w.Amount != "" {
		head += map[int]string{0: " ", 1: " clockwise ", -1: " anticlockwise "}[w.Arrow] + w.Amount
	}
	rpm := "    –"
	if r.RPM > 0 {
		rpm = fmt.Sprintf("%5.0f", r.RPM)
	}
	fmt.Fprintf(t.out, "%6.1f s %s rpm  %s\n", r.Time, rpm, head)
	if told := w.Big + w.Say[0]; told != t.told {
		t.told = told
		for _, say := range w.Say {
			fmt.Fprintf(t.out, "    %s\n", say)
		}
	}
}

// listen takes lines from the keyboard: Enter tells that a turn is made, q leaves; on the
// practice engine turns of screws as well.
func (t *tuner) listen(stop context.CancelCauseFunc) {
	if !isTerminal(t.out) {
		return
	}
	if t.practice != nil && !t.opt.auto {
		fmt.Fprintln(t.err, practiceHands)
	}
	lines := bufio.NewScanner(t.in)
	for lines.Scan() {
		switch text := strings.TrimSpace(lines.Text()); {
		case text == "q":
			stop(errTuned)
		case text == "":
			t.sess.Chain(func(c chain) { c.TrimMade() })
		case t.practice == nil:
			fmt.Fprintln(t.err, "Enter: the turn is made; q leaves.")
		default:
			if err := t.practice.do(text); err != nil {
				fmt.Fprintln(t.err, err)
			}
		}
	}
}
