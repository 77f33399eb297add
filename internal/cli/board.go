package cli

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"evendraw/internal/board"
	"evendraw/internal/job"
	"evendraw/internal/plain"
)

func newBoardCommand(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "board",
		Short: "Set up, check and show boards and their sensors",
		Args:  usageArgs(cobra.NoArgs),
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newBoardSetupCommand(p), newBoardInstallCommand(p), newBoardCheckCommand(p), newBoardShowCommand(p),
		newBoardKindCommand(), newBoardListCommand())
	return cmd
}

func newBoardListCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the serial ports on which a board may be",
		Args:  usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			ports, err := board.List()
			if err != nil {
				return err
			}
			if len(ports) == 0 {
				return &board.Error{Kind: board.NoBoard}
			}
			for _, p := range ports {
				fmt.Fprintf(cmd.OutOrStdout(), "%-16s %s %s\n", p.Path, plain.Text(p.Maker), plain.Text(p.Product))
			}
			return nil
		},
	}
}

func newBoardShowCommand(p *program) *cobra.Command {
	return &cobra.Command{
		Use:   "show SERIAL",
		Short: "Show the card of a board: sensors, hoses, passes, and what errors are left",
		Args:  usageArgs(cobra.ExactArgs(1)),
		RunE: p.with(job.NoBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			path, err := set.Garage.BoardPath(args[0])
			if err != nil {
				return &job.UsageError{Err: err}
			}
			if _, err := os.Stat(path); err != nil {
				return &job.UsageError{Err: &job.Hinted{Err: fmt.Errorf("there is no card of a board %q yet", args[0]),
					Hint: "a zero pass makes it: evendraw zero; or evendraw board setup"}}
			}
			card, err := set.Garage.LoadBoard(args[0])
			if err != nil {
				return err
			}
			job.ShowBoard(cmd.OutOrStdout(), &card, path)
			return nil
		}),
	}
}
