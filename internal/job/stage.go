package job

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync/atomic"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/heat"
	"evendraw/internal/keyhelp"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/typing"
	"evendraw/internal/view"
)

// stage is a stage after levelling as a run without a screen has it: begun with the first reading, told in lines,
// closed when done.
type stage struct {
	begin func(c *session.Chain) error
	// first says, by a reading, what is better done before it, "" where nothing is; nil: nothing ever is.
	first func(rd *balance.Reading) string
	// tells reports whether there is something to tell: nothing below is asked before.
	tells func(t *session.Tune) bool
	// json is a line of JSON.
	json func(t *session.Tune, h *heat.State, now float64) []byte
	// words say where it stands and what to do.
	words func(t *session.Tune) view.Words
	done  func(t *session.Tune) bool
	// outcome tells what it has come to, however it ends; keep keeps that of one that was ended or left, nil where
	// nothing is kept.
	outcome func(t *session.Tune)
	keep    func(t *session.Tune) error
	// hand returns what a virtual hand does before each read of the practice engine.
	hand func(p *practice.Bike) (before func())
	// keys says what is typed beside a bike, hands what a hand at the practice engine does.
	keys, hands string
}

// errStageDone ends a session whose stage is done, or left by the user.
var errStageDone = errors.New("the stage is done")

// stageRun is a stage under way.
type stageRun struct {
	*live
	stage *stage
	begun bool
	// looked is set once the bank was read well enough for stage.first; waits while that stands, until Enter says to
	// begin all the same.
	looked bool
	waits  atomic.Bool
	next   float64 // when the next line of JSON is due, s of the source's time
	lineAt float64 // when the next plain line is due
	near   bool    // that the limit of idling is near was told
	told   string  // the advice that was told in full last
}

// TuneOptions are what the command line says of a stage after levelling.
type TuneOptions struct {
	LiveOptions                  // no screen, page or capture
	Bike        practice.Mixture // what the practice bike has
	Fast        bool             // as fast as the machine goes
	Trim        TrimFlags
	RPM         float64 // the raised speed; 0 is the card's, else the usual
}

// newTuneRun returns a run for a stage after levelling, over a board or the practice engine, which a virtual hand
// turns if asked to, or where nobody is at the keys.
func newTuneRun(set *settings.Settings, o *TuneOptions, std settings.Streams) (*live, error) {
	var src source
	if o.Practice != "" {
		if set.Named {
			o.Trim.Config.Screws = cmp.Or(o.Trim.Config.Screws, mixture.Screws(set.Bike.PilotScrews))
			o.Bike.Air = o.Trim.Config.Screws == mixture.AirScrews
		}
		p, err := set.PracticeRun(practice.Options{Name: o.Practice, Mixture: &o.Bike}, &std,
			"where its pilot screws stand; nothing is saved")
		if err != nil {
			return nil, err
		}
		src = &practiceSource{Bike: p, fast: o.Fast, unkept: true}
	}
	o.Headless = true
	return newLive(set, &o.LiveOptions, src, std), nil
}

// runStage runs a stage of a run to its end, after its cautions.
func runStage(ctx context.Context, set *settings.Settings, o *TuneOptions, std settings.Streams, cautions []string,
	of func(*live) *stage) error {
	l, err := newTuneRun(set, o, std)
	if err != nil {
		return err
	}
	fmt.Fprintln(std.Err, strings.Join(cautions, "\n"))
	r := &stageRun{live: l, stage: of(l)}
	err = r.run(ctx)
	if l.sess == nil { // the board was not even opened
		return l.finish(err)
	}
	snap := l.sess.Snapshot()
	tells := r.stage.tells(&snap.Tune)
	if tells && l.opt.JSON {
		fmt.Fprintf(l.std.Out, "{\"summary\":%s}\n", r.stage.json(&snap.Tune, &snap.Heat, snap.Link.LastTime))
	}
	if tells && r.begun {
		r.stage.outcome(&snap.Tune)
		if err == nil && r.stage.keep != nil {
			err = r.stage.keep(&snap.Tune)
		}
	}
	return l.finish(err)
}

