package cli

import (
	"cmp"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/job"
	"evendraw/internal/mixture"
	"evendraw/internal/tell"
)

const mixtureHelp = `Trim the pilot screws for the highest steady idle, one carburettor at a time, on a
warm engine and a level bank. Each turn is told and has its seconds; then, hands off,
the speed is watched; the best setting is where what was seen points to its highest,
told in turns out, to a sixteenth, with how sure it is. Between cylinders the throttle
stop brings the idle back. Enter says that a turn is made before its seconds are over; q
and Enter leaves. Of a bank that is not level it says so first, and waits for Enter.
Afterwards look at the levelling again: the trim moves it.

A small turn near the best moves the speed less than an idle wanders: that is why the
settings looked at lie five and six eighths apart from the best guess, not one. With
--most-turns 0.125 each move is an eighth; it takes longer.

Starting turns out come from --turns-out, else from the bike's last bench card; a
practice engine's are counted in before.
With a lambda probe (the board card's [lambda]) and the owner's target, from the card or
--lambda-target, that is aimed at instead. There is no default: the maker's figure and the
law come first.

Outdoors only: exhaust holds carbon monoxide, and a rich mixture gives off per cents of
it. NIOSH: 200 ppm is the ceiling at work, 1200 ppm dangerous to life at once. Fan on the
engine, pauses; hot and moving parts; ear protection.

Another program may press the keys: a line on standard input from a pipe counts
as typed, an empty one as Enter.

With --json each line has time_s, rpm, step (idle, base, turn, watch, set, all-set),
cylinder, advice (kind, part, cylinder, direction, turns, why, question), richer, left_s,
goal_turns, lambda, afr, pilots (cylinder, found, start_turns_out, turns_out, moved_turns, open_turns:
told and not confirmed, best_moved_turns, uncertainty_turns, gain_rpm, lambda, settings,
seconds), points, apart_turns, idling_s, stop_effect_rpm_per_turn, heat; the last line is
{"summary": …} with the same keys. Where question is true, the advice is no order: it asks
whether the turn is made that it names.`

func newMixtureCommand(p *program) *cobra.Command {
	o := &job.TuneOptions{}
	screws := ""
	c := &o.Trim.Config
	cmd := &cobra.Command{
		Use:   "mixture",
		Short: "Trim the pilot screws; look at a raised speed; lambda from gas readings",
		Long:  mixtureHelp,
		Example: `  evendraw mixture --practice
  evendraw mixture --practice --auto --fast
  evendraw mixture --bike "old four" --turns-out "1 7/8, 2, 1 7/8, 2"
  evendraw mixture raised --bike "old four"
  evendraw mixture gas --co 0.5 --co2 14.2 --hc 120 --o2 0.6`,
		PreRunE: func(cmd *cobra.Command, _ []string) error {
			o.Bike.Air, c.Screws = screws == garage.AirScrews, mixture.Screws(screws)
			o.Bike.Lambda = cmd.Flags().Changed("lambda-of") || c.Target != 0
			return cmp.Or(checkTune(cmd, o), checkTrim(c, screws))
		},
		RunE: doing(p, o, &o.Practice, job.Trim),
	}
	tuneFlags(cmd, o)
	f := cmd.Flags()
	f.StringVar(&o.Trim.TurnsOut, "turns-out", "",
		`where the screws stand, in turns out from lightly seated: "1 7/8, 2, 1 7/8, 2"`)
	f.StringVar(&screws, "pilot-screws", "", "fuel (out is richer) or air (out is leaner); default: the card's")
	decimalVar(f, &c.Step, "step", mixture.DefaultStep, "what turns are counted in")
	decimalVar(f, &c.Reach, "reach", mixture.DefaultReach,
		"how far from the best guess the speed is looked at, in turns")
	decimalVar(f, &c.MostTurns, "most-turns", 0, "turn at most this far at once; 0 is no limit")
	decimalVar(f, &c.WatchS, "watch-s", mixture.DefaultWatchS, "seconds that each setting is watched")
	f.BoolVar(&c.Confirm, "confirm", false, "wait for Enter after each turn without asking whether it is made")
	f.IntSliceVar(&c.Only, "cylinder", nil, "trim these cylinders alone")
	decimalVar(f, &c.Target, "lambda-target", 0, "lambda to aim at (default: the card's, if it has one)")
	f.IntVar(&o.Bike.LambdaOf, "lambda-of", 0, "cylinder whose exhaust the probe is in; 0 is that of all")
	decimalVar(f, &c.ProbeDelayS, "probe-delay-s", mixture.DefaultProbeDelayS,
		"seconds that exhaust and probe take to tell of a change")
	cmd.AddCommand(newRaisedCommand(p), newGasCommand())
	return cmd
}

