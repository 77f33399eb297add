package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/tell"
)

// benchSheets returns the bike's bench sheets, the oldest first; what is damaged is told.
func benchSheets(set *job.Settings, errOut io.Writer) []garage.StoredBench {
	sheets, damaged := set.Garage.ListBench(set.Bike.Name)
	for _, d := range damaged {
		job.Report(errOut, d)
	}
	return sheets
}

// sheetNumbered returns a bench sheet by its number in the list; the last one without.
func sheetNumbered(sheets []garage.StoredBench, args []string, at int) (*garage.StoredBench, error) {
	if len(sheets) == 0 {
		return nil, &job.Hinted{Err: fmt.Errorf("there is no bench sheet of this bike"),
			Hint: "evendraw bench writes one"}
	}
	if at >= len(args) {
		return &sheets[len(sheets)-1], nil
	}
	n, err := strconv.Atoi(args[at])
	if err != nil || n < 1 || n > len(sheets) {
		return nil, job.Usagef("%q is none of the sheets 1 to %d; evendraw bench list numbers them", args[at],
			len(sheets))
	}
	return &sheets[n-1], nil
}

func newBenchListCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the bench sheets of a bike",
		Args:  usageArgs(cobra.NoArgs),
		RunE: p.with(job.TheBike, func(cmd *cobra.Command, _ []string, set *job.Settings) error {
			sheets := benchSheets(set, cmd.ErrOrStderr())
			out := cmd.OutOrStdout()
			if asJSON {
				list := []garage.BenchSheet{}
				for _, s := range sheets {
					list = append(list, s.Sheet)
				}
				return json.NewEncoder(out).Encode(list)
			}
			if len(sheets) == 0 {
				fmt.Fprintln(out, "no bench sheets yet; evendraw bench writes one")
			}
			for i := range sheets {
				fmt.Fprintf(out, "%3d  %s\n", i+1, tell.SheetHead(&sheets[i].Sheet))
			}
			return nil
		}),
	}
	jsonFlag(cmd, &asJSON, "a list of sheets: moment, pilot_screws, carburettors, note")
	return cmd
}

func newBenchShowCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [NUMBER]",
		Short: "Show a bench sheet, the last one without a number",
		Args:  usageArgs(cobra.MaximumNArgs(1)),
		RunE: p.with(job.TheBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			s, err := sheetNumbered(benchSheets(set, cmd.ErrOrStderr()), args, 0)
			if err != nil {
				return err
			}
			if asJSON {
				return tell.SheetJSON(cmd.OutOrStdout(), "", &s.Sheet)
			}
			for _, line := range tell.SheetLines(&s.Sheet) {
				fmt.Fprintln(cmd.OutOrStdout(), line)
			}
			return nil
		}),
	}
	jsonFlag(cmd, &asJSON, "sheet (moment, pilot_screws, carburettors, note), differ_wildly")
	return cmd
}

func newBenchCompareCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "compare [NUMBER [NUMBER]]",
		Short: "Say what differs between two bench sheets, the last two without numbers",
		Example: `  evendraw bench compare
  evendraw bench compare 1 3`,
		Args: usageArgs(cobra.MaximumNArgs(2)),
		RunE: p.with(job.TheBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			sheets := benchSheets(set, cmd.ErrOrStderr())
			if len(sheets) < 2 {
				return &job.Hinted{Err: fmt.Errorf("two bench sheets are needed, there are %d", len(sheets)),
					Hint: "evendraw bench writes one"}
			}
			if len(args) == 0 {
				args = []string{strconv.Itoa(len(sheets) - 1)}
			}
			a, err := sheetNumbered(sheets, args, 0)
			if err != nil {
				return err
			}
			b, err := sheetNumbered(sheets, args, 1)
			if err != nil {
				return err
			}
			changes := garage.CompareSheets(&a.Sheet, &b.Sheet)
			if asJSON {
				return json.NewEncoder(cmd.OutOrStdout()).Encode(append([]garage.SettingChange{}, changes...))
			}
			for _, line := range tell.SheetChangeLines(&a.Sheet, &b.Sheet, changes) {
				fmt.Fprintln(cmd.OutOrStdout(), line)
			}
			return nil
		}),
	}
	jsonFlag(cmd, &asJSON, "a list of carburettor, field, from, to")
	return cmd
}
