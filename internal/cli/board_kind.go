package cli

import (
	"cmp"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/hint"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/tell"
)

type kindOptions struct {
	bits   int
	supply float64
	step   float64
	json   bool
}

func newBoardKindCommand() *cobra.Command {
	o := &kindOptions{}
	cmd := &cobra.Command{
		Use:   "kind [NAME]",
		Short: "List the kinds of sensors, or print a kind's table of kPa, volts and counts",
		Long: `List the kinds of sensors that are known, or print the table of one: what volts
and what count of the converter each pressure gives. A sensor that is not in the
list is named by what it gives at two pressures, as ` + tell.TwoPointSample + `;
"gauge" after it where the pressures count from the air pressure (vacuum
negative), "at 5.1V" where the supply was not 5 V. That name goes on the board's
card like any other.`,
		Example: `  evendraw board kind
  evendraw board kind MPX4115A
  evendraw board kind "` + tell.TwoPointSample + `" --bits 12`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runBoardKind(cmd, o, strings.Join(args, " "))
		},
	}
	cmd.Flags().IntVar(&o.bits, "bits", 10, "converter bits, 10 to 16")
	decimalVar(cmd.Flags(), &o.supply, "supply", 5, "supply of the sensor and reference of the converter, V")
	decimalVar(cmd.Flags(), &o.step, "step", 5, "kPa from row to row")
	cmd.Flags().BoolVar(&o.json, "json", false, "print JSON: kinds; or of one name, parts, about, "+
		"source, from_memory, gauge, least_kpa, most_kpa, error_kpa, bits, supply_v, rows")
	return cmd
}

func runBoardKind(cmd *cobra.Command, o *kindOptions, name string) error {
	out := cmd.OutOrStdout()
	err := cmp.Or(checkBits(cmd, o.bits), checkRange("supply", o.supply, 1, 15, " V"),
		checkRange("step", o.step, 0.1, 100, " kPa"))
	if err != nil {
		return err
	}
	if name == "" {
		return tell.Kinds(out, o.json)
	}
	k, err := sensor.ParseKind(name)
	if err != nil {
		return hint.Usage(err)
	}
	return tell.Kind(out, &k, kindRows(&k, o), o.bits, o.supply, o.json)
}

// kindRows makes the table over the kind's range as far as this job has use for it: 130 kPa absolute, or a whole
// atmosphere below ambient.
func kindRows(k *sensor.Kind, o *kindOptions) (rows []tell.KindRow) {
	least, most := max(float64(k.Least), 0), min(float64(k.Most), 130)
	if k.Gauge {
		least, most = max(float64(k.Least), -100), min(float64(k.Most), 30)
	}
	full := float64(int(1) << o.bits)
	for p := math.Ceil(least/o.step-1e-9) * o.step; p <= most+1e-9; p += o.step {
		ratio := k.Ratio(pressure.KPa(p))
		count := min(max(int(ratio*full), 0), int(full)-1)
		rows = append(rows, tell.KindRow{KPa: p, Volts: ratio * o.supply, Count: count,
			CountKPa: float64(k.Pressure((float64(count) + 0.5) / full))})
	}
	return rows
}
