package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/board"
	"evendraw/internal/frame"
	"evendraw/internal/heat"
	"evendraw/internal/hint"
	"evendraw/internal/keep"
	"evendraw/internal/page"
	"evendraw/internal/practice"
	"evendraw/internal/screen"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
	"evendraw/internal/view"
	"evendraw/internal/voice"
)

// LiveOptions are what the command line says of a run.
type LiveOptions struct {
	Port       settings.Port
	Practice   string // name of a practice bike, "" for a board
	Auto       bool   // a virtual mechanic does the turning
	Headless   bool   // no screen
	JSON       bool   // a reading a line
	EveryCycle bool   // with JSON: every cycle
	Limit      time.Duration
	Capture    string // file that keeps the board's bytes, "" for none
	Note       string // remark for the record
	At         string // ID of the step to begin at, "" for the usual
	Sound      bool   // ring the terminal's bell
	Screen     screen.Options
	Page       PageOptions
}

// live is one run over a source: on the screen, as plain lines, or as JSON.
type live struct {
	set        *settings.Settings
	opt        *LiveOptions
	src        source
	std        settings.Streams
	notes      settings.Notes
	keeper     *keep.Keeper
	sess       *session.Session
	capture    *captureFile
	keptZero   *sensor.Zero
	remarked   string             // remark that the keeper was told of
	refused    error              // zero pass that was told of
	matched    session.MatchState // that was told of
	next       upkeep
	keptHeat   heat.State // as written last, guarded by mu
	bells      voice.Bells
	cantSave   error          // why records can't be kept at the start
	noRoomSaid settings.Notes // why records can't be kept, beside plain lines or JSON
	onScreen   bool
	levels     atomic.Bool // the screen has come to the levelling
	teeErr     error       // why the capture is not whole
	warmth     warmth
	page       *page.Server // nil without one
	// news are events for the display from other goroutines; writing counts those that write to the disk.
	news    chan view.Event
	writing sync.WaitGroup
	mu      sync.Mutex
	saves   []string // paths of records, guarded by mu
}

// newLive returns a run. A nil source is the board that the options choose.
func newLive(set *settings.Settings, o *LiveOptions, src source, std settings.Streams) *live {
	l := &live{set: set, opt: o, src: src, std: std, news: make(chan view.Event, 64), remarked: o.Note,
		noRoomSaid: settings.Notes{Tell: std.Warn}}
	l.notes.Tell = func(text string) {
		if l.onScreen {
			l.tell(view.Told{Text: text, Role: view.Warn})
			return
		}
		std.Warn(text)
	}
	if src == nil {
		l.src = &boardSource{world: set.World, port: o.Port, bank: func(a *frame.Announcement) session.Config {
			return l.set.BankConfig(a, &l.notes)
		}, bare: func(b view.BareBoard) { l.tell(b) }, install: make(chan struct{}, 1)}
	}
	l.onScreen = !o.JSON && !o.Headless && (set.World.Display != nil || typing.IsTerminal(std.Out))
	p := l.practice()
	l.keeper = keep.New(set, keep.Options{Own: l.src.own(), Note: o.Note, Practice: p,
		NutsSeen: p != nil && (o.Auto || !l.onScreen)})
	return l
}

// Live shows a board or the practice engine until it ends or the user leaves.
func Live(ctx context.Context, set *settings.Settings, o *LiveOptions, std settings.Streams) error {
	if err := checkCaptureName(o.Capture); err != nil { // before a board is waited for
		return err
	}
	var src source
	if o.Practice != "" {
		if !set.Named { // the bike used last has nothing to do with it
			set = set.WithBike(nil)
		}
		p, err := set.PracticeRun(practice.Options{Name: o.Practice, Ambient: set.Ambient}, &std,
			"its records get a card of their own")
		if err != nil {
			return err
		}
		defer func() { fmt.Fprintln(std.Err, p.Score()) }()
		src = &practiceSource{Bike: p}
	} else if set.Bike != nil {
		set.Garage.SetLastBike(set.Bike.Name) // only a convenience: a failure is told when something is saved
	}
	l := newLive(set, o, src, std)
	l.cantSave = set.World.CanSave(set.Garage)
	if err := l.openPage(); err != nil {
		return err
	}
	defer l.closePage()
	return l.run(ctx)
}

