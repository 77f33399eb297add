package cli

import (
	"github.com/spf13/cobra"

	"evendraw/internal/tell"
)

func newSchemaCommand(*program) *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "Print the JSON Schema of what --json prints",
		Long: `Print the JSON Schema (draft 2020-12) of readings, of an analysis' summary, of records, and
of the words of advice: every key with its type, its unit and what it means.`,
		Example: `  evendraw schema > evendraw.schema.json`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := cmd.OutOrStdout().Write(tell.Schema)
			return err
		},
	}
}
