package cli

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"evendraw/internal/manual"
)

// newManualCommand makes the verb that writes the manual pages, for whoever packs the
// program.
func newManualCommand(*program) *cobra.Command {
	return &cobra.Command{
		Use:   "manual FOLDER",
		Short: "Write the manual pages into a folder",
		Long: `Write the manual pages, one a verb, into a folder, which is made if need be. Their
date is that of SOURCE_DATE_EPOCH, without it the first day of 1970: the same
program writes the same pages.`,
		Example: "  evendraw manual man1",
		Hidden:  true,
		Args:    usageArgs(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			at, err := manual.Date(os.Getenv("SOURCE_DATE_EPOCH"))
			if err != nil {
				return err
			}
			if err := manual.Write(cmd.Root(), args[0], at); err != nil {
				return fmt.Errorf("the manual pages were not written: %w", err)
			}
			return nil
		},
	}
}
