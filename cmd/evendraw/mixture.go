package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/view"
)

type mixtureOptions struct {
	port      portOptions
	practice  string
	auto      bool
	fast      bool
	json      bool
	limit     time.Duration
	turnsOut  string
	screws    string
	step      float64
	reach     float64
	most      float64
	handS     float64
	watchS    float64
	delayS    float64
	confirm   bool
	only      []int
	target    float64
	lambda    bool
	lambdaOf  int
	raisedRPM float64
}

const mixtureHelp = `Trim the pilot screws for the highest steady idle, one carburettor at a time, on a
warm engine and a level bank. Each turn is told and has its seconds; then, hands off,
the speed is watched; the best setting is the peak of a parabola through what was seen,
told in turns out, to an eighth, with how sure it is. Between cylinders the throttle
stop brings the idle back. Enter says that a turn is made before its seconds are over; q
and Enter leaves. Afterwards look at the levelling again: the trim moves it.

A small turn near the best moves the speed less than an idle wanders: that is why the
settings looked at lie five and six eighths apart from the best guess, not one. With
--most-turns 0.125 each move is an eighth; it takes longer.

Starting turns out come from --turns-out, else from the bike's last bench sheet.
With a lambda probe (the board card's [lambda]) and the owner's target, from the card or
--lambda-target, that is aimed at instead. There is no default: the maker's figure and the
law come first.

Outdoors only: exhaust holds carbon monoxide, and a rich mixture gives off per cents of
it. NIOSH: 200 ppm is the ceiling at work, 1200 ppm dangerous to life at once. Fan on the
engine, pauses; hot and moving parts; ear protection.

With --json each line has time_s, rpm, step (idle, base, turn, watch, set, all-set),
cylinder, advice (kind, part, cylinder, direction, turns, why), richer, left_s, lambda,
afr, pilots (cylinder, found, start_turns_out, turns_out, moved_turns, best_moved_turns,
uncertainty_turns, gain_rpm, lambda, settings, seconds), points, apart_turns, idling_s,
stop_effect_rpm_per_turn; the last line is {"summary": …} with the same keys.`