// prose is where a run without a screen tells a person something: standard output, unless that holds JSON.
func (l *live) prose() io.Writer {
	if l.opt.JSON {
		return l.std.Err
	}
	return l.std.Out
}

func (r *stageRun) run(ctx context.Context) error {
	if err := r.src.prepare(ctx, r.std.Warn); err != nil {
		return err
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	onKeys := typing.IsTerminal(r.std.Out)
	var typed *typing.Lines
	if onKeys && !r.opt.JSON {
		std := r.std
		var giveBack func()
		typed, giveBack = typing.Open(std.In)
		defer func() { giveBack(); r.std = std }()
	}
	if typed != nil {
		if typing.IsTerminal(r.std.Err) {
			r.std.Err = typed.Out()
		}
		r.std.Out = typed.Out()
		typed.OnFailure(func(err error) { stop(typing.CantWrite(err)) })
	}
	r.live.begin(func(rd *balance.Reading, c *session.Chain) {
		tune := c.Tune()
		switch {
		case !r.begun:
			r.begun = true
			if err := r.stage.begin(c); err != nil {
				stop(err)
			}
		case r.stage.tells(&tune) && r.stage.done(&tune):
			stop(errStageDone)
		case !r.looked && r.stage.first != nil && rd.Cycles >= pilotwords.NotLevelCycles:
			r.looked = true
			if first := r.stage.first(rd); first != "" {
				r.tellFirst(first, rd, c, onKeys && !r.opt.JSON && !r.opt.Auto)
				tune = c.Tune()
			}
		}
		r.print(&tune, rd)
	})
	if p, ok := r.src.(*practiceSource); ok && (r.opt.Auto || !onKeys) { // or nobody is at the keys
		p.before = r.stage.hand(p.Bike)
	}
	switch {
	case onKeys || typing.Comes(r.std.In):
		// it may still wait for a line when r.std is given back
		go r.listen(typed.Next(r.std.In), r.std.Err, onKeys, stop)
	case r.practice() == nil:
		r.std.Warn("no key is read: standard input is neither a terminal nor a pipe; a turn can only be seen")
	}
	defer r.tellLink(ctx, func() { r.keepHeat(time.Now()) })()
	if err := r.read(ctx); !errors.Is(err, errStageDone) {
		return err
	}
	return nil
}

// tellFirst tells what is better done before the stage. Where somebody can answer it stands still until then.
func (r *stageRun) tellFirst(first string, rd *balance.Reading, c *session.Chain, answers bool) {
	if !answers {
		r.std.Warn(first)
		return
	}
	c.StopTrim()
	r.waits.Store(true)
	w := view.Words{Big: "LEVEL FIRST", Say: []string{first, "q leaves: evendraw live levels the bank.",
		"Or Enter begins all the same."}}
	r.line(&w, rd)
}

// enter does what Enter says: the stage begins all the same, or a turn is made.
func (r *stageRun) enter(errOut io.Writer) {
	if !r.waits.CompareAndSwap(true, false) {
		r.turnMade(errOut)
		return
	}
	r.sess.Chain(func(c *session.Chain) {
		if err := r.stage.begin(c); err != nil {
			fmt.Fprintln(errOut, err)
		}
	})
}

// newsLook is how often what goes on beside a run is looked at. Chosen: well within what a person sees.
const newsLook = 20 * time.Millisecond

// tellLink says on standard error what becomes of the link, and looks at what goes on, until the returned function is
// called.
func (l *live) tellLink(ctx context.Context, look func()) (end func()) {
	return beside(ctx, func(ctx context.Context) {
		tick := time.NewTicker(newsLook)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case e := <-l.news:
				l.linkNews(e)
			case <-tick.C:
				look()
			}
		}
	})
}

