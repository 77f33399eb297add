package job

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/keep"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/view"
)

// jsonInterval is the least time between two JSON lines without --every-cycle,
// in the source's own time: at most 20 a second.
const jsonInterval = 0.05

// runJSON prints one reading a line. On the practice engine the virtual mechanic works, as in runLines.
func (l *live) runJSON(ctx context.Context) error {
	if err := l.src.prepare(ctx, l.std.Warn); err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	out := &jsonLines{out: bufio.NewWriter(l.std.Out), everyCycle: l.opt.EveryCycle,
		fail: func(err error) { stop(err) }}
	l.begin(out.reading)
	if l.src.own() == keep.Bike { // other sources wait for nobody
		defer l.tellLink(ctx, l.boardLook(out))()
	}
	if l.practice() != nil {
		defer l.watchPractice(ctx, stop)()
	}
	return l.ended(l.read(ctx), l.practice() != nil)
}

// ended saves a record of a bank that the virtual mechanic has levelled; where there was one and it is not, it says
// that nothing is saved.
func (l *live) ended(err error, mechanic bool) error {
	if errors.Is(err, errLevel) || errors.Is(err, errGaveUp) {
		return l.save()
	}
	if (err == nil || errors.Is(err, context.Canceled)) && mechanic {
		l.std.Warn("ended before the bank was level: nothing is saved")
	}
	return err
}

// errGaveUp ends a run whose virtual mechanic levels no further.
var errGaveUp = errors.New("a fault comes again and again")

// care is what the virtual mechanic does beside turning, and how it is told.
func (l *live) care() *practice.Care {
	p := l.practice()
	return &practice.Care{GoOn: func() {
		if l.goOn(); l.onScreen {
			l.tell(view.KeyPress{Key: "g"}) // what the screen has kept is put aside too
		}
	}, Begin: l.sess.AskAnew,
		Again: func() {
			if l.onScreen { // whose step asks anew as it begins
				l.tell(view.LevelAgain{})
				return
			}
			l.sess.AskAnew()
		},
		Watch:   func(on bool) { l.sess.Chain(func(c *session.Chain) { c.WatchAir(on) }) },
		Tune:    func() *session.Tune { return &l.sess.Snapshot().Tune },
		Reading: func() *balance.Reading { return l.sess.Snapshot().Reading },
		Ready:   func() bool { return !l.onScreen || l.levels.Load() },
		Say: func(text string) {
			if p.Says(text); l.opt.JSON {
				fmt.Fprintln(l.std.Err, "practice: "+text)
			}
		}, Found: p.Finds, Lesson: p.Lesson(), Stays: l.onScreen}
}

// goOn puts aside a fault that is being told.
func (l *live) goOn() { l.sess.Chain((*session.Chain).GoOn) }

// errLevel ends a run whose virtual mechanic has levelled the bank.
var errLevel = errors.New("the bank is level")

// watchPractice lets the virtual mechanic turn the screws of the practice engine until the bank is level, or he levels
// no further: it then stops the run with errLevel or errGaveUp. The returned function ends the mechanic.
func (l *live) watchPractice(ctx context.Context, stop context.CancelCauseFunc) func() {
	m := l.practice().Mechanic()
	m.GoOn = l.goOn
	m.Careful(l.care())
	return beside(ctx, func(ctx context.Context) {
		tick := time.NewTicker(handEvery)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				snap := l.sess.Snapshot()
				if l.opt.JSON { // of a practice nothing goes to the disk before its end
					l.keeper.Update(snap)
				}
				var newest *advice.Advice
				if snap.Reading != nil {
					newest = &snap.Reading.Advice
				}
				if !m.Step(snap.Link.LastTime, newest) {
					continue
				}
				if m.GaveUp() {
					stop(errGaveUp)
				} else {
					stop(errLevel)
				}
				return
			}
		}
	})
}

// handEvery is how often the virtual mechanic's hand is moved. Chosen: finer than a hand.
const handEvery = 50 * time.Millisecond

