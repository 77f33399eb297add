package cli

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/job"
)

func newExportCommand(p *program) *cobra.Command {
	var out, format string
	var schema, overwrite bool
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Write all records as one table, for a spreadsheet or a database",
		Long: `Write the records of all bikes, or with --bike of one, as CSV with a row a cylinder,
or as JSON with a line a record. --schema prints what the columns are, as SQL. In CSV
a ' stands before a text that begins with = + - or @: spreadsheets would run it.

SQLite:  evendraw export --schema | sqlite3 all.db
         evendraw export --out all.csv
         sqlite3 all.db '.import --csv --skip 1 all.csv records_text' 'SELECT * FROM records'
DuckDB:  SELECT * FROM 'all.csv';    SELECT * FROM 'all.jsonl';`,
		Example: `  evendraw export --out all.csv
  evendraw export --format jsonl --out all.jsonl
  evendraw export --schema`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			write, ok := map[string]func(io.Writer, []garage.StoredSync) error{"csv": garage.WriteCSV,
				"jsonl": garage.WriteJSONLines}[format]
			if !ok {
				return job.Usagef("--format %q is neither csv nor jsonl", format)
			}
			if schema {
				_, err := io.WriteString(cmd.OutOrStdout(), garage.Schema())
				return err
			}
			need := job.NoBike
			if p.choice.Bike != "" {
				need = job.MayBike
			}
			set, err := p.settings(cmd, need)
			if err != nil {
				return err
			}
			records := set.AllRecords(cmd.ErrOrStderr())
			if out == "" {
				return write(cmd.OutOrStdout(), records)
			}
			if err := job.WriteFile(out, overwrite, func(w io.Writer) error { return write(w, records) }); err != nil {
				return err
			}
			fmt.Fprintf(cmd.ErrOrStderr(), "wrote %d records to %s\n", len(records), out)
			return nil
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "the file (default: standard output)")
	overwriteFlag(cmd.Flags(), &overwrite)
	cmd.Flags().StringVar(&format, "format", "csv", "csv or jsonl")
	cmd.Flags().BoolVar(&schema, "schema", false, "print the columns as SQL")
	return cmd
}
