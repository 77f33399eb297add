package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/trial"
)

type trialOptions struct {
	bikes   int
	seed    uint64
	linkage string
	with    []string
	json    bool
	plot    string
	pilots  bool
	air     bool
	most    float64
}

func newTrialCommand() *cobra.Command {
	o := &trialOptions{}
	cmd := &cobra.Command{
		Use:   "trial",
		Short: "Let a clumsy virtual mechanic level random practice bikes by the advice",
		Long: `Draw random practice bikes and let a clumsy virtual mechanic level each twice: by
the advice alone, and by watching a damped gauge per cylinder. A glance a second,
reaction 1 to 2 s, amounts and a slow hand's pace 25 % off either way, 3 % of first
turns the wrong way, play in the screws, lock nuts that take 2 s each and shift
what they hold. Screws' directions and effects are unknown at first; sensors are
as after a zero and a match pass.

A turn is a screw taken in hand: while the hand stays on it, going on, slower or
back, it is one. Moves count each start of the hand from rest. Idling is the time
the engine runs, from its start to "done", blip and lock nuts included.

Conditions that --with gives to all bikes:
  ` + strings.Join(trial.Conditions(), "\n  ") + `

With --pilot-screws the mechanic trims the pilot screws of random fours instead,
up to half a turn off at the start: a glance a second, 1 to 2 s to begin, each
setting off by up to a thirty-second of a turn.`,
		Example: `  evendraw trial --bikes 100 --seed 1
  evendraw trial --pilot-screws --bikes 200
  evendraw trial --bikes 50 --with card
  evendraw trial --bikes 500 --linkage "paired four" --json --plot spread.svg`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runTrial(cmd.Context(), o, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	f := cmd.Flags()
	f.IntVar(&o.bikes, "bikes", 50, "number of bikes")
	f.Uint64Var(&o.seed, "seed", 1, "same seed, same bikes, same outcome")
	f.StringVar(&o.linkage, "linkage", "", "only this kind of bank: "+strings.Join(trial.Linkages(), ", "))
	f.StringSliceVar(&o.with, "with", nil, "conditions that all bikes have, by name, with commas between")
	f.BoolVar(&o.json, "json", false, "print JSON")
	f.BoolVar(&o.pilots, "pilot-screws", false, "trim pilot screws instead of levelling")
	f.BoolVar(&o.air, "air-screws", false, "with --pilot-screws: air screws, which give a leaner mixture outwards")
	f.Float64Var(&o.most, "most-turns", 0, "with --pilot-screws: turn at most this far at once; 0 is no limit")
	f.StringVar(&o.plot, "plot", "", "write an SVG of the spread against time to this file")
	return cmd
}

func runTrial(ctx context.Context, o *trialOptions, out, errOut io.Writer) error {
	if o.bikes < 1 {
		return usagef("--bikes %d: at least one", o.bikes)
	}
	switch {
	case o.pilots && (o.plot != "" || o.linkage != ""):
		return usagef("--pilot-screws doesn't go with --plot or --linkage")
	case !o.pilots && (o.air || o.most != 0):
		return usagef("--air-screws and --most-turns go with --pilot-screws")
	case o.most < 0:
		return usagef("--most-turns %g: 0 or more", o.most)
	case o.pilots:
		return runPilotTrial(ctx, o, out, errOut)
	}
	cfg := trial.Config{Bikes: o.bikes, Seed: o.seed, Linkage: o.linkage, With: o.with}
	if isTerminal(errOut) {
		cfg.Progress = func(done, of int) { progressBar(errOut, done, of) }
	}
	pairs, err := trial.Run(ctx, cfg)
	if pairs == nil && err != nil {
		return &usageError{err}
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

// progressBar draws how far a trial has come.
func progressBar(w io.Writer, done, of int) {
	const width = 40
	filled := width * done / of
	fmt.Fprintf(w, "\r[%s%s] %d of %d", strings.Repeat("#", filled), strings.Repeat(".", width-filled), done, of)
	if done == of {
		fmt.Fprintln(w)
	}
}

func writePlot(name string, pairs []trial.Pair) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	err = trial.Plot(f, pairs)
	if e := f.Close(); err == nil {
		err = e
	}
	return err
}

func printReport(out io.Writer, r *trial.Report) {
	fmt.Fprintf(out, "%-18s %6s %10s %10s %11s %6s %6s %8s\n", "", "bikes", "to 0.7 kPa", "to 0.35", "false done", "turns", "moves", "idling")
	row := func(name string, t trial.Tally) {
		fmt.Fprintf(out, "%-18s %6d %9.1f%% %9.1f%% %11d %6.1f %6.1f %6.0f s\n", name, t.Bikes, 100*t.Levelled, 100*t.Fine, t.FalseDone, t.Turns, t.Moves, t.Idle)
	}
	row("with the advice", r.Tally)
	row("damped gauges", r.Rival)
	for _, name := range trial.Linkages() {
		if t, ok := r.ByLinkage[name]; ok {
			row("  "+name, t)
		}
	}
}
