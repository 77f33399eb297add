// Command trial lets a clumsy virtual mechanic level random practice bikes by the advice, or trim
// their pilot screws: for makers of the program, who want to know what a change does.
//
// It draws random practice bikes and has each levelled twice: by the advice alone, and by
// watching a damped gauge per cylinder. The clumsy hand glances once a second, takes 1 to 2 s, is
// 25 % off either way, and turns 3 % of first turns the wrong way. The normal one watches the
// word and takes 0.4 to 0.8 s, turns an eighth a second give or take 30 %, runs on by up to 0.05
// turns after "stop" and needs 1.5 to 3 s from screw to screw; the sloppy one takes 1.2 to 1.8 s,
// turns twice as fast and runs on by up to 0.1; the stepwise one is normal, but makes amounts by
// eighths, 2 to 3 s apart; the slipping one is, but turns one turn of eight the wrong way. Screws
// have play; lock nuts take 2 s each and shift what they hold. Screws' directions and effects are
// unknown at first; sensors are as after a zero and a match pass.
//
// A turn is a screw taken in hand: while the hand stays on it, going on, slower or back, it is one.
// Moves count each start of the hand from rest. Idling is the time the engine runs, from its start
// to "done", blip and lock nuts included.
//
// With -pilot-screws the mechanic trims the pilot screws of random fours instead, up to half a turn
// off at the start: two glances a second, half a second to begin, two to find a slot, half a turn a second,
// each setting off by up to a thirty-second of a turn, and one turn of twenty forgotten.
//
//	go run ./cmd/trial -bikes 100 -seed 1
//	go run ./cmd/trial -pilot-screws -bikes 200
//	go run ./cmd/trial -bikes 50 -with card
//	go run ./cmd/trial -bikes 200 -hand normal -with any-screws -linkage "paired four"
//	go run ./cmd/trial -bikes 200 -hand sloppy -with quick-screws -linkage "paired four"
//	go run ./cmd/trial -bikes 1 -no-rival -trace 0
//	go run ./cmd/trial -bikes 500 -linkage "paired four" -json -plot spread.svg
package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"golang.org/x/term"

	"evendraw/internal/store"
	"evendraw/internal/trial"
)

// Exit statuses.
const (
	exitFailed      = 1
	exitUsage       = 2
	exitInterrupted = 130
)

// noTrace has no bike's words printed.
const noTrace = -2

// options are the flags.
type options struct {
	bikes          int
	seed           uint64
	linkage        string
	hand           string
	noRival        bool
	trace          int
	with           []string
	json           bool
	plot           string
	pilots         bool
	lumpy, silent  bool
	mute, careless bool
	air            bool
	most           float64
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	context.AfterFunc(ctx, func() { os.Exit(exitInterrupted) }) // a bike under way takes seconds
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// wrongUse is an error in the flags.
type wrongUse struct{ error }

// run does what the arguments say and returns the exit status.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	o, err := parse(args, errOut)
	if errors.Is(err, flag.ErrHelp) {
		return 0
	}
	if err == nil {
		err = o.check()
	}
	switch {
	case err != nil:
		err = wrongUse{err}
	case o.pilots:
		err = o.trimPilots(ctx, out, errOut)
	default:
		err = o.level(ctx, out, errOut)
	}
	switch {
	case err == nil:
		return 0
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	}
	fmt.Fprintln(errOut, "trial:", err)
	if errors.As(err, &wrongUse{}) {
		return exitUsage
	}
	return exitFailed
}