// linkNews says on standard error what an event tells of the link, and that records can't be kept any more.
func (l *live) linkNews(e view.Event) {
	switch e := e.(type) {
	case view.LinkNews:
		if e.Text != "" {
			l.std.Warn(e.Text)
		}
	case view.NoRoom:
		l.noRoomSaid.Once(e.Why)
	}
}

// print prints a line when one is due.
func (r *stageRun) print(t *session.Tune, rd *balance.Reading) {
	if r.opt.JSON {
		if rd.Time >= r.next && r.stage.tells(t) {
			r.next = rd.Time + jsonInterval
			fmt.Fprintf(r.std.Out, "%s\n", r.stage.json(t, &rd.Heat, rd.Time))
		}
		return
	}
	if rd.Time < r.lineAt {
		return
	}
	w, ok := view.HeatWords(&rd.Heat)
	if !ok && r.stage.tells(t) {
		w, ok = r.stage.words(t), true
	}
	if ok {
		r.lineAt = rd.Time + 1
		r.line(&w, rd)
	}
	if text := view.HeatLine(&rd.Heat); text == "" {
		r.near = false
	} else if !r.near {
		r.near = true
		fmt.Fprintf(r.std.Out, "    %s\n", text)
	}
}

// speeds are what changes from line to line in a sentence that stays.
var speeds = regexp.MustCompile(`[0-9]+ rpm`)

// line prints where a stage stands; what to do is told in full when it has changed.
func (r *stageRun) line(w *view.Words, rd *balance.Reading) {
	const otherTyped = "Or type made 1/2: you turned it by that, made 0: not at all." // for pilotwords.OtherAmount
	head := w.Big
	if w.Way != "" {
		head += " " + w.Way
	}
	if w.Amount != "" {
		head += map[int]string{0: " ", 1: " clockwise ", -1: " anticlockwise "}[w.Arrow] + w.Amount
	}
	rpm := "    " + plain.Dash
	if rd.RPM > 0 {
		rpm = fmt.Sprintf("%5.0f", rd.RPM)
	}
	fmt.Fprintf(r.std.Out, "%6.1f s %s rpm  %s\n", rd.Time, rpm, head)
	told := plain.WithoutClock(w.Big + w.Amount + speeds.ReplaceAllString(w.Say[0], ""))
	if told != r.told {
		r.told = told
		for _, say := range w.Say {
			say = strings.Replace(keyhelp.Lines(say), pilotwords.OtherAmount, otherTyped, 1)
			fmt.Fprintf(r.std.Out, "    %s\n", say)
		}
	}
}

// correct takes a typed amount by which a turn was made: of the one that is told, or that was said to be made last.
func (r *stageRun) correct(errOut io.Writer, amount string, said bool) {
	if e, ok := r.correctTurn(amount, said).(view.Told); ok {
		fmt.Fprintln(errOut, e.Text)
	}
}

// listen takes lines from the keyboard: Enter tells that a turn is made, "made 3/4" that another amount
// was, "was 3/4" the same of the turn before, q leaves; on the practice engine turns of screws as well.
func (r *stageRun) listen(next func() (line string, err error), errOut io.Writer, onKeys bool,
	stop context.CancelCauseFunc) {
	p := r.practice()
	if p != nil && !r.opt.Auto && onKeys {
		fmt.Fprintln(errOut, r.stage.hands)
	}
	for {
		line, err := next()
		if errors.Is(err, typing.ErrKeyEnds) {
			stop(context.Canceled)
		}
		if err != nil {
			return
		}
		switch text := strings.TrimSpace(line); {
		case text == "q":
			stop(errStageDone)
		case text == "":
			r.enter(errOut)
		case strings.HasPrefix(text, "made "):
			r.correct(errOut, strings.TrimPrefix(text, "made "), false)
		case strings.HasPrefix(text, "was "):
			r.correct(errOut, strings.TrimPrefix(text, "was "), true)
		case p == nil:
			fmt.Fprintln(errOut, r.stage.keys)
		default:
			if err := p.DoLine(text, r.stage.hands); err != nil {
				fmt.Fprintln(errOut, err)
			}
		}
	}
}
