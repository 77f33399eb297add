package cli

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/board"
	"evendraw/internal/commission"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/settings"
)

func newBoardCommand(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "board",
		Short: "Set up, check and show boards and their sensors",
	}
	cmd.AddCommand(newBoardSetupCommand(p), newBoardInstallCommand(p), newBoardCheckCommand(p), newBoardShowCommand(p),
		newBoardKindCommand(), newBoardListCommand(p))
	return cmd
}

func newBoardListCommand(p *program) *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the serial ports on which a board may be, and the boards that have a card",
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			ports, err := board.List()
			if err == nil && len(ports) == 0 {
				err = &board.Error{Kind: board.NoBoard}
			}
			for _, p := range ports {
				fmt.Fprintf(cmd.OutOrStdout(), "%-16s %s %s\n", p.Path, plain.Text(p.Maker), plain.Text(p.Product))
			}
			cards, damaged := set.Garage.ListBoards()
			reportAll(cmd, damaged)
			if len(cards) > 0 {
				fmt.Fprintf(cmd.OutOrStdout(), "boards with a card, for evendraw board show: %s\n",
					strings.Join(settings.BoardSerials(cards), ", "))
			}
			return err
		}),
	}
}

func newBoardShowCommand(p *program) *cobra.Command {
	return &cobra.Command{
		Use:   "show [SERIAL]",
		Short: "Show the card of a board: sensors, hoses, passes, and what errors are left",
		Args:  cobra.MaximumNArgs(1),
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			serial, path, err := boardMeant(set.Garage, argument(args, 0))
			if err != nil {
				return err
			}
			card, err := set.Garage.LoadBoard(serial)
			if err != nil {
				return err
			}
			commission.ShowBoard(cmd.OutOrStdout(), &card, path)
			return nil
		}),
	}
}

// boardMeant returns the serial number of a board that has a card, and the card's file: the one that is named, else
// the only one.
func boardMeant(g *garage.Garage, named string) (serial, path string, err error) {
	cards, _ := g.ListBoards()
	known := settings.BoardSerials(cards)
	if serial = named; named == "" && len(cards) == 1 {
		serial = cards[0].Serial
	}
	if serial != "" {
		if path, err = g.BoardPath(serial); err != nil {
			return "", "", hint.Usage(err)
		}
		if _, err := os.Stat(path); err == nil {
			return serial, path, nil
		}
	}
	switch {
	case serial != "":
		return "", "", settings.NoBoardNamed(g, serial)
	case len(known) > 0:
		return "", "", hint.Usage(hint.With(fmt.Errorf("say which of the %d boards", len(known)),
			settings.BoardsKnown(known)))
	}
	return "", "", hint.With(fmt.Errorf("there is no card of a board yet"), settings.BoardsKnown(nil))
}
