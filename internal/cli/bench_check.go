package cli

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
)

type benchCheckOptions struct {
	done, notNeeded, left, undo []string
	json                        bool
}

func newBenchCheckCommand(p *program) *cobra.Command {
	o := &benchCheckOptions{}
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Go through what is to be looked at before the first start",
		Long: `Go through what is to be looked at before a rebuilt bank is started. In a terminal
each one that is open is asked; otherwise, and with flags, the list is printed.
What was answered is kept with its time until the bank comes apart again.`,
		Example: `  evendraw bench check
  evendraw bench check --done vents,fuel-tees --not-needed tap-hose`,
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			return runBenchCheck(cmd.Context(), set, o, streams(cmd))
		}),
	}
	f := cmd.Flags()
	f.StringSliceVar(&o.done, "done", nil, "names of checks that were made")
	f.StringSliceVar(&o.notNeeded, "not-needed", nil, "names of checks of what this bike doesn't have")
	f.StringSliceVar(&o.left, "left-open", nil, "names of checks that are left open on purpose")
	f.StringSliceVar(&o.undo, "undo", nil, "names of checks to be made again")
	f.BoolVar(&o.json, "json", false, "print JSON: a list of id, part, text, answer, time")
	return cmd
}

func runBenchCheck(ctx context.Context, set *settings.Settings, o *benchCheckOptions, std settings.Streams) error {
	checks := garage.PreStartChecks(&set.Bike.Bank)
	ticks, err := set.Garage.LoadChecks(set.Bike.Name)
	if err != nil {
		hint.Report(std.Err, err)
	}
	before := slices.Clone(ticks)
	if ticks, err = o.answer(checks, ticks); err != nil {
		return err
	}
	flagged := len(o.done)+len(o.notNeeded)+len(o.left)+len(o.undo) > 0
	var asking error
	if !flagged && !o.json && typing.IsTerminal(std.Out) {
		ticks, asking = desk.AskChecks(ctx, checks, ticks, std.In, std.Out)
	}
	if !slices.Equal(before, ticks) {
		path, err := set.SaveChecks(ticks)
		if err != nil {
			return err
		}
		fmt.Fprintln(std.Err, "saved "+path)
	}
	if asking != nil {
		return asking
	}
	return tell.Checks(std.Out, checks, ticks, o.json)
}

// answer puts the flags' answers to the ticks.
func (o *benchCheckOptions) answer(checks []garage.Check, ticks []garage.Tick) ([]garage.Tick, error) {
	now := time.Now().UTC()
	var known []string
	for _, c := range checks {
		known = append(known, c.ID)
	}
	for _, set := range []struct {
		flag, answer string
		ids          []string
	}{{"--done", garage.TickDone, o.done}, {"--not-needed", garage.TickNotNeeded, o.notNeeded},
		{"--left-open", garage.TickLeft, o.left}, {"--undo", "", o.undo}} {
		for _, id := range set.ids {
			if !slices.Contains(known, id) {
				err := fmt.Errorf("%s %q: there is no such check%s", set.flag, id, plain.IsMeant(id, known))
				return nil, hint.Usage(hint.With(err,
					"evendraw bench check lists them with their names"))
			}
			ticks = garage.WithTick(ticks, garage.Tick{ID: id, Time: now, Answer: set.answer})
		}
	}
	return ticks, nil
}