// runLines prints one plain line a second. On the practice engine the virtual
// mechanic works, and ends the run when the bank is level or he levels no further.
func (l *live) runLines(ctx context.Context) error {
	if err := l.src.prepare(ctx, l.std.Warn); err != nil {
		return err
	}
	l.begin(nil)
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if l.practice() != nil {
		defer l.watchPractice(ctx, stop)()
	}
	if l.src.own() == keep.Bike {
		l.std.Warn(view.WarmFirst)
	}
	ended := make(chan error, 1)
	go func() { ended <- l.read(ctx) }()
	v := l.newView()
	v.Headless = true
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	var looked <-chan time.Time // never, without a page
	if l.page != nil {
		often := time.NewTicker(drawEvery)
		defer often.Stop()
		looked = often.C
	}
	for {
		select {
		case e := <-l.news:
			v = view.Update(v, e)
		case <-looked:
			l.bringUp(&v)
			v = l.showPage(v)
		case err := <-ended:
			l.printLine(&v)
			return l.ended(err, l.practice() != nil)
		case <-tick.C:
			l.printLine(&v)
		}
	}
}

func (l *live) printLine(v *view.View) {
	l.bringUp(v)
	fmt.Fprintln(l.std.Out, v.Line())
}

// bringUp brings the view of a run without a screen up to date, and does what it asks for.
func (l *live) bringUp(v *view.View) {
	if p := l.practice(); p != nil {
		*v = view.Update(*v, p.State())
	}
	*v = view.Update(*v, view.Tick{Now: time.Now(), Snap: l.sess.Snapshot()})
	for _, w := range v.Wants {
		if w.Kind == view.Save && l.src.own() == keep.Bike {
			l.saved()
		}
	}
	l.keepNewZero(v)
	l.keepUp(v.Now)
}

// keepNewZero writes a zero pass that has just been taken on the board's card.
func (l *live) keepNewZero(v *view.View) {
	l.tellBoard(v)
	snap := l.sess.Snapshot()
	if err := snap.Zero.Err; err != nil && err != l.refused {
		l.refused = err
		*v = view.Update(*v, view.Told{Text: view.Refusal(err), Role: view.Bad})
	}
	result := snap.Zero.Result
	if result == nil || result == l.keptZero {
		return
	}
	l.keptZero = result
	at := time.Now()
	l.keeper.ZeroTaken(at)
	told := view.Told{Text: fmt.Sprintf("Zero taken: air pressure %.1f kPa.", float64(result.Ambient)), Role: view.Good}
	if l.src.own() == keep.Bike && snap.Board != nil {
		cfg := snap.Config
		if err := settings.KeepZero(l.set.Garage, snap.Board, &cfg, result, at); err != nil {
			told = view.Told{Text: "Zero taken, but not kept: " + err.Error(), Role: view.Warn}
		} else {
			told.Text += " Kept on the board's card."
		}
	}
	*v = view.Update(*v, told)
}

// keepNewMatch writes a match pass that has just been taken on the board's card, and has the practice engine let
// go of the hoses.
func (l *live) keepNewMatch(v *view.View) {
	snap := l.sess.Snapshot()
	m := snap.Match
	if m.Running || m.Result == l.matched.Result && m.Err == l.matched.Err {
		return
	}
	l.matched = m
	if p := l.practice(); p != nil {
		p.Do(view.Want{Kind: view.DropMatch})
	}
	if m.Result == nil {
		return // the step says why
	}
	at := time.Now()
	l.sess.Chain(func(c *session.Chain) { c.MatchTakenAt(at) })
	if l.src.own() != keep.Bike || snap.Board == nil {
		return
	}
	cfg := snap.Config
	if err := settings.KeepMatch(l.set.Garage, snap.Board, &cfg, m.Result, at); err != nil {
		*v = view.Update(*v, view.Told{Text: "Sensors compared, but not kept: " + err.Error(), Role: view.Warn})
	}
}

// newView is the view before the first event, without the steps of the job.
func (l *live) newView() view.View {
	v := view.View{Now: time.Now(), Snap: l.sess.Snapshot(), Flow: view.Flow{Off: true}, Remark: l.opt.Note}
	v = view.Update(v, l.bikeNews())
	l.src.describe(&v)
	return v
}