// run shows the source until it ends or the user leaves.
func (l *live) run(ctx context.Context) (err error) {
	if l.cantSave != nil && !l.onScreen { // the screen says it, offers another folder, and says what became of it
		l.noRoomSaid.Once(l.cantSave.Error())
	}
	switch {
	case l.opt.JSON:
		err = l.runJSON(ctx)
	case l.onScreen:
		err = l.runScreen(ctx)
	default:
		err = l.runLines(ctx)
	}
	return l.finish(err)
}

// finish keeps what was not saved, and closes the capture; err is how the run ended.
func (l *live) finish(err error) error {
	l.writing.Wait()
	l.saveHeat()
	if e := l.keepLast(); e != nil {
		err = e
	}
	if nuts := l.keeper.Nuts(); nuts != "" && l.src.own() != keep.None {
		l.std.Warn(nuts + ": hold the screw still and tighten it; then look at the levelling again")
	}
	if e := l.endCapture(); err == nil {
		err = e
	}
	if _, recorded := l.src.(*replaySource); l.sess != nil && !recorded {
		tellEngine(l.std.Err, l.sess.Snapshot(), err)
	}
	return err
}

// tellEngine says at the end of a run, whatever ended it but a word that was wrong from the start, that the engine
// still turns, or did when it was seen last.
func tellEngine(errOut io.Writer, snap *session.Snapshot, err error) {
	var lost *board.Error
	var wrong *hint.UsageError
	if snap.Heat.Turning && !errors.As(err, &wrong) {
		fmt.Fprintln(errOut, tell.EngineRunsOn(errors.As(err, &lost)))
	}
}

// practice returns the practice engine, nil without one.
func (l *live) practice() *practice.Bike {
	if p, ok := l.src.(*practiceSource); ok {
		return p.Bike
	}
	return nil
}

// begin makes the session. onReading may be nil.
func (l *live) begin(onReading func(*balance.Reading, *session.Chain)) {
	_, recorded := l.src.(*replaySource)
	l.sess = session.New(l.src.config(nil), session.Options{Until: l.opt.Limit.Seconds(), OnReading: onReading,
		Keys: l.onScreen && !recorded,
		OnRefused: func(why error) {
			if !l.onScreen { // which shows it as long as it is so
				l.std.Warn(why.Error())
			}
		},
		TeeFailed: func(err error) {
			l.teeErr = l.capture.notWhole(err)
			l.tell(view.Told{Text: l.teeErr.Error(), Role: view.Bad})
			if !l.onScreen {
				hint.Report(l.std.Err, l.teeErr)
			}
		}})
	if text := l.takeUpHeat(); text != "" {
		l.notes.Tell(text)
	}
}

// beginCapture begins the capture, if one is wanted, once the board is known: its head holds the settings in force.
func (l *live) beginCapture(a *frame.Announcement, cfg *session.Config) (err error) {
	if l.opt.Capture == "" {
		return nil
	}
	bike := ""
	if l.src.own() == keep.Bike {
		bike = l.set.BikeName()
	}
	if l.capture, err = newCaptureFile(l.set, l.opt.Capture, bike, cfg, a); err != nil {
		return err
	}
	l.keeper.CaptureIn(l.capture.path)
	l.sess.SetTee(l.capture)
	return nil
}

// endCapture closes the capture and returns what went wrong with it.
func (l *live) endCapture() error {
	if l.capture == nil {
		return nil
	}
	err := l.capture.Close()
	if l.teeErr != nil {
		return l.teeErr
	}
	return err
}

// tell hands an event to the screen, or drops it when nobody takes it.
func (l *live) tell(e view.Event) {
	select {
	case l.news <- e:
	default:
	}
}

// beside runs what goes on beside a run in a goroutine of its own, until the returned function is called, which waits
// for its end.
func beside(ctx context.Context, work func(context.Context)) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	var running sync.WaitGroup
	running.Go(func() { work(ctx) })
	return func() {
		stop()
		running.Wait()
	}
}

// read runs the session over its source to the end.
func (l *live) read(ctx context.Context) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("internal error: %v", p)
		}
	}()
	defer l.src.close()
	news := func(text string) { l.tell(view.LinkNews{Text: text}) }
	a, err := l.src.meet(ctx, news)
	if err != nil {
		return err
	}
	var cfg session.Config
	l.sess.Chain(func(*session.Chain) { cfg = l.src.config(a) }) // no bike is changed meanwhile
	if err := l.beginCapture(a, &cfg); err != nil {
		return err
	}
	return l.src.read(ctx, l.sess, news)
}
