package cli

import (
	"cmp"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

func newBikeCommand(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "bike",
		Short: "Make, list, show and edit bike cards",
		Example: `  evendraw bike new "old four" --cylinders 4 --firing-order 1-2-4-3
  evendraw bike list
  evendraw bike show "old four"
  evendraw bike edit "old four"`,
		Long: `Make, list, show and edit bike cards. All that is kept of a bike lies in a folder of
its own, which evendraw paths --bike NAME shows: to take a bike away, move that
folder somewhere else.`,
	}
	cmd.AddCommand(newBikeNewCommand(p), newBikeListCommand(p), newBikeShowCommand(p), newBikeEditCommand(p))
	return cmd
}

func newBikeEditCommand(p *program) *cobra.Command {
	return &cobra.Command{
		Use:   "edit [NAME]",
		Short: "Open a bike's card in an editor, and check it",
		Long: `Open a bike's card, the last bike's without a name, in the editor that VISUAL or EDITOR
names. What comes out is checked before it takes the card's place.`,
		Args: cobra.MaximumNArgs(1),
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			return desk.EditCard(cmd.Context(), set.Garage, cmp.Or(argument(args, 0), p.choice.Bike), streams(cmd))
		}),
	}
}

func newBikeListCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the bike cards",
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			bikes, damaged := set.Garage.ListBikes()
			reportAll(cmd, damaged)
			last, _ := set.Garage.LastBike()
			unread := garage.LeftOut(damaged)
			if len(bikes) == 0 && unread != nil && !asJSON {
				return unread
			}
			return cmp.Or(tell.Bikes(cmd.OutOrStdout(), bikes, last, asJSON), unread)
		}),
	}
	jsonFlag(cmd, &asJSON, "a list of name, cylinders")
	return cmd
}

func newBikeShowCommand(p *program) *cobra.Command {
	return &cobra.Command{
		Use:    "show [NAME]",
		Short:  "Show a bike's card and its levelling records",
		Args:   cobra.MaximumNArgs(1),
		PreRun: func(_ *cobra.Command, args []string) { p.choice.Bike = cmp.Or(argument(args, 0), p.choice.Bike) },
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			path, err := set.Garage.BikePaths(set.Bike.Name)
			if err != nil {
				return err
			}
			tell.BikeCard(cmd.OutOrStdout(), set.Bike, path.Card)
			records, damaged := set.Garage.ListSyncs(set.Bike.Name)
			reportAll(cmd, damaged)
			from := max(len(records)-historyShown, 0)
			if from > 0 {
				fmt.Fprintf(cmd.OutOrStdout(), "  %d records, the newest:\n", len(records))
			}
			_, err = io.WriteString(cmd.OutOrStdout(), tell.HistoryLines(records, from, set.Unit()))
			return err
		}),
	}
}
