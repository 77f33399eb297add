package main

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/view"
)

// historyShown is how many records are listed without --all. Chosen: a screen.
const historyShown = 20

func newHistoryCommand(r *rig) *cobra.Command {
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
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := r.anyBike(); err != nil {
				return err
			}
			return listHistory(r, all, asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, fmt.Sprintf("list all, not only the newest %d", historyShown))
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON, all of them, one a line")
	cmd.AddCommand(newHistoryShowCommand(r), newHistoryCorrectCommand(r), newUnfinishedCommand(r))
	return cmd
}

func listHistory(r *rig, all, asJSON bool, out, errOut io.Writer) error {
	heads, damaged := r.garage.ListHeads(r.bike.Name)
	for _, d := range damaged {
		report(errOut, d)
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
		b.WriteString(view.HistoryLine(i+1, &heads[i], r.unit()))
		if gone[filepath.Base(heads[i].Path)] {
			b.WriteString("  (corrected)")
		}
		b.WriteByte('\n')
	}
	if _, err := io.WriteString(out, b.String()); err != nil {
		return err
	}
	tellUnfinished(r, errOut)
	return nil
}

// tellUnfinished reminds of what was cut off.
func tellUnfinished(r *rig, errOut io.Writer) {
	if left, _ := r.garage.ListUnfinished(); len(left) > 0 {
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

// recordNamed returns a record: by its number in history, the newest without; by BIKE:NUMBER; or
// by its file.
func (r *rig) recordNamed(name string) (*garage.StoredSync, error) {
	if filepath.Ext(name) == ".sync" {
		rec, err := garage.LoadSync(name)
		return &garage.StoredSync{Path: name, Record: rec}, err
	}
	bike := r.bike
	if at := strings.LastIndexByte(name, ':'); at >= 0 {
		b, err := r.garage.LoadBike(name[:at])
		if err != nil {
			return nil, err
		}
		bike, name = &b, name[at+1:]
	}
	heads, _ := r.garage.ListHeads(bike.Name)
	if len(heads) == 0 {
		return nil, &hinted{fmt.Errorf("there is no record of %q yet", bike.Name), "evendraw live saves one when the bank is level, or with s"}
	}
	n := len(heads)
	if name != "" {
		var err error
		if n, err = strconv.Atoi(name); err != nil || n < 1 || n > len(heads) {
			return nil, usagef("%q is none of the records 1 to %d of %q; evendraw history numbers them", name, len(heads), bike.Name)
		}
	}
	path := heads[n-1].Path
	rec, err := garage.LoadForChange(path)
	rec.Bike = bike.Name // it may have been renamed since
	return &garage.StoredSync{Path: path, Record: rec}, err
}

func argument(args []string, at int) string {
	if at < len(args) {
		return args[at]
	}
	return ""
}

func newHistoryShowCommand(r *rig) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [NUMBER]",
		Short: "Show a record in full, the newest without a number",
		Args:  usageArgs(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := r.anyBike(); err != nil {
				return err
			}
			s, err := r.recordNamed(argument(args, 0))
			if err != nil {
				return err
			}
			if asJSON {
				return json.NewEncoder(cmd.OutOrStdout()).Encode(&s.Record)
			}
			for _, line := range view.RecordLines(&s.Record, r.unit()) {
				fmt.Fprintln(cmd.OutOrStdout(), line)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

func newHistoryCorrectCommand(r *rig) *cobra.Command {
	var note, temperature, pilot string
	cmd := &cobra.Command{
		Use:     "correct NUMBER",
		Short:   "Save a corrected copy of a record, which names the old one",
		Example: `  evendraw history correct 12 --note "with the new boots" --pilot "2 1/4, 2 1/4, 2, 2"`,
		Args:    usageArgs(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := r.anyBike(); err != nil {
				return err
			}
			s, err := r.recordNamed(args[0])
			if err != nil {
				return err
			}
			rec, f := s.Record, cmd.Flags()
			if !f.Changed("note") && !f.Changed("temperature") && !f.Changed("pilot") {
				return usagef("say what to correct: --note, --temperature or --pilot")
			}
			if f.Changed("note") {
				rec.Note = note
			}
			if f.Changed("temperature") {
				rec.Temperature = temperature
			}
			if f.Changed("pilot") {
				if rec.PilotTurnsOut, err = turnsOut(pilot, r.bike.Bank.Cylinders); err != nil {
					return err
				}
			}
			rec.Corrects = filepath.Base(s.Path)
			path, err := r.garage.SaveSync(rec.Bike, &rec)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "saved %s\n%s stays as it was\n", path, filepath.Base(s.Path))
			return nil
		},
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
		return nil, usagef("--pilot: %d values for %d carburettors", len(values), cylinders)
	}
	var out []garage.NullFloat
	for _, v := range values {
		var c garage.Carburettor
		if err := c.Set(garage.FieldPilotTurns, v); err != nil {
			return nil, usagef("--pilot: %w", err)
		}
		out = append(out, c.PilotTurnsOut)
	}
	return out, nil
}
