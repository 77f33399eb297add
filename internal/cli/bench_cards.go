package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// benchCards returns the bike's bench cards, the oldest first; what is damaged is told.
func benchCards(cmd *cobra.Command, set *settings.Settings) []garage.StoredBench {
	cards, damaged := set.Garage.ListBench(set.Bike.Name)
	reportAll(cmd, damaged)
	return cards
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
	return desk.OfNumber(cards, args[at], (*garage.StoredBench).Filed, "bench card", "evendraw bench list")
}

func newBenchListCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the bench cards of a bike",
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			return tell.BenchCards(cmd.OutOrStdout(), benchCards(cmd, set), asJSON)
		}),
	}
	jsonFlag(cmd, &asJSON, "a list of cards: moment, pilot_screws, carburettors, note")
	return cmd
}

func newBenchShowCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [NUMBER]",
		Short: "Show a bench card, the last one without a number",
		Args:  cobra.MaximumNArgs(1),
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			s, err := cardNumbered(benchCards(cmd, set), args, 0)
			if err != nil {
				return err
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
		Short: "Say what differs between two bench cards, the last two without numbers",
		Example: `  evendraw bench compare
  evendraw bench compare 1 3`,
		Args: cobra.MaximumNArgs(2),
		RunE: p.with(settings.TheBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			cards := benchCards(cmd, set)
			if len(cards) < 2 {
				return hint.With(fmt.Errorf("two bench cards are needed, there are %d", len(cards)),
					"evendraw bench writes one")
			}
			if len(args) == 0 {
				args = []string{cards[len(cards)-2].Number.String()}
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