// tuneFlags adds what the trim and the raised speed have in common.
func tuneFlags(cmd *cobra.Command, o *job.TuneOptions) {
	f := cmd.Flags()
	portFlags(f, &o.Port)
	practiceFlag(f, &o.Practice)
	f.BoolVar(&o.Auto, "auto", false, "with --practice: a virtual mechanic does the turning")
	f.BoolVar(&o.Fast, "fast", false, "with --auto: as fast as the machine goes")
	f.BoolVar(&o.JSON, "json", false, "print JSON lines, at most 20 a second")
	f.DurationVar(&o.Limit, "for", 0, "stop after that much of the source's own time")
}

// checkTune refuses flags of the trim and the raised speed that don't go together.
func checkTune(cmd *cobra.Command, o *job.TuneOptions) error {
	switch {
	case o.Auto && o.Practice == "":
		return hint.Usagef("--auto turns the screws of the practice engine: it goes with --practice")
	case o.Fast && !o.Auto:
		return hint.Usagef("--fast goes with --auto")
	}
	return cmp.Or(checkPlace(o.Practice, o.Port), checkFor(cmd, o.Limit))
}

// checkTrim refuses settings of a trim that make no sense.
func checkTrim(c *mixture.TrimConfig, screws string) error {
	if screws != "" && screws != garage.FuelScrews && screws != garage.AirScrews {
		return hint.Usagef("--pilot-screws %q is neither %q nor %q", screws, garage.FuelScrews, garage.AirScrews)
	}
	err := cmp.Or(checkRange("step", c.Step, 1.0/32, 0.5, ""), checkRange("reach", c.Reach, 0.125, 1.5, ""),
		checkRange("most-turns", c.MostTurns, 0, 10, ""), checkRange("watch-s", c.WatchS, 2, 120, ""),
		checkRange("probe-delay-s", c.ProbeDelayS, 0, 10, ""))
	if err == nil && c.Target != 0 {
		err = checkRange("lambda-target", c.Target, 0.6, 1.4, "")
	}
	if err == nil && c.MostTurns > 0 && c.MostTurns < c.Step {
		err = hint.Usagef("--most-turns %g is less than a step, %g", c.MostTurns, c.Step)
	}
	return err
}

// newRaisedCommand returns the verb that looks at the bank at a raised speed.
func newRaisedCommand(p *program) *cobra.Command {
	o := &job.TuneOptions{}
	cmd := &cobra.Command{
		Use:   "raised",
		Short: "Look at the bank at a raised speed",
		Long: `Read the bank at idle for some seconds, then at a raised speed (the card's, else 3000
rpm) that the throttle holds for four, and say what an unlike result points to: as
common practice, the likeliest first.

` + strings.Join(tell.RaisedCautions, "\n") + `

With --json each line has time_s, rpm, target_rpm, held_s, limit_kpa and idle_limit_kpa
(the spread from which it is uneven there), advice, done, pattern, cylinder,
screw, causes, idle and raised (rpm, cycles, spread_kpa, cylinders: cylinder, draw_kpa,
off_mean_kpa, uncertainty_kpa), heat; the last line is {"summary": …} with the same keys.`,
		PreRunE: func(cmd *cobra.Command, _ []string) error {
			if o.RPM != 0 {
				return cmp.Or(checkRange("rpm", o.RPM, 1000, 6000, ""), checkTune(cmd, o))
			}
			return checkTune(cmd, o)
		},
		RunE: doing(p, o, &o.Practice, job.LookRaised),
	}
	tuneFlags(cmd, o)
	largeVar(cmd.Flags(), &o.RPM, "rpm", 0, "the raised speed (default: the card's, else 3000)")
	return cmd
}
