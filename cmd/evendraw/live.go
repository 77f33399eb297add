package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"evendraw/internal/balance"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

type liveOptions struct {
	port       portOptions
	practice   string // name of a practice bike, "" for a board
	auto       bool
	headless   bool
	json       bool
	everyCycle bool
	limit      time.Duration
	capture    string
	note       string
	at         string // ID of the step to begin at, "" for the usual
	sound      bool
	display    displayOptions
}

// displayOptions choose how the screen is drawn.
type displayOptions struct {
	noColor bool
	ascii   bool
}

func newLiveCommand(r *rig) *cobra.Command {
	o := &liveOptions{}
	cmd := &cobra.Command{
		Use:   "live",
		Short: "Level the bank, live",
		Long: `Read the board and say live what to turn. The screen leads through the job, from
the checks before the start to the record; o shows all its steps, ? the keys.
Without a terminal: one plain line a second. With --practice the practice engine
takes the board's place.

Outdoors only: exhaust holds carbon monoxide. Mind hot and moving parts; a
standing engine overheats in minutes. The maker's manual comes first.

Practice bikes with a story, all invented:
` + practiceBikes(),
		Example: `  evendraw live                             the last bike, the board that is plugged in
  evendraw live --practice --at zero        straight to work, on the practice engine
  evendraw live --practice lumpy-twin --auto
  evendraw live --bike "old four" --port /dev/ttyUSB0 --at level
  evendraw live --headless --json --for 30s`,
		Args:              usageArgs(cobra.MaximumNArgs(1)),
		ValidArgsFunction: completePractice,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 { // --practice NAME
				if o.practice != freshBike {
					return usagef("%q: live takes no argument but the name of a practice bike, after --practice", args[0])
				}
				o.practice = args[0]
			}
			if err := checkFor(cmd, o.limit); err != nil {
				return err
			}
			return runLive(cmd.Context(), r, o, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	f := cmd.Flags()
	o.port.addFlags(&r.world, f)
	addPracticeFlag(f, &o.practice)
	f.BoolVar(&o.auto, "auto", false, "with --practice: a virtual mechanic does the turning")
	f.BoolVar(&o.headless, "headless", false, "no screen: one line a second, or JSON with --json")
	f.BoolVar(&o.json, "json", false, "with --headless: one reading a line, at most 20 a second")
	f.BoolVar(&o.everyCycle, "every-cycle", false, "with --json: every cycle, with its own figures")
	f.DurationVar(&o.limit, "for", 0, "stop after that much of the source's own time")
	f.StringVar(&o.capture, "capture", "", "also keep the board's bytes in this file (a zero pass or another reference taken meanwhile is not in it)")
	f.StringVar(&o.note, "note", "", "a remark that goes into the record")
	f.BoolVar(&o.sound, "sound", false, "ring the terminal's bell: once for go on, twice for stop, three times for wrong, four for level")
	f.StringVar(&o.at, "at", "", "begin at this step of the job: "+strings.Join(view.StepIDs(), ", "))
	o.display.addFlags(f)
	return cmd
}

func (o *liveOptions) check() error {
	switch {
	case o.auto && o.practice == "":
		return usagef("--auto turns the screws of the practice engine: it goes with --practice")
	case o.practice != "" && o.port.port != "":
		return usagef("--practice takes the place of a board: it doesn't go with --port")
	case o.everyCycle && !o.json:
		return usagef("--every-cycle goes with --json")
	}
	if _, ok := view.ParseStep(o.at); o.at != "" && !ok {
		return usagef("--at %q is no step; there are %s", o.at, strings.Join(view.StepIDs(), ", "))
	}
	return nil
}

// checkFor refuses a --for that was given and would end nothing.
func checkFor(cmd *cobra.Command, limit time.Duration) error {
	if cmd.Flags().Changed("for") && limit <= 0 {
		return usagef("--for %s: give a time above 0, as 30s", limit)
	}
	return nil
}

// live is one run over a source: on the screen, as plain lines, or as JSON.
type live struct {
	rig      *rig
	opt      *liveOptions
	src      source
	out, err io.Writer
	keeper   *keeper
	sess     *session.Session
	capture  *captureFile
	keptZero *sensor.Zero
	refused  error // zero pass that was told of
	nextKeep time.Time
	bells    bells
	warning  string // shown when the screen opens
	onScreen bool
	teeErr   error // why the capture is not whole
	rigTold  rigTold
	warmOf   string  // serial of the board that warm is of
	warm     float64 // minutes, from its card
	// news are events for the display from other goroutines; writing counts those
	// that write to the disk.
	news    chan view.Event
	writing sync.WaitGroup
	mu      sync.Mutex
	saves   []string // paths of records, guarded by mu
}

func newLive(r *rig, o *liveOptions, src source, out, errOut io.Writer) *live {
	l := &live{rig: r, opt: o, src: src, out: out, err: errOut, news: make(chan view.Event, 64), bells: bells{on: o.sound}}
	l.keeper = &keeper{rig: r, own: src.own(), unit: r.unit().Name, note: o.note, begun: time.Now()}
	r.warn = func(text string) {
		if l.onScreen {
			l.tell(view.Told{Text: text, Role: view.Warn})
			return
		}
		fmt.Fprintln(errOut, "evendraw: "+tell.Lines(text))
	}
	return l
}

func runLive(ctx context.Context, r *rig, o *liveOptions, out, errOut io.Writer) error {
	if err := o.check(); err != nil {
		return err
	}
	if err := r.open(); err != nil {
		return err
	}
	if err := r.chooseBike(); err != nil {
		return err
	}
	var src source = &boardSource{rig: r, port: &o.port}
	if o.practice != "" {
		p, err := newPractice(r, o.practice, false)
		if err != nil {
			return err
		}
		fmt.Fprint(errOut, p.told())
		defer func() { fmt.Fprintln(errOut, p.score()) }()
		src = p
	} else if r.bike != nil {
		r.garage.SetLastBike(r.bike.Name) // only a convenience: a failure is told when something is saved
	}
	l := newLive(r, o, src, out, errOut)
	if err := r.canSave(); err != nil {
		l.warning = err.Error()
		fmt.Fprintln(errOut, "evendraw: "+tell.Lines(l.warning))
	}
	return l.run(ctx)
}

// run shows the source until it ends or the user leaves.
func (l *live) run(ctx context.Context) (err error) {
	l.onScreen = !l.opt.json && !l.opt.headless && (l.rig.world.display != nil || isTerminal(l.out))
	switch {
	case l.opt.json:
		err = l.runJSON(ctx)
	case l.onScreen:
		err = l.runScreen(ctx)
	default:
		err = l.runLines(ctx)
	}
	l.writing.Wait()
	if path, e := l.keeper.end(); e != nil && err == nil {
		err = e
	} else if path != "" {
		fmt.Fprintln(l.err, "not finished, kept as "+path)
	}
	if e := l.endCapture(); err == nil {
		err = e
	}
	return err
}

// practice returns the practice engine, nil without one.
func (l *live) practice() *practice {
	p, _ := l.src.(*practice)
	return p
}

// isTerminal reports whether w and standard input are a terminal.
func isTerminal(w io.Writer) bool {
	if shown, ok := w.(*tell.Writer); ok {
		w = shown.Unwrap()
	}
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && term.IsTerminal(int(os.Stdin.Fd()))
}

// begin makes the session. onReading may be nil.
func (l *live) begin(onReading func(*balance.Reading, *session.Chain)) {
	l.sess = session.New(l.src.config(), session.Options{Until: l.opt.limit.Seconds(), OnReading: onReading, TeeFailed: func(err error) {
		l.teeErr = fmt.Errorf("the capture could not be written to its end: %w", err)
		l.tell(view.Told{Text: l.teeErr.Error(), Role: view.Bad})
		if !l.onScreen {
			report(l.err, l.teeErr)
		}
	}})
}

// beginCapture begins the capture, if one is wanted, once the board is known:
// its head holds the settings in force.
func (l *live) beginCapture(a *frame.Announcement, cfg *session.Config) (err error) {
	if l.opt.capture == "" {
		return nil
	}
	bike := ""
	if l.src.own() == bikes {
		bike = l.rig.cardName()
	}
	if l.capture, err = newCaptureFile(l.rig, l.opt.capture, bike, cfg, a); err != nil {
		return err
	}
	l.keeper.keepsCapture(l.capture.path)
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
	l.sess.Chain(func(*session.Chain) { cfg = l.src.configFor(a) }) // no bike is changed meanwhile
	if err := l.beginCapture(a, &cfg); err != nil {
		return err
	}
	return l.src.read(ctx, l.sess, news)
}
