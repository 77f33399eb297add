package cli

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// newManualCommand makes the verb that writes the manual pages, for whoever packs the
// program.
func newManualCommand(p *program) *cobra.Command {
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
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return err
			}
			root := cmd.Root()
			root.DisableAutoGenTag = true
			head := &doc.GenManHeader{Section: "1", Source: "evendraw " + p.version, Manual: "evendraw"}
			if os.Getenv("SOURCE_DATE_EPOCH") == "" {
				never := time.Unix(0, 0).UTC()
				head.Date = &never
			}
			if err := doc.GenManTree(root, head, args[0]); err != nil {
				return fmt.Errorf("the manual pages were not written: %w", err)
			}
			return nil
		},
	}
}
