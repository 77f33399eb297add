package cli

import (
	"cmp"
	"fmt"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
	"evendraw/internal/sheet"
	"evendraw/internal/tell"
)

func newTrendCommand(p *program) *cobra.Command {
	var files plotFiles
	var screws, asJSON bool
	cmd := &cobra.Command{
		Use:   "trend",
		Short: "Say which carburettor drifts, and what the screws did over time",
		Long: `Put all records of a bike together: where each cylinder stood before and after
each levelling, which one moves away again by the next time, and what the screws
were found to do.`,
		Example: `  evendraw trend
  evendraw trend --svg drift.svg
  evendraw trend --screws --png screws.png`,
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			plots, err := files.wanted()
			if err != nil {
				return err
			}
			if screws && !plots {
				return hint.Usagef("--screws chooses what is drawn: it goes with --svg or --png")
			}
			records, damaged := set.Garage.ListSyncs(set.Bike.Name)
			reportAll(cmd, damaged)
			t := garage.TrendOf(records)
			if plots {
				places, effects := sheet.TrendPlots(&t, set.Unit())
				if screws {
					places = effects
				}
				if places == nil || len(t.Points) == 0 {
					return fmt.Errorf("there is nothing to draw yet")
				}
				if err := files.write(places, cmd.ErrOrStderr()); err != nil {
					return err
				}
			}
			if len(t.Points) == 0 && len(damaged) > 0 && !asJSON {
				return garage.LeftOut(damaged) // there are records, and their faults are told
			}
			err = tell.Trend(cmd.OutOrStdout(), &t, set.Unit(), asJSON)
			return cmp.Or(err, garage.LeftOut(damaged))
		}),
	}
	files.addFlags(cmd.Flags())
	cmd.Flags().BoolVar(&screws, "screws", false, "plot what the screws did instead of where the cylinders stood")
	jsonFlag(cmd, &asJSON, "records (file, time, before_kpa, after_kpa by cylinder, zeroed), drifts, screws")
	return cmd
}
