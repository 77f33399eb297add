package cli

import (
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
)

// exportOptions are the flags of export.
type exportOptions struct {
	out         settings.Target
	format      string
	kPa, schema bool
}

func newExportCommand(p *program) *cobra.Command {
	o := &exportOptions{}
	cmd := &cobra.Command{
		Use:   "export [RECORD | CAPTURE]",
		Short: "Write records, or a capture, as a table for a spreadsheet or a database",
		Long: `Write the records of all bikes, with --bike of one, or one RECORD, as CSV with a row a
cylinder, or as JSON with a line a record. --schema prints what the columns are, as SQL.
In CSV a ' stands before a text that begins with = + - or @: spreadsheets would run it.

A CAPTURE is written as CSV with a row a frame: t_us, and each channel's raw counts c0…,
or with --kpa its absolute pressure kpa0…, by the settings in the capture's head. The
head stands above it in lines that begin with #. analyse reads such a table, too.

SQLite:  evendraw export --schema | sqlite3 all.db
         evendraw export --out all.csv
         sqlite3 all.db '.import --csv --skip 1 all.csv records_text' 'SELECT * FROM records'
DuckDB:  SELECT * FROM 'all.csv';    SELECT * FROM 'all.jsonl';`,
		Example: `  evendraw export --out all.csv
  evendraw export 7 --out seven.csv
  evendraw export morning.cap --kpa --out morning.csv
  evendraw export --format jsonl --out all.jsonl
  evendraw export --schema`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return p.runExport(cmd, o, argument(args, 0))
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.out.Name, "out", "", "the file, .csv or .jsonl as the format is (default: standard output)")
	overwriteFlag(f, &o.out.Overwrite)
	f.StringVar(&o.format, "format", "csv", "csv or jsonl; the ending of --out says it too")
	f.BoolVar(&o.kPa, "kpa", false, "of a capture: absolute pressures in place of raw counts")
	f.BoolVar(&o.schema, "schema", false, "print the columns as SQL")
	return cmd
}

func (p *program) runExport(cmd *cobra.Command, o *exportOptions, what string) error {
	if f := cmd.Flags(); !f.Changed("format") && strings.EqualFold(filepath.Ext(o.out.Name), ".jsonl") {
		o.format = "jsonl"
	}
	write, ok := map[string]func(io.Writer, []garage.StoredSync) error{"csv": garage.WriteCSV,
		"jsonl": garage.WriteJSONLines}[o.format]
	if !ok {
		return hint.Usagef("--format %q is neither csv nor jsonl", o.format)
	}
	if o.schema && (o.out.Name != "" || o.kPa || what != "") {
		return hint.Usagef("--schema prints what the columns are: it goes with nothing else")
	}
	o.out.Flag, o.out.Endings = "--out", []string{"." + o.format}
	if err := o.out.Check(); err != nil {
		return err
	}
	if o.schema {
		_, err := io.WriteString(cmd.OutOrStdout(), garage.Schema())
		return err
	}
	isCapture := what != "" && settings.IsCapture(what)
	switch {
	case o.kPa && !isCapture:
		return hint.Usagef("--kpa goes with a capture")
	case isCapture && o.format != "csv":
		return hint.Usagef("a capture is written as csv")
	}
	set, err := p.settings(cmd, p.exportNeed(what, isCapture))
	if err != nil {
		return err
	}
	if isCapture {
		return o.deliver(cmd, func(w io.Writer) error {
			return desk.Tabulate(cmd.Context(), set, what, o.kPa, streams(cmd), w)
		})
	}
	var records []garage.StoredSync
	var leftOut error
	if what == "" {
		records, leftOut = desk.AllRecords(set, cmd.ErrOrStderr())
	} else {
		one, err := desk.RecordNamed(set, what)
		if err != nil {
			return err
		}
		records = append(records, *one)
	}
	err = o.deliver(cmd, func(w io.Writer) error { return write(w, records) })
	if err == nil && o.out.Name != "" {
		fmt.Fprintf(cmd.ErrOrStderr(), "wrote %d records to %s\n", len(records), o.out.Name)
	}
	return cmp.Or(err, leftOut)
}

// exportNeed is how an export stands to the bike.
func (p *program) exportNeed(what string, isCapture bool) settings.Need {
	switch {
	case isCapture:
		return settings.MayNamed
	case what != "":
		return settings.AnyBike
	case p.choice.Bike != "":
		return settings.MayBike
	}
	return settings.NoBike
}

// deliver writes to the file that was named, else to standard output.
func (o *exportOptions) deliver(cmd *cobra.Command, write func(io.Writer) error) error {
	if o.out.Name == "" {
		return write(cmd.OutOrStdout())
	}
	return o.out.Write(write)
}
