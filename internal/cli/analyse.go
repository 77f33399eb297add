package cli

import (
	"cmp"

	"github.com/spf13/cobra"

	"evendraw/internal/cycle"
	"evendraw/internal/desk"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
)

func newAnalyseCommand(p *program) *cobra.Command {
	o := &desk.AnalyseOptions{}
	cmd := &cobra.Command{
		Use:   "analyse FILE",
		Short: "Say what a capture or a table holds",
		Long: `Read a capture, or a table of another logger, as fast as the machine goes, and
say what it holds. FILE may be - for standard input. A table is CSV with t_us
first (microseconds), then one column a channel: c0, c1 … raw counts, or v0 …
volts, or kpa0 … absolute kPa. Semicolons, with decimal commas, are read too.

A capture is read with the settings that are in its head; --bike and --ambient
take their place. A table is read with no bike's card but that which --bike names.`,
		Example: `  evendraw analyse morning.cap
  evendraw analyse table.csv --ambient 98.2 --json`,
		Args: cobra.ExactArgs(1),
		PreRunE: func(cmd *cobra.Command, _ []string) error {
			return cmp.Or(checkBits(cmd, o.Table.Bits), checkSpeeds(o))
		},
		RunE: p.with(settings.MayNamed, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			return desk.Analyse(cmd.Context(), set, o, args[0], streams(cmd))
		}),
	}
	cmd.Flags().BoolVar(&o.JSON, "json", false,
		"print a line of JSON for every cycle, and a summary; evendraw schema says the keys")
	tableFlags(cmd.Flags(), &o.Table)
	largeVar(cmd.Flags(), &o.MinRPM, "min-rpm", 0, "slowest speed to look for (default 300)")
	largeVar(cmd.Flags(), &o.MaxRPM, "max-rpm", 0, "fastest speed to look for (default 7000)")
	return cmd
}

// Speeds that can be looked for, rpm. Chosen: slower than a ship's engine, and what the summary's distribution holds.
const slowestRPM, fastestRPM = 60, 20000

// checkSpeeds refuses speeds that can't be looked for.
func checkSpeeds(o *desk.AnalyseOptions) error {
	for _, v := range []float64{o.MinRPM, o.MaxRPM} {
		if v != 0 && !(v >= slowestRPM && v <= fastestRPM) {
			return hint.Usagef("--min-rpm and --max-rpm: %g is not from %d to %d", v, slowestRPM, fastestRPM)
		}
	}
	if least, most := cmp.Or(o.MinRPM, cycle.DefaultMinRPM), cmp.Or(o.MaxRPM, cycle.DefaultMaxRPM); least >= most {
		return hint.Usagef("--min-rpm %g is not below --max-rpm %g", least, most)
	}
	return nil
}
