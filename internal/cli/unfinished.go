package cli

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

func newUnfinishedCommand(p *program) *cobra.Command {
	var keep, discard string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "unfinished",
		Short: "List the records of runs that were cut off; keep or discard one",
		Long: `The screen of live goes on with the last one of the bike, if that is not long ago;
live --headless and --json begin anew, and leave it here.`,
		Example: `  evendraw history unfinished
  evendraw history unfinished --keep 1`,
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			if p.choice.Bike != "" {
				if _, err := set.Garage.LoadBike(p.choice.Bike); err != nil {
					return settings.NoBikeNamed(set.Garage, p.choice.Bike)
				}
			}
			left, damaged := set.Garage.ListUnfinished()
			reportAll(cmd, damaged)
			f, out := cmd.Flags(), cmd.OutOrStdout()
			switch {
			case f.Changed("keep") && f.Changed("discard"):
				return hint.Usagef("--keep and --discard don't go together")
			case f.Changed("keep"):
				return endLeft(set.Garage, left, keep, out, true)
			case f.Changed("discard"):
				return endLeft(set.Garage, left, discard, out, false)
			}
			return tell.Unfinished(out, left, asJSON)
		}),
	}
	cmd.Flags().StringVar(&keep, "keep", "", "number of one to keep as a record")
	cmd.Flags().StringVar(&discard, "discard", "", "number of one to take away for good")
	jsonFlag(cmd, &asJSON, "a list of path and record, as evendraw schema has it")
	return cmd
}

// endLeft keeps or discards one.
func endLeft(g *garage.Garage, left []garage.StoredSync, number string, out io.Writer, keep bool) error {
	if len(left) == 0 {
		return hint.Usagef("nothing is unfinished")
	}
	one, err := desk.OfNumber(left, number, "unfinished one", "evendraw history unfinished")
	if err != nil {
		return err
	}
	u, err := g.Resume(one.Path)
	if err != nil {
		return err
	}
	if !keep {
		if err := u.Discard(); err != nil {
			return err
		}
		fmt.Fprintln(out, "discarded "+one.Path)
		return nil
	}
	path, err := u.Keep()
	if path != "" {
		fmt.Fprintln(out, "saved "+path)
	}
	return err
}
