package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/job"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
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
list is named by what it gives at two pressures, as ` + twoPointSample + `;
"gauge" after it where the pressures count from the air pressure (vacuum
negative), "at 5.1V" where the supply was not 5 V. That name goes on the board's
card like any other.`,
		Example: `  evendraw board kind
  evendraw board kind MPX4115A
  evendraw board kind "` + twoPointSample + `" --bits 12`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runBoardKind(o, strings.Join(args, " "), cmd.OutOrStdout())
		},
	}
	cmd.Flags().IntVar(&o.bits, "bits", 10, "converter bits, 10 to 16")
	cmd.Flags().Float64Var(&o.supply, "supply", 5, "supply of the sensor and reference of the converter, V")
	cmd.Flags().Float64Var(&o.step, "step", 5, "kPa from row to row")
	cmd.Flags().BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

const twoPointSample = sensor.TwoPointWord + " 20kPa=0.79V 101.32kPa=4.00V"

// kindRow is one row of a kind's table.
type kindRow struct {
	KPa   float64 `json:"kpa"` // absolute, or from the air pressure
	Volts float64 `json:"volts"`
	Count int     `json:"count"`
	// CountKPa is what the middle of that count reads as.
	CountKPa float64 `json:"count_kpa"`
}

func runBoardKind(o *kindOptions, name string, out io.Writer) error {
	if err := checkBits(o.bits); err != nil {
		return err
	}
	switch {
	case !(o.supply >= 1 && o.supply <= 15):
		return job.Usagef("--supply %g is not from 1 to 15 V", o.supply)
	case !(o.step >= 0.1 && o.step <= 100):
		return job.Usagef("--step %g is not from 0.1 to 100 kPa", o.step)
	}
	if name == "" {
		return listKinds(out, o.json)
	}
	k, err := sensor.ParseKind(name)
	if err != nil {
		return &job.UsageError{Err: err}
	}
	rows := kindRows(&k, o)
	if o.json {
		return json.NewEncoder(out).Encode(map[string]any{"kind": k.Name, "about": k.About, "gauge": k.Gauge, "least_kpa": k.Least, "most_kpa": k.Most, "error_kpa": k.Error,
			"source": k.Source, "from_memory": k.Memory, "bits": o.bits, "supply_v": o.supply, "rows": rows})
	}
	showKind(out, &k)
	fmt.Fprintf(out, "  one count of %d bits is %.3f kPa\n", o.bits, float64(k.CountKPa(o.bits)))
	head := "kPa absolute"
	if k.Gauge {
		head = "kPa from air"
	}
	fmt.Fprintf(out, "%14s %10s %8s %14s\n", head, "volts", "count", "read as kPa")
	for _, r := range rows {
		fmt.Fprintf(out, "%14.2f %10.3f %8d %14.3f\n", r.KPa, r.Volts, r.Count, r.CountKPa)
	}
	return nil
}

func listKinds(out io.Writer, asJSON bool) error {
	if asJSON {
		type row struct {
			Name       string       `json:"name"`
			About      string       `json:"about"`
			Gauge      bool         `json:"gauge"`
			Least      pressure.KPa `json:"least_kpa"`
			Most       pressure.KPa `json:"most_kpa"`
			Error      pressure.KPa `json:"error_kpa"`
			Source     string       `json:"source"`
			FromMemory string       `json:"from_memory"`
		}
		rows := []row{}
		for _, k := range sensor.Catalogue() {
			rows = append(rows, row{k.Name, k.About, k.Gauge, k.Least, k.Most, k.Error, k.Source, k.Memory})
		}
		return json.NewEncoder(out).Encode(map[string]any{"kinds": rows})
	}
	for _, k := range sensor.Catalogue() {
		showKind(out, &k)
	}
	fmt.Fprintf(out, "%s  free, by two points: %q\n", sensor.TwoPointWord, twoPointSample)
	return nil
}

func showKind(out io.Writer, k *sensor.Kind) {
	fmt.Fprintf(out, "%s  %s\n", k.Name, k.About)
	sense := "absolute"
	if k.Gauge {
		sense = "from the air pressure"
	}
	fmt.Fprintf(out, "  Vout/Vs = %.6g P %+.6g, P in kPa %s\n  right to ±%.2f kPa from 0 to 85 °C, three times that at −40 and 125 °C\n", k.Slope, k.Intercept, sense, float64(k.Error))
	if k.ResponseMS > 0 {
		fmt.Fprintf(out, "  response %g ms (10 to 90 %%)\n", k.ResponseMS)
	}
	fmt.Fprintf(out, "  source: %s", k.Source)
	if k.Memory != "" {
		fmt.Fprintf(out, "\n  from memory: %s", k.Memory)
	}
	fmt.Fprintln(out)
}

// kindRows makes the table over the kind's range as far as this job has use for it: 130 kPa absolute, or a whole
// atmosphere below ambient.
func kindRows(k *sensor.Kind, o *kindOptions) (rows []kindRow) {
	least, most := max(float64(k.Least), 0), min(float64(k.Most), 130)
	if k.Gauge {
		least, most = max(float64(k.Least), -100), min(float64(k.Most), 30)
	}
	full := float64(int(1) << o.bits)
	for p := math.Ceil(least/o.step-1e-9) * o.step; p <= most+1e-9; p += o.step {
		ratio := k.Ratio(pressure.KPa(p))
		count := min(max(int(ratio*full), 0), int(full)-1)
		rows = append(rows, kindRow{p, ratio * o.supply, count, float64(k.Pressure((float64(count) + 0.5) / full))})
	}
	return rows
}
