package cli

import (
	"cmp"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// historyShown is how many records are listed without --all. Chosen: a screen.
const historyShown = 20

func newHistoryCommand(p *program) *cobra.Command {
	var all, asJSON bool
	cmd := &cobra.Command{
		Use:   "history",
		Short: "List a bike's levelling records, show one, correct one, end what was cut off",
		Long: `List the levelling records of a bike in the order of the work, the newest last: when,
how it ended, the spread before and after. A record is never changed: a correction is
a new one, with a number of its own. It is of the same work, and stands after the one
that it corrects.`,
		Example: `  evendraw history
  evendraw history show 12
  evendraw history correct 12 --note "it was the middle screw"
  evendraw history unfinished`,
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			records, damaged := set.Garage.ListSyncs(set.Bike.Name)
			reportAll(cmd, damaged)
			shown := historyShown
			if all {
				shown = 0
			}
			err := tell.History(cmd.OutOrStdout(), set.Bike.Name, records, damaged,
				set.Garage.SyncsAside(set.Bike.Name), shown, set.Unit(), asJSON)
			if left, _ := set.Garage.ListUnfinished(); len(left) > 0 && !asJSON {
				fmt.Fprintf(cmd.ErrOrStderr(),
					"%d unfinished, of a run that was cut off: evendraw history unfinished\n", len(left))
			}
			return cmp.Or(err, garage.LeftOut(damaged))
		}),
	}
	cmd.Flags().BoolVar(&all, "all", false, fmt.Sprintf("list all, not only the newest %d", historyShown))
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON, a line a record: number, file, time, verdict, "+
		"corrects, before_kpa, after_kpa, rpm, note, after_without (cylinders that after_kpa leaves out)")
	cmd.AddCommand(newHistoryShowCommand(p), newHistoryCorrectCommand(p), newUnfinishedCommand(p))
	return cmd
}

func newHistoryShowCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [NUMBER]",
		Short: "Show a record in full, the newest without a number",
		Args:  cobra.MaximumNArgs(1),
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			s, err := desk.RecordNamed(set, argument(args, 0))
			if err != nil {
				return err
			}
			return tell.Record(cmd.OutOrStdout(), s, set.UnitOf(&s.Kept), asJSON)
		}),
	}
	jsonFlag(cmd, &asJSON, bySchema)
	return cmd
}

func newHistoryCorrectCommand(p *program) *cobra.Command {
	var note, temperature, pilot string
	cmd := &cobra.Command{
		Use:         "correct NUMBER",
		Short:       "Save a corrected copy of a record, which names the old one",
		Example:     `  evendraw history correct 12 --note "with the new boots" --pilot "1 7/8, 1 7/8, 2, 2"`,
		Annotations: map[string]string{mayBeEmpty: "a remark is taken away so"},
		Args:        cobra.ExactArgs(1),
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			s, err := desk.RecordNamed(set, args[0])
			if err != nil {
				return err
			}
			rec, f := s.Kept, cmd.Flags()
			if !f.Changed("note") && !f.Changed("temperature") && !f.Changed("pilot") {
				return hint.Usagef("say what to correct: --note, --temperature or --pilot")
			}
			if f.Changed("note") {
				rec.Note = note
			}
			if f.Changed("temperature") {
				rec.Temperature = temperature
			}
			if f.Changed("pilot") {
				turns, err := garage.ParseTurnsOut(pilot, set.Bike.Bank.Cylinders)
				if err != nil {
					return hint.Usagef("--pilot: %w", err)
				}
				rec.PilotTurnsOut = nil
				for _, t := range turns {
					rec.PilotTurnsOut = append(rec.PilotTurnsOut, garage.NullFloat(t))
				}
			}
			if s.By.N != 0 {
				fmt.Fprintf(cmd.ErrOrStderr(), "record %s was corrected by %s before: what that put right is not in "+
					"this one\n", s.Number, s.By)
			}
			rec.Corrects = filepath.Base(s.Path)
			path, err := set.Garage.SaveSync(rec.Bike, &rec)
			if err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "saved %s\nrecord %s stays as it was\n", path, s.Number)
			return nil
		}),
	}
	cmd.Flags().StringVar(&note, "note", "", "the remark as it should be")
	cmd.Flags().StringVar(&temperature, "temperature", "", "the note on the temperature as it should be")
	cmd.Flags().StringVar(&pilot, "pilot", "", "turns out of the pilot screws as they should be")
	return cmd
}
