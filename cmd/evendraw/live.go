package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"evendraw/internal/balance"
	"evendraw/internal/board"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
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
		Long: `Read the board and say live what to turn. Without a terminal, one plain line a
second. With --practice the practice engine takes the board's place.

Outdoors only: exhaust holds carbon monoxide. Mind hot and moving parts; a
standing engine overheats in minutes. The maker's manual comes first.

Practice bikes with a story, all invented:
` + practiceBikes(),
		Example: `  evendraw live --practice
  evendraw live --practice lumpy-twin --auto
  evendraw live --bike "old four" --port /dev/ttyUSB0
  evendraw live --headless --json --for 30s`,
		Args: usageArgs(cobra.MaximumNArgs(1)),
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
	o.port.addFlags(f)
	addPracticeFlag(f, &o.practice)
	f.BoolVar(&o.auto, "auto", false, "with --practice: a virtual mechanic does the turning")
	f.BoolVar(&o.headless, "headless", false, "no screen: one line a second, or JSON with --json")
	f.BoolVar(&o.json, "json", false, "with --headless: one reading a line, at most 20 a second")
	f.BoolVar(&o.everyCycle, "every-cycle", false, "with --json: every cycle, with its own figures")
	f.DurationVar(&o.limit, "for", 0, "stop after that much of the source's own time")
	f.StringVar(&o.capture, "capture", "", "also keep the board's bytes in this file (a zero pass or another reference taken meanwhile is not in it)")
	f.StringVar(&o.note, "note", "", "a remark that goes into the record")
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
	return nil
}

// checkFor refuses a --for that was given and would end nothing.
func checkFor(cmd *cobra.Command, limit time.Duration) error {
	if cmd.Flags().Changed("for") && limit <= 0 {
		return usagef("--for %s: give a time above 0, as 30s", limit)
	}
	return nil
}

// live is one run of the verb.
type live struct {
	rig      *rig
	opt      *liveOptions
	out, err io.Writer
	practice *practice
	keeper   *keeper
	sess     *session.Session
	link     *board.Link // opened before the session, without a screen
	capture  *captureFile
	replay   *replaying // a capture in the board's place
	keptZero *sensor.Zero
	refused  error    // zero pass that was told of
	saves    []string // paths of records
	warning  string   // shown when the screen opens
	onScreen bool
	teeErr   error // why the capture is not whole
	rigTold  rigTold
	warmOf   string  // serial of the board that warm is of
	warm     float64 // minutes, from its card
	news     chan view.Event
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
	l := &live{rig: r, opt: o, out: out, err: errOut, news: make(chan view.Event, 64)}
	r.warn = func(text string) {
		if l.onScreen {
			l.tell(view.Told{Text: text, Role: view.Warn})
			return
		}
		fmt.Fprintln(errOut, "evendraw: "+printable(text))
	}
	l.keeper = &keeper{rig: r, practice: o.practice != "", unit: r.unit().Name, note: o.note}
	if o.practice != "" {
		var err error
		if l.practice, err = newPractice(r, o.practice, false); err != nil {
			return err
		}
		fmt.Fprint(errOut, l.practice.told())
		defer func() { fmt.Fprintln(errOut, l.practice.score()) }()
	} else if r.bike != nil {
		r.garage.SetLastBike(r.bike.Name) // only a convenience: a failure is told when something is saved
	}
	if err := r.canSave(); err != nil {
		l.warning = err.Error()
		fmt.Fprintln(errOut, "evendraw: "+printable(l.warning))
	}
	l.onScreen = !o.json && !o.headless && isTerminal(out)
	if o.auto {
		if err := l.practice.prepare(); err != nil {
			return err
		}
	}
	var err error
	switch {
	case o.json:
		err = l.runJSON(ctx)
	case l.onScreen:
		err = l.runScreen(ctx)
	default:
		err = l.runLines(ctx)
	}
	if e := l.endCapture(); err == nil {
		err = e
	}
	return err
}

// isTerminal reports whether w and standard input are a terminal.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && term.IsTerminal(int(os.Stdin.Fd()))
}

// config returns the settings before the board is known.
func (l *live) config() session.Config {
	switch {
	case l.practice != nil:
		return l.practice.config(nil)
	case l.replay != nil:
		return l.replay.cfg
	}
	return session.Config{BankOf: l.rig.config}
}

// begin makes the session. onReading may be nil.
func (l *live) begin(onReading func(*balance.Reading, *session.Chain)) error {
	l.sess = session.New(l.config(), session.Options{Until: l.opt.limit.Seconds(), OnReading: onReading, TeeFailed: func(err error) {
		l.teeErr = fmt.Errorf("the capture could not be written to its end: %w", err)
		l.tell(view.Told{Text: l.teeErr.Error(), Role: view.Bad})
		if !l.onScreen {
			report(l.err, l.teeErr)
		}
	}})
	return nil
}

// beginCapture begins the capture, if one is wanted, once the board is known:
// its head holds the settings in force.
func (l *live) beginCapture() error {
	if l.opt.capture == "" || l.replay != nil {
		return nil
	}
	cfg, a, bike := l.config(), l.announcement(), ""
	if l.practice == nil {
		cfg, bike = l.rig.config(a), l.rig.cardName()
	}
	var err error
	if l.capture, err = newCaptureFile(l.rig, l.opt.capture, bike, &cfg, a); err != nil {
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
	if l.practice != nil || l.replay != nil {
		if err := l.beginCapture(); err != nil {
			return err
		}
	}
	switch {
	case l.practice != nil:
		return l.sess.Run(ctx, session.NewPace(ctx, l.practice.engine))
	case l.replay != nil:
		return l.sess.Run(ctx, l.replay.src)
	}
	wait := headlessReturn
	if l.link == nil {
		wait = 0
		if l.link, err = l.search(ctx); err != nil {
			return err
		}
	}
	if err := l.beginCapture(); err != nil {
		l.link.Close()
		return err
	}
	return stayOn(ctx, l.sess, l.link, &l.opt.port, wait, func(text string) { l.tell(view.LinkNews{Text: text}) })
}

// search opens the board, trying again as long as it may still come.
func (l *live) search(ctx context.Context) (*board.Link, error) {
	for {
		link, err := l.opt.port.open(ctx, func(p board.Progress) { l.tell(view.LinkNews{Text: progressText(p)}) })
		if err == nil {
			l.tell(view.LinkNews{})
			return link, nil
		}
		var port *board.Error
		if !errors.As(err, &port) || !mayStillCome(port.Kind) {
			return nil, err
		}
		l.tell(view.LinkNews{Text: port.Error() + ". " + port.Hint()})
		select {
		case <-ctx.Done():
			return nil, context.Cause(ctx)
		case <-time.After(time.Second):
		}
	}
}

// mayStillCome reports whether a failure may pass while the user looks on.
func mayStillCome(k board.Kind) bool {
	return k == board.NoBoard || k == board.Absent || k == board.Silent || k == board.Vanished
}