func parse(args []string, errOut io.Writer) (*options, error) {
	o := &options{}
	f := flag.NewFlagSet("trial", flag.ContinueOnError)
	f.SetOutput(errOut)
	f.IntVar(&o.bikes, "bikes", 50, "number of bikes")
	f.Uint64Var(&o.seed, "seed", 1, "same seed, same bikes, same outcome")
	f.StringVar(&o.linkage, "linkage", "", "only this kind of bank: "+strings.Join(trial.Linkages(), ", "))
	f.Func("with", "conditions that all bikes have, by name, with commas between: "+strings.Join(trial.Conditions(),
		"; "), func(s string) error {
		o.with = append(o.with, strings.Split(s, ",")...)
		return nil
	})
	f.StringVar(&o.hand, "hand", "clumsy", "the mechanic's: clumsy, normal, slipping, sloppy, stepwise")
	f.BoolVar(&o.noRival, "no-rival", false, "leave out the mechanic with damped gauges")
	f.IntVar(&o.trace, "trace", noTrace,
		"print each word that the bike of that number, from 0, was told; -1: that all were")
	f.BoolVar(&o.json, "json", false, "print JSON")
	f.BoolVar(&o.pilots, "pilot-screws", false, "trim pilot screws instead of levelling")
	f.BoolVar(&o.air, "air-screws", false, "with -pilot-screws: air screws, which give a leaner mixture outwards")
	f.Float64Var(&o.most, "most-turns", 0, "with -pilot-screws: turn at most this far at once; 0 is no limit")
	f.BoolVar(&o.lumpy, "lumpy", false, "with -pilot-screws: lumpy engines")
	f.BoolVar(&o.silent, "silent", false, "with -pilot-screws: the hand confirms a turn only when asked")
	f.BoolVar(&o.mute, "mute", false, "with -pilot-screws: the hand never confirms a turn")
	f.BoolVar(&o.careless, "careless", false, "with -pilot-screws: one turn of twenty is half made")
	f.StringVar(&o.plot, "plot", "", "write an SVG of the spread against time to this file")
	err := f.Parse(args)
	if err == nil && f.NArg() > 0 {
		err = fmt.Errorf("%q: there is nothing to name but flags", f.Arg(0))
	}
	return o, err
}

// check refuses flags that don't go together.
func (o *options) check() error {
	switch {
	case o.bikes < 1:
		return fmt.Errorf("-bikes %d: at least one", o.bikes)
	case o.pilots && (o.plot != "" || o.linkage != ""):
		return errors.New("-pilot-screws doesn't go with -plot or -linkage")
	case !o.pilots && (o.air || o.most != 0 || o.lumpy || o.silent || o.mute || o.careless):
		return errors.New("-air-screws, -most-turns, -lumpy, -silent, -mute and -careless go with -pilot-screws")
	case o.most < 0:
		return fmt.Errorf("-most-turns %g: 0 or more", o.most)
	}
	return nil
}

// level has random bikes levelled.
func (o *options) level(ctx context.Context, out, errOut io.Writer) error {
	cfg := trial.Config{Bikes: o.bikes, Seed: o.seed, Linkage: o.linkage, With: o.with, Hand: o.hand,
		NoRival: o.noRival, Progress: progress(errOut)}
	if o.trace > noTrace {
		cfg.TraceBike, cfg.Trace = o.trace, func(line string) { fmt.Fprintln(errOut, line) }
	}
	pairs, err := trial.Run(ctx, cfg)
	if pairs == nil && err != nil {
		return wrongUse{err}
	}
	if err != nil {
		return err
	}
	if o.plot != "" {
		if err := writePlot(o.plot, pairs); err != nil {
			return err
		}
	}
	report := trial.Count(pairs, o.with...)
	if o.json {
		return json.NewEncoder(out).Encode(report)
	}
	printReport(out, &report)
	return nil
}

// progress tells how far a trial has come, where that is seen.
func progress(w io.Writer) func(done, of int) {
	if f, ok := w.(*os.File); !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return func(done, of int) {
		fmt.Fprintf(w, "\r%d of %d", done, of)
		if done == of {
			fmt.Fprintln(w)
		}
	}
}

func writePlot(name string, pairs []trial.Pair) error {
	return store.New().Write(name, func(w io.Writer) error { return trial.Plot(w, pairs) })
}