func newMixtureCommand(r *rig) *cobra.Command {
	o := &mixtureOptions{}
	cmd := &cobra.Command{
		Use:   "mixture",
		Short: "Trim the pilot screws; look at a raised speed; lambda from gas readings",
		Long:  mixtureHelp,
		Example: `  evendraw mixture --practice
  evendraw mixture --practice --auto --fast
  evendraw mixture --bike "old four" --turns-out "2 1/4, 2, 2 1/4, 2"
  evendraw mixture raised --bike "old four"
  evendraw mixture gas --co 0.5 --co2 14.2 --hc 120 --o2 0.6`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := checkFor(cmd, o.limit); err != nil {
				return err
			}
			o.lambda = cmd.Flags().Changed("lambda-of")
			return runTrim(cmd.Context(), r, o, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.addFlags(r, cmd)
	f := cmd.Flags()
	f.StringVar(&o.turnsOut, "turns-out", "", `where the screws stand, in turns out from lightly seated: "2 1/4, 2, 2 1/4, 2"`)
	f.StringVar(&o.screws, "pilot-screws", "", "fuel (out is richer) or air (out is leaner); default: the card's")
	f.Float64Var(&o.step, "step", mixture.DefaultStep, "what turns are counted in")
	f.Float64Var(&o.reach, "reach", mixture.DefaultReach, "how far from the best guess the speed is looked at, in turns")
	f.Float64Var(&o.most, "most-turns", 0, "turn at most this far at once; 0 is no limit")
	f.Float64Var(&o.handS, "hand-s", mixture.DefaultHandS, "seconds to begin a turn; two more are allowed for each full turn")
	f.Float64Var(&o.watchS, "watch-s", mixture.DefaultWatchS, "seconds that each setting is watched")
	f.BoolVar(&o.confirm, "confirm", false, "wait for Enter after each turn instead")
	f.IntSliceVar(&o.only, "cylinder", nil, "trim these cylinders alone")
	f.Float64Var(&o.target, "lambda-target", 0, "lambda to aim at (default: the card's, if it has one)")
	f.IntVar(&o.lambdaOf, "lambda-of", 0, "cylinder whose exhaust the probe is in; 0 is that of all")
	f.Float64Var(&o.delayS, "probe-delay-s", mixture.DefaultProbeDelayS, "seconds that exhaust and probe take to tell of a change")
	cmd.AddCommand(newRaisedCommand(r), newGasCommand())
	return cmd
}

// addFlags adds what the trim and the raised speed have in common.
func (o *mixtureOptions) addFlags(r *rig, cmd *cobra.Command) {
	f := cmd.Flags()
	o.port.addFlags(&r.world, f)
	addPracticeFlag(f, &o.practice)
	f.BoolVar(&o.auto, "auto", false, "with --practice: a virtual mechanic does the turning")
	f.BoolVar(&o.fast, "fast", false, "with --auto: as fast as the machine goes")
	f.BoolVar(&o.json, "json", false, "print JSON lines, at most 20 a second")
	f.DurationVar(&o.limit, "for", 0, "stop after that much of the source's own time")
}

func (o *mixtureOptions) check() error {
	switch {
	case o.auto && o.practice == "":
		return usagef("--auto turns the screws of the practice engine: it goes with --practice")
	case o.fast && !o.auto:
		return usagef("--fast goes with --auto")
	case o.practice != "" && o.port.port != "":
		return usagef("--practice takes the place of a board: it doesn't go with --port")
	case o.screws != "" && o.screws != garage.FuelScrews && o.screws != garage.AirScrews:
		return usagef("--pilot-screws %q is neither %q nor %q", o.screws, garage.FuelScrews, garage.AirScrews)
	}
	for _, f := range []struct {
		name      string
		v         float64
		low, high float64
	}{{"step", o.step, 1.0 / 32, 0.5}, {"reach", o.reach, 0.125, 1.5}, {"most-turns", o.most, 0, 10}, {"hand-s", o.handS, 0, 60},
		{"watch-s", o.watchS, 2, 120}, {"probe-delay-s", o.delayS, 0, 10}} {
		if !(f.v >= f.low && f.v <= f.high) {
			return usagef("--%s %g is not from %g to %g", f.name, f.v, f.low, f.high)
		}
	}
	if o.target != 0 && !(o.target >= 0.6 && o.target <= 1.4) {
		return usagef("--lambda-target %g is not from 0.6 to 1.4", o.target)
	}
	if o.most > 0 && o.most < o.step {
		return usagef("--most-turns %g is less than a step, %g", o.most, o.step)
	}
	return nil
}

// trimConfig returns the trim's settings, from flags, card and bench sheet.
func (o *mixtureOptions) trimConfig(r *rig, cylinders int) (mixture.TrimConfig, error) {
	c := mixture.TrimConfig{Screws: mixture.Screws(o.screws), Step: o.step, Reach: o.reach, MostTurns: o.most, HandS: o.handS,
		WatchS: o.watchS, Confirm: o.confirm, Target: o.target, ProbeDelayS: o.delayS}
	if r.bike != nil && o.practice == "" {
		if o.screws == "" {
			c.Screws = mixture.Screws(r.bike.PilotScrews)
		}
		if o.target == 0 {
			c.Target = r.bike.LambdaTarget
		}
		if sheet := r.lastSheet(); sheet != nil {
			for _, carb := range sheet.Carburettors {
				c.TurnsOut = append(c.TurnsOut, float64(carb.PilotTurnsOut))
			}
		}
	}
	if o.turnsOut != "" {
		c.TurnsOut = nil
		for _, part := range strings.Split(o.turnsOut, ",") {
			v, err := garage.ParseTurns(part)
			if err != nil {
				return c, usagef("--turns-out: %v", err)
			}
			c.TurnsOut = append(c.TurnsOut, v)
		}
		if len(c.TurnsOut) != cylinders {
			return c, usagef("--turns-out names %d screws of %d; commas stand between screws", len(c.TurnsOut), cylinders)
		}
	}
	for _, cyl := range o.only {
		if cyl < 1 || cyl > cylinders {
			return c, usagef("--cylinder %d: there are %d", cyl, cylinders)
		}
	}
	if len(o.only) > 0 {
		c.Only = o.only
	}
	return c, nil
}

func runTrim(ctx context.Context, r *rig, o *mixtureOptions, in io.Reader, out, errOut io.Writer) error {
	t, err := newTuner(r, o, in, out, errOut)
	if err != nil {
		return err
	}
	return t.run(ctx, trimming{t})
}

// trimming is the trim as a tuner runs it.
type trimming struct{ *tuner }

func (t trimming) begin() error {
	var begun error
	t.sess.Chain(func(c chain) {
		var cfg mixture.TrimConfig
		if cfg, begun = t.opt.trimConfig(t.rig, c.Bank().Cylinders); begun == nil {
			if t.opt.practice != "" && t.opt.turnsOut == "" {
				cfg.TurnsOut, cfg.Screws = t.practice.counted(), mixture.FuelScrews
				if t.opt.screws == garage.AirScrews {
					cfg.Screws = mixture.AirScrews
				}
			}
			begun = c.StartTrim(cfg)
		}
	})
	return begun
}

func (t trimming) json(now float64) []byte {
	tune := t.sess.Snapshot().Tune
	if tune.Trim == nil {
		return nil
	}
	return view.TrimJSON(&tune, now)
}

func (t trimming) words() (w view.Words, ok bool) {
	tune := t.sess.Snapshot().Tune
	if tune.Trim == nil {
		return w, false
	}
	w = view.TrimWords(tune.Trim, &tune.Idle)
	if tune.Lambda != nil {
		w.Say = append(w.Say, view.ProbeLine(tune.Lambda, t.opt.target))
	}
	return w, true
}

func (t trimming) done() bool {
	s := t.sess.Snapshot().Tune.Trim
	return s != nil && s.Step == mixture.StepAllSet
}

// close tells and keeps the outcome.
func (t trimming) close() error {
	snap := t.sess.Snapshot()
	s := snap.Tune.Trim
	if s == nil {
		return nil
	}
	if !t.opt.json {
		for _, line := range append(view.PilotLines(s), view.PilotWarnings(s)...) {
			fmt.Fprintln(t.out, line)
		}
		if t.done() {
			fmt.Fprintln(t.out, "Look at the levelling again (evendraw live): the trim moves it.")
		}
	}
	if t.practice != nil {
		fmt.Fprintln(t.err, t.practice.truth(s))
		return nil
	}
	if !t.done() {
		fmt.Fprintln(t.err, "left before the end: nothing is saved")
		return nil
	}
	screws := t.opt.screws
	if screws == "" && t.rig.bike != nil {
		screws = t.rig.bike.PilotScrews
	}
	path, err := saveSheet(t.rig, snap, screws)
	if err != nil {
		return err
	}
	if path != "" {
		fmt.Fprintln(t.err, "saved "+path)
	}
	k := &keeper{rig: t.rig, unit: t.rig.unit().Name, note: "after trimming the pilot screws"}
	if path, err = k.save(snap); path != "" {
		fmt.Fprintln(t.err, "saved "+path)
	}
	return err
}

// nearestEighth rounds turns to whole eighths.
func nearestEighth(turns float64) float64 { return math.Round(8*turns) / 8 }
