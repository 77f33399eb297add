package job

import (
	"context"
	"errors"
	"fmt"
	"time"

	"evendraw/internal/pilotwords"
	"evendraw/internal/screen"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/view"
)

// drawEvery is the time between two pictures: 20 a second.
const drawEvery = 50 * time.Millisecond

// leaveWait is how long the session may take to end after the screen has been
// left. Chosen: a port is closed well within.
const leaveWait = 700 * time.Millisecond

// runScreen shows the full screen until the user leaves it.
func (l *live) runScreen(ctx context.Context) error {
	t, err := l.set.World.OpenDisplay(l.opt.Screen)
	if err != nil {
		fmt.Fprintf(l.std.Err, "evendraw: this terminal can't draw (%v): one line a second instead\n", err)
		l.onScreen = false
		return l.runLines(ctx)
	}
	defer t.Close() // also when this goroutine panics
	if l.opt.Auto { // the zero pass that comes first takes a moment
		t.Show(func(c *screen.Canvas) {
			screen.Draw(c, &view.View{Bike: "practice engine", Now: time.Now(), Flow: view.Flow{Off: true}})
		})
		if err := l.src.prepare(ctx, l.std.Warn); err != nil {
			return err
		}
	}
	l.begin(nil)
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if l.opt.Auto {
		defer l.watchPractice(ctx, func(error) {})()
	}
	ended := make(chan error, 1)
	go func() { ended <- l.read(ctx) }()
	err = l.show(ctx, t, ended)
	t.Close()
	l.writing.Wait()
	l.tellSaved(l.saves...)
	tune := l.sess.Snapshot().Tune
	for _, line := range pilotwords.TrialLines(&tune) {
		l.std.Warn(line)
	}
	l.tellPlace(time.Now())
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
		if errors.Is(err, errLeft) || errors.Is(err, context.Canceled) { // by stop, wherever the session was
			return nil
		}
		return err
	case <-time.After(leaveWait):
		return nil
	}
}

// show draws and takes keys until the user leaves, the terminal goes, or the
// session fails. A session that ends well leaves its last picture.
func (l *live) show(ctx context.Context, t settings.Display, ended chan error) error {
	v := l.showPage(l.firstView())
	tick := time.NewTicker(drawEvery)
	defer tick.Stop()
	draw := func(c *screen.Canvas) { screen.Draw(c, &v) }
	t.Show(draw)
	for {
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-t.Gone():
			return errors.New("the terminal is gone")
		case err := <-ended:
			ended <- err // for awaitEnd
			if err != nil || l.opt.Limit > 0 {
				return err
			}
			ended = nil
		case <-t.Resized(): // drawn below
		case key := <-t.Keys():
			v = view.Update(v, view.KeyPress{Key: key})
		case e := <-l.news:
			v = view.Update(v, e)
		case <-tick.C:
			v = l.tick(v)
			if l.opt.Sound {
				if p := v.Picture(); l.bells.Due(&p.Words) {
					t.Bell()
				}
			}
		}
		for len(v.Wants) > 0 {
			wants := v.Wants
			v.Wants = nil
			for _, w := range wants {
				if leave, err := l.carryOut(&v, w, t); leave {
					if v.Flow.At > view.StepChecks { // also of a run that began there
						l.keepPlace(v.Flow.At.ID())
					}
					return err
				}
			}
		}
		t.Show(draw)
		v = l.showPage(v)
	}
}

// tick brings the view up to date.
func (l *live) tick(v view.View) view.View {
	v = view.Update(v, view.Tick{Now: time.Now(), Snap: l.sess.Snapshot()})
	wants := v.Wants
	if v.Remark != l.remarked {
		remark := v.Remark
		l.remarked = remark
		l.inBackground(func() view.Event { // as a record may be on its way to the disk
			l.keeper.Remark(remark)
			return nil
		})
	}
	l.levels.Store(v.Flow.At >= view.StepLevel)
	if p := l.practice(); p != nil {
		v = view.Update(v, p.State())
	}
	l.keepNewZero(&v)
	l.keepNewMatch(&v)
	l.keepUp(v.Now)
	v.Wants = wants
	return v
}

// carryOut does what the view wants, and reports whether that is to leave, and with which error.
func (l *live) carryOut(v *view.View, w view.Want, t settings.Display) (leave bool, err error) {
	switch w.Kind {
	case view.Quit:
		return true, nil
	case view.Interrupt:
		return true, context.Canceled
	case view.Suspend:
		err := t.Suspend()
		return err != nil, err
	case view.Save:
		l.keeper.Shown(v.Unit.Name, w.Text)
		l.keeper.Remark(v.Remark)
		l.inBackground(l.saved)
	case view.UseFolder:
		l.inBackground(func() view.Event { return l.useFolder(w.Text) })
	case view.PrintPage:
		l.inBackground(l.pagePrinted)
	case view.SetReference:
		l.sess.Chain(func(c *session.Chain) { c.SetReference(w.Cylinder) })
	case view.StartZero:
		*v = view.Update(*v, l.startZero())
	case view.StartMatch, view.DropMatch:
		if err := l.match(w); err != nil {
			*v = view.Update(*v, view.Told{Text: view.MatchRefusal(err), Role: view.Warn})
		}
	case view.LookLevel, view.LookIdle, view.LookRaised, view.TrimPilots, view.TrimAnew, view.TrimMade, view.PilotsBack,
		view.EndTune:
		if err := l.tune(w.Kind, v.Aim); err != nil {
			*v = view.Update(*v, view.Told{Text: err.Error(), Role: view.Warn})
		}
	case view.TrimCorrect:
		*v = view.Update(*v, l.correctTrim(w.Number, w.Turns))
	case view.SetIdle:
		*v = view.Update(*v, l.setIdle(w.Low, w.High))
	case view.WatchAir:
		l.sess.Chain(func(c *session.Chain) { c.WatchAir(c.Tune().Air == nil) })
	case view.ToggleFan:
		l.toggleFan()
	case view.GoOn:
		l.goOn()
	case view.NutTight:
		l.sess.Chain((*session.Chain).NutTight)
	case view.Install:
		l.wantsInstall()
	case view.ChooseBike, view.MakeBike:
		*v = view.Update(*v, l.changeBike(w))
	case view.KeepPlace:
		l.inBackground(func() view.Event { return l.keepPlace(w.Text) })
	case view.KeepTicks:
		l.inBackground(func() view.Event { return l.keepTicks(w.Ticks) })
	default:
		if p := l.practice(); p != nil {
			*v = view.Update(*v, p.Do(w))
		}
	}
	return false, nil
}

// wantsInstall has evendraw's program put on the board, where there is one.
func (l *live) wantsInstall() {
	if b, real := l.src.(*boardSource); real {
		b.wantsInstall()
	}
}

// startZero begins a zero pass, and returns what is to be said of it, nil for nothing.
func (l *live) startZero() (told view.Event) {
	l.sess.Chain(func(c *session.Chain) {
		if !c.StartZero() {
			told = view.Told{Text: "The zero begins when the board sends: engine off, hands off.", Role: view.Warn}
		}
	})
	return told
}

// match begins or drops a match pass; the practice engine draws on the hoses itself.
func (l *live) match(w view.Want) (err error) {
	l.sess.Chain(func(c *session.Chain) {
		if w.Kind == view.DropMatch {
			c.DropMatch()
			return
		}
		b := c.Bank()
		err = c.StartMatch(b.Channels)
	})
	if p := l.practice(); p != nil && err == nil {
		p.Do(w)
	}
	return err
}