func printReport(out io.Writer, r *trial.Report) {
	fmt.Fprintf(out, "%-18s %6s %10s %7s %7s %10s %8s %6s %6s %8s %8s\n", "", "bikes", "to 0.7 kPa", "to 0.5",
		"to 0.35", "false done", "not done", "turns", "moves", "idling", "90 %")
	row := func(name string, t trial.Tally) {
		fmt.Fprintf(out, "%-18s %6d %9.1f%% %6.1f%% %6.1f%% %10d %8d %6.1f %6.1f %6.0f s %6.0f s\n", name, t.Bikes,
			100*t.Levelled, 100*t.Aimed, 100*t.Fine, t.FalseDone, t.NotDone, t.Turns, t.Moves, t.Idle, t.Idle90)
	}
	row("with the advice", r.Tally)
	if r.Rival.Bikes > 0 {
		row("damped gauges", r.Rival)
	}
	for _, name := range trial.Linkages() {
		if t, ok := r.ByLinkage[name]; ok {
			row("  "+name, t)
		}
	}
	printTold(out, &r.Told)
}

// printTold prints what was told on the way.
func printTold(out io.Writer, t *trial.ToldReport) {
	share := func(n, of int) string {
		return fmt.Sprintf("%d of %d (%.0f %%)", n, of, 100*float64(n)/float64(max(of, 1)))
	}
	fmt.Fprintf(out, "\n%-36s %18s %18s %18s %18s", "screws of a turn's effect, kPa", "below 5", "5 to 9", "9 to 14",
		"14 and more")
	fmt.Fprintf(out, "\n%-36s", "stop, and then the other way")
	for i := range t.Stops {
		fmt.Fprintf(out, " %18s", share(t.TurnedBack[i], t.Stops[i]))
	}
	fmt.Fprintf(out, "\n%-36s", "stop, as it led away")
	for _, n := range t.LedAway {
		fmt.Fprintf(out, " %18d", n)
	}
	fmt.Fprintf(out, "\n%-36s", "an amount, and then the other way")
	for i := range t.Amounts {
		fmt.Fprintf(out, " %18s", share(t.Overshot[i], t.Amounts[i]))
	}
	fmt.Fprintf(out, "\namounts of 3/16 and more that are half as much again as was needed %s",
		share(t.Large, t.Weighed))
	fmt.Fprintf(out, "\ndirections taken back without a stop %d, bikes with words after done %d, loose nuts then %d\n",
		t.TakenBack, t.AfterDone, t.Loose)
	fmt.Fprintf(out, "misfires told %d; large words below 1.2 s %s, and %d that gave way to stop or other way\n",
		t.Misfires, share(t.Short, t.Words), t.Cut)
	fmt.Fprint(out, "seconds a bike:")
	longest := func(a, b string) int { return cmp.Compare(t.Seconds[b], t.Seconds[a]) }
	for _, name := range slices.SortedFunc(maps.Keys(t.Seconds), longest) {
		if t.Seconds[name] >= 0.05 {
			fmt.Fprintf(out, " %s %.1f;", name, t.Seconds[name])
		}
	}
	fmt.Fprintln(out)
}

// trimPilots has the pilot screws of random fours trimmed.
func (o *options) trimPilots(ctx context.Context, out, errOut io.Writer) error {
	cfg := trial.PilotConfig{Bikes: o.bikes, Seed: o.seed, Air: o.air, Most: o.most, Lumpy: o.lumpy,
		Silent: o.silent, Mute: o.mute, Careless: o.careless, Progress: progress(errOut)}
	all, err := trial.RunPilots(ctx, cfg)
	if err != nil {
		return err
	}
	r := trial.CountPilots(all)
	if o.json {
		return json.NewEncoder(out).Encode(r)
	}
	fmt.Fprintf(out, `%d random fours, pilot screws up to half a turn off at the start
  all four within an eighth of a turn of the best   %5.1f %% of the bikes
  a screw within an eighth of a turn                %5.1f %% of the screws; 95 %% within %.3f turns
  stated 95 %% intervals that hold the best          %5.1f %%
  screws that end with an answer                    %5.1f %%
  not finished                                      %d
  moves of a pilot screw, of the throttle stop      %.0f, %.0f (median); %.1f turns of pilot screws
  idling                                            %.0f s (median), 95 %% within %.0f s
  turns beyond 3/4 from the start, without a reason %d, %d
`, r.Bikes, 100*r.Found, 100*r.FoundScrews, r.Off95, 100*r.Held, 100*r.Answers, r.Unfinished, r.Moves, r.StopMoves, r.Turns,
		r.Idle, r.Idle95, r.Far, r.Unexplained)
	return nil
}
