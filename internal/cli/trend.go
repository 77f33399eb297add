package cli

import (
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/sheet"
	"evendraw/internal/view"
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
		Args: usageArgs(cobra.NoArgs),
		RunE: p.with(job.AnyBike, func(cmd *cobra.Command, _ []string, set *job.Settings) error {
			records, damaged := set.Garage.ListSyncs(set.Bike.Name)
			for _, d := range damaged {
				job.Report(cmd.ErrOrStderr(), d)
			}
			t := garage.TrendOf(records)
			if files.svg != "" || files.png != "" {
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
			if asJSON {
				return tellTrendJSON(cmd.OutOrStdout(), &t)
			}
			for _, line := range view.TrendLines(&t, set.Unit()) {
				fmt.Fprintln(cmd.OutOrStdout(), line)
			}
			return nil
		}),
	}
	files.addFlags(cmd.Flags())
	cmd.Flags().BoolVar(&screws, "screws", false, "plot what the screws did instead of where the cylinders stood")
	jsonFlag(cmd, &asJSON)
	return cmd
}

func tellTrendJSON(out io.Writer, t *garage.Trend) error {
	type drift struct {
		Cylinder  int            `json:"cylinder"`
		Mean      garage.NullKPa `json:"drift_kpa"`
		HalfWidth garage.NullKPa `json:"uncertainty_kpa"`
		Times     int            `json:"times"`
		Drifts    bool           `json:"drifts"`
	}
	type effect struct {
		Screw  string             `json:"screw"`
		Values []garage.NullFloat `json:"kpa_per_turn"`
	}
	type point struct {
		File   string           `json:"file"`
		Time   string           `json:"time"`
		Before []garage.NullKPa `json:"before_kpa"`
		After  []garage.NullKPa `json:"after_kpa"`
	}
	line := struct {
		Records []point  `json:"records"`
		Drifts  []drift  `json:"drifts"`
		Screws  []effect `json:"screws"`
	}{[]point{}, []drift{}, []effect{}}
	for _, p := range t.Points {
		q := point{File: p.Path, Time: p.Time.Format("2006-01-02T15:04:05.000Z07:00")}
		for _, v := range p.Before {
			q.Before = append(q.Before, garage.NullKPa(v))
		}
		for _, v := range p.After {
			q.After = append(q.After, garage.NullKPa(v))
		}
		line.Records = append(line.Records, q)
	}
	for i := range t.Drifts {
		d := &t.Drifts[i]
		line.Drifts = append(line.Drifts, drift{d.Cylinder, garage.NullKPa(d.Mean), garage.NullKPa(d.HalfWidth), d.Times, d.Real()})
	}
	for _, e := range t.Effects {
		x := effect{Screw: e.Screw}
		for _, v := range e.KPaPerTurn {
			x.Values = append(x.Values, garage.NullFloat(v))
		}
		line.Screws = append(line.Screws, x)
	}
	return json.NewEncoder(out).Encode(line)
}
