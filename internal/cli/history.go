package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/view"
)

// historyShown is how many records are listed without --all. Chosen: a screen.
const historyShown = 20

func newHistoryCommand(p *program) *cobra.Command {
	var all, asJSON bool
	cmd := &cobra.Command{
		Use:   "history",
		Short: "List a bike's sync records, show one, correct one, end what was cut off",
		Long: `List the sync records of a bike with their numbers, the newest last: when, how it
ended, the spread before and after. A record is never changed: a correction is a
new one that names the old.`,
		Example: `  evendraw history
  evendraw history show 12
  evendraw history correct 12 --note "it was the middle screw"
  evendraw history unfinished`,
		Args: usageArgs(cobra.NoArgs),
		RunE: p.with(job.AnyBike, func(cmd *cobra.Command, _ []string, set *job.Settings) error {
			return listHistory(set, all, asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		}),
	}
	cmd.Flags().BoolVar(&all, "all", false, fmt.Sprintf("list all, not only the newest %d", historyShown))
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON, all of them, one a line")
	cmd.AddCommand(newHistoryShowCommand(p), newHistoryCorrectCommand(p), newUnfinishedCommand(p))
	return cmd
}

func listHistory(set *job.Settings, all, asJSON bool, out, errOut io.Writer) error {
	heads, damaged := set.Garage.ListHeads(set.Bike.Name)
	for _, d := range damaged {
		job.Report(errOut, d)
	}
	if asJSON {
		return tellHeadsJSON(out, heads)
	}
	if len(heads) == 0 {
		fmt.Fprintln(out, "no records yet: evendraw live saves one when the bank is level, or with s")
	}
	from := 0
	if !all {
		from = max(len(heads)-historyShown, 0)
	}
	if from > 0 {
		fmt.Fprintf(out, "%d older ones are not shown; --all shows them\n", from)
	}
	gone := map[string]bool{}
	for _, h := range heads {
		gone[h.Corrects] = true
	}
	var b strings.Builder
	for i := from; i < len(heads); i++ {
		b.WriteString(view.HistoryLine(i+1, &heads[i], set.Unit()))
		if gone[filepath.Base(heads[i].Path)] {
			b.WriteString("  (corrected)")
		}
		b.WriteByte('\n')
	}
	if _, err := io.WriteString(out, b.String()); err != nil {
		return err
	}
	tellUnfinished(set.Garage, errOut)
	return nil
}

// tellUnfinished reminds of what was cut off.
func tellUnfinished(g *garage.Garage, errOut io.Writer) {
	if left, _ := g.ListUnfinished(); len(left) > 0 {
		fmt.Fprintf(errOut, "%d unfinished, of a run that was cut off: evendraw history unfinished\n", len(left))
	}
}

func tellHeadsJSON(out io.Writer, heads []garage.SyncHead) error {
	type line struct {
		Number   int              `json:"number"`
		File     string           `json:"file"`
		Time     string           `json:"time"`
		Verdict  string           `json:"verdict"`
		Corrects *string          `json:"corrects"`
		Before   garage.NullKPa   `json:"before_kpa"`
		After    garage.NullKPa   `json:"after_kpa"`
		RPM      garage.NullFloat `json:"rpm"`
		Note     string           `json:"note"`
	}
	e := json.NewEncoder(out)
	for i, h := range heads {
		l := line{Number: i + 1, File: h.Path, Time: h.Time.Format("2006-01-02T15:04:05.000Z07:00"), Verdict: h.Verdict, Before: h.BeforeKPa, After: h.AfterKPa, RPM: h.RPM, Note: h.Note}
		if h.Corrects != "" {
			l.Corrects = &h.Corrects
		}
		if err := e.Encode(l); err != nil {
			return err
		}
	}
	return nil
}

func newHistoryShowCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [NUMBER]",
		Short: "Show a record in full, the newest without a number",
		Args:  usageArgs(cobra.MaximumNArgs(1)),
		RunE: p.with(job.AnyBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			s, err := set.RecordNamed(argument(args, 0))
			if err != nil {
				return err
			}
			if asJSON {
				return json.NewEncoder(cmd.OutOrStdout()).Encode(&s.Record)
			}
			for _, line := range view.RecordLines(&s.Record, set.Unit()) {
				fmt.Fprintln(cmd.OutOrStdout(), line)
			}
			return nil
		}),
	}
	jsonFlag(cmd, &asJSON)
	return cmd
}

func newHistoryCorrectCommand(p *program) *cobra.Command {
	var note, temperature, pilot string
	cmd := &cobra.Command{
		Use:     "correct NUMBER",
		Short:   "Save a corrected copy of a record, which names the old one",
		Example: `  evendraw history correct 12 --note "with the new boots" --pilot "2 1/4, 2 1/4, 2, 2"`,
		Args:    usageArgs(cobra.ExactArgs(1)),
		RunE: p.with(job.AnyBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			s, err := set.RecordNamed(args[0])
			if err != nil {
				return err
			}
			rec, f := s.Record, cmd.Flags()
			if !f.Changed("note") && !f.Changed("temperature") && !f.Changed("pilot") {
				return job.Usagef("say what to correct: --note, --temperature or --pilot")
			}
			if f.Changed("note") {
				rec.Note = note
			}
			if f.Changed("temperature") {
				rec.Temperature = temperature
			}
			if f.Changed("pilot") {
				if rec.PilotTurnsOut, err = turnsOut(pilot, set.Bike.Bank.Cylinders); err != nil {
					return err
				}
			}
			rec.Corrects = filepath.Base(s.Path)
			path, err := set.Garage.SaveSync(rec.Bike, &rec)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "saved %s\n%s stays as it was\n", path, filepath.Base(s.Path))
			return nil
		}),
	}
	cmd.Flags().StringVar(&note, "note", "", "the remark as it should be")
	cmd.Flags().StringVar(&temperature, "temperature", "", "the note on the temperature as it should be")
	cmd.Flags().StringVar(&pilot, "pilot", "", "turns out of the pilot screws as they should be")
	return cmd
}

// turnsOut reads the turns of all pilot screws.
func turnsOut(text string, cylinders int) ([]garage.NullFloat, error) {
	values := splitValues(text)
	if len(values) != cylinders {
		return nil, job.Usagef("--pilot: %d values for %d carburettors", len(values), cylinders)
	}
	var out []garage.NullFloat
	for _, v := range values {
		var c garage.Carburettor
		if err := c.Set(garage.FieldPilotTurns, v); err != nil {
			return nil, job.Usagef("--pilot: %w", err)
		}
		out = append(out, c.PilotTurnsOut)
	}
	return out, nil
}
