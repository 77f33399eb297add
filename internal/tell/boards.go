package tell

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// BoardCard prints the card of a board, which is in the file path. Budget is what errors a channel is left with.
func BoardCard(out io.Writer, b *garage.Board, path string, budget func(channel int) sensor.Budget) {
	fmt.Fprintf(out, "board %s  %s\n  card     %s\n", plain.Text(b.Serial), plain.Text(b.Model), path)
	channels := len(b.Sensors)
	if b.Zero != nil {
		channels = max(channels, len(b.Zero.OffsetsKPa))
	}
	if len(b.Sensors) == 0 {
		fmt.Fprintf(out, "  sensors  not named: taken for %s\n", sensor.DefaultKind)
	}
	for i := range channels {
		showChannel(out, b, i)
	}
	if len(b.Hoses) > 0 {
		fmt.Fprint(out, "  hoses   ")
		for i, c := range b.Hoses {
			fmt.Fprintf(out, " %d on channel %d;", i+1, c)
		}
		fmt.Fprintln(out)
	}
	if note := UnknownKeys("the card", b.Unknown); note != "" {
		fmt.Fprintln(out, "  "+note)
	}
	if b.Zero == nil {
		fmt.Fprintln(out, "  zero     none yet: evendraw zero")
	} else {
		fmt.Fprintf(out, "  zero     %s (%s ago), air pressure %.2f kPa; %d before it kept\n",
			plain.Minute(b.Zero.Time), plain.Age(time.Since(b.Zero.Time)),
			float64(b.Zero.AmbientKPa), len(b.PreviousZeros))
	}
	if b.Match == nil {
		fmt.Fprintln(out, "  match    none yet: evendraw match")
	} else {
		fmt.Fprintf(out, "  match    %s (%s ago), source %.1f kPa below the air pressure; %d before it kept\n",
			plain.Minute(b.Match.Time), plain.Age(time.Since(b.Match.Time)),
			float64(b.Match.LevelKPa), len(b.PreviousMatches))
	}
	budgets(out, b, channels, budget, func(int) bool { return true })
}

// showChannel prints what a card knows of a channel.
func showChannel(out io.Writer, b *garage.Board, i int) {
	name, note := sensor.DefaultKind, ""
	if i < len(b.Sensors) {
		name = b.Sensors[i]
		if _, err := sensor.ParseKind(name); err != nil {
			note = "  (not known: taken for " + sensor.DefaultKind + ")"
		}
	}
	fmt.Fprintf(out, "  channel %d  %s%s", i, plain.Text(name), note)
	if b.Zero != nil && i < len(b.Zero.OffsetsKPa) {
		fmt.Fprint(out, minus("  reads %+.3f kPa", float64(b.Zero.OffsetsKPa[i])))
	}
	if b.Match != nil && i < len(b.Match.Gains) {
		fmt.Fprint(out, minus("  and %+.2f %% of the vacuum", 100*(b.Match.Gains[i]-1)))
	}
	fmt.Fprintln(out)
}

// budgets prints what errors are left on each channel that is wanted.
func budgets(out io.Writer, b *garage.Board, channels int, budget func(channel int) sensor.Budget,
	wanted func(int) bool) {
	if channels == 0 {
		return
	}
	fmt.Fprintf(out, "  what a channel may be off by beside the others, in kPa at a vacuum of %.0f (95 %%; – is not "+
		"known):\n", float64(sensor.BudgetDraw))
	fmt.Fprintf(out, "    %-9s %8s %8s %8s %8s %8s %8s\n", "channel", "zero", "scale", "steps", "drift", "noise",
		"all")
	for i := range channels {
		if wanted(i) {
			g, row := budget(i), fmt.Sprintf("    %-9d", i)
			for _, part := range []pressure.KPa{g.Offset, g.Gain, g.Quantisation, g.Drift, g.Noise, g.Total} {
				row += fmt.Sprintf(" %8s", thousandths(part))
			}
			fmt.Fprintln(out, row)
		}
	}
	if b.Zero == nil {
		fmt.Fprintln(out, "    zero: the zero error that the data sheet allows; evendraw zero takes it off")
	}
	if b.Match == nil {
		fmt.Fprintln(out, "    scale: the scale error that the data sheet allows; evendraw match takes it off")
	}
}

// TwoPointSample names a sensor by what it gives at two pressures.
const TwoPointSample = sensor.TwoPointWord + " 20kPa=0.79V 101.32kPa=4.00V"

// KindRow is one row of a kind's table.
type KindRow struct {
	KPa   float64 `json:"kpa"` // absolute, or from the air pressure
	Volts float64 `json:"volts"`
	Count int     `json:"count"`
	// CountKPa is what the middle of that count reads as.
	CountKPa float64 `json:"count_kpa"`
}

// kindJSON is what JSON has of a kind, whose name stands under a key of its own.
func kindJSON(k *sensor.Kind, name string) map[string]any {
	return map[string]any{name: k.Name, "about": k.About, "gauge": k.Gauge, "least_kpa": k.Least, "most_kpa": k.Most,
		"error_kpa": k.Error, "source": k.Source, "from_memory": k.Memory}
}

// Kinds prints the kinds of sensors that are known.
func Kinds(out io.Writer, asJSON bool) error {
	if asJSON {
		rows := []map[string]any{}
		for _, k := range sensor.Catalogue() {
			rows = append(rows, kindJSON(&k, "name"))
		}
		return json.NewEncoder(out).Encode(map[string]any{"kinds": rows})
	}
	for _, k := range sensor.Catalogue() {
		kind(out, &k)
	}
	fmt.Fprintf(out, "%s  free, by two points: %q\n", sensor.TwoPointWord, TwoPointSample)
	return nil
}

func kind(out io.Writer, k *sensor.Kind) {
	fmt.Fprintf(out, "%s  %s\n", k.Name, k.About)
	sense := "absolute"
	if k.Gauge {
		sense = "from the air pressure"
	}
	fmt.Fprint(out, minus("  Vout/Vs = %.6g P %+.6g, P in kPa %s\n  right to ±%.2f kPa from 0 to 85 °C, three times "+
		"that at −40 and 125 °C\n", k.Slope, k.Intercept, sense, float64(k.Error)))
	if k.Parts != "" {
		fmt.Fprintf(out, "  with a nipple: %s\n", strings.ReplaceAll(k.Parts, " ", ", "))
	}
	if k.ResponseMS > 0 {
		fmt.Fprintf(out, "  response %g ms (10 to 90 %%)\n", k.ResponseMS)
	}
	fmt.Fprintf(out, "  source: %s", k.Source)
	if k.Memory != "" {
		fmt.Fprintf(out, "\n  from memory: %s", k.Memory)
	}
	fmt.Fprintln(out)
}

// Kind prints a kind of sensor and its table, for a converter of that many bits and a supply in V.
func Kind(out io.Writer, k *sensor.Kind, rows []KindRow, bits int, supply float64, asJSON bool) error {
	if asJSON {
		value := kindJSON(k, "kind")
		value["bits"], value["supply_v"], value["rows"] = bits, supply, rows
		return json.NewEncoder(out).Encode(value)
	}
	kind(out, k)
	fmt.Fprintf(out, "  one count of %d bits is %.3f kPa\n", bits, float64(k.CountKPa(bits)))
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

// thousandths writes a pressure in kPa to three places, a dash if it is not known.
func thousandths(p pressure.KPa) string {
	if math.IsNaN(float64(p)) {
		return plain.Dash
	}
	return minus("%.3f", float64(p))
}
