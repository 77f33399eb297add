package cli

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// benchCards returns the bike's bench cards, the oldest first; what can't be read is told, and counted by the error.
func benchCards(cmd *cobra.Command, set *settings.Settings) ([]garage.StoredBench, error) {
	cards, damaged := set.Garage.ListBench(set.Bike.Name)
	reportAll(cmd, damaged)
	return cards, garage.LeftOut(damaged)
}

// cardNumbered returns a bench card by its number in the list; the last one without.
func cardNumbered(cards []garage.StoredBench, args []string, at int) (*garage.StoredBench, error) {
	if len(cards) == 0 {
		none := errors.New("there is no bench card of this bike")
		if at < len(args) { // one that is not there was named
			none = hint.Usage(none)
		}
		return nil, hint.With(none, "evendraw bench writes one")
	}
	if at >= len(args) {
		return &cards[len(cards)-1], nil
	}
	return desk.OfNumber(cards, args[at], "bench card", "evendraw bench list")
}

func newBenchListCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the bench cards of a bike",
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			cards, unread := benchCards(cmd, set)
			if len(cards) == 0 && unread != nil && !asJSON {
				return unread
			}
			return cmp.Or(tell.BenchCards(cmd.OutOrStdout(), cards, asJSON), unread)
		}),
	}
	jsonFlag(cmd, &asJSON, "a list of cards: format, program, time, moment, corrects, pilot_screws, "+
		"screws_found, stop_found, carburettors, to_order, note")
	return cmd
}

func newBenchShowCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [NUMBER]",
		Short: "Show a bench card, the last one without a number",
		Args:  cobra.MaximumNArgs(1),
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			cards, unread := benchCards(cmd, set)
			s, err := cardNumbered(cards, args, 0)
			if err != nil {
				return cmp.Or(unread, err)
			}
			return tell.Bench(cmd.OutOrStdout(), "", s, asJSON)
		}),
	}
	jsonFlag(cmd, &asJSON, "sheet (moment, pilot_screws, carburettors, note), differ_wildly")
	return cmd
}

func newBenchCompareCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "compare [NUMBER [NUMBER]]",
		Short: "Say what differs between two bench cards, without numbers the last two that none corrects",
		Example: `  evendraw bench compare
  evendraw bench compare 1 3`,
		Args: cobra.MaximumNArgs(2),
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			cards, unread := benchCards(cmd, set)
			if len(cards) < 2 && unread != nil {
				return unread
			}
			standing := slices.DeleteFunc(slices.Clone(cards), func(s garage.StoredBench) bool { return s.By.N != 0 })
			if n := len(standing); len(cards) < 2 || len(args) == 0 && n < 2 {
				return hint.With(fmt.Errorf("two bench cards are needed, there are %d that no other corrects", n),
					"evendraw bench writes one")
			} else if len(args) == 0 {
				args = []string{standing[n-2].Number.String(), standing[n-1].Number.String()}
			}
			a, err := cardNumbered(cards, args, 0)
			if err != nil {
				return err
			}
			b, err := cardNumbered(cards, args, 1)
			if err != nil {
				return err
			}
			return tell.BenchChanges(cmd.OutOrStdout(), a, b, asJSON)
		}),
	}
	jsonFlag(cmd, &asJSON, "a list of carburettor, field, from, to")
	return cmd
}
