package job

import (
	"fmt"
	"io"
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// ShowBoard prints the card of a board, which is in the file path.
func ShowBoard(out io.Writer, b *garage.Board, path string) {
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
	if b.Zero == nil {
		fmt.Fprintln(out, "  zero     none yet: evendraw zero")
	} else {
		fmt.Fprintf(out, "  zero     %s (%s ago), air pressure %.2f kPa; %d before it kept\n", cardTime(b.Zero.Time), age(time.Since(b.Zero.Time)),
			float64(b.Zero.AmbientKPa), len(b.PreviousZeros))
	}
	if b.Match == nil {
		fmt.Fprintln(out, "  match    none yet: evendraw match")
	} else {
		fmt.Fprintf(out, "  match    %s (%s ago), source %.1f kPa below the air pressure; %d before it kept\n", cardTime(b.Match.Time), age(time.Since(b.Match.Time)),
			float64(b.Match.LevelKPa), len(b.PreviousMatches))
	}
	showBudgets(out, b, channels, func(int) bool { return true })
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
		fmt.Fprintf(out, "  reads %+.3f kPa", float64(b.Zero.OffsetsKPa[i]))
	}
	if b.Match != nil && i < len(b.Match.Gains) {
		fmt.Fprintf(out, "  and %+.2f %% of the draw", 100*(b.Match.Gains[i]-1))
	}
	fmt.Fprintln(out)
}

// showBudgets prints what errors are left on each channel that is wanted.
func showBudgets(out io.Writer, b *garage.Board, channels int, wanted func(int) bool) {
	if channels == 0 {
		return
	}
	fmt.Fprintf(out, "  what a channel may be off by beside the others, in kPa at a draw of %.0f (95 %%; – is not known):\n", float64(sensor.BudgetDraw))
	fmt.Fprintf(out, "    %-9s %8s %8s %8s %8s %8s %8s\n", "channel", "offset", "gain", "steps", "drift", "noise", "all")
	for i := range channels {
		if wanted(i) {
			g := budgetOf(b, i)
			fmt.Fprintf(out, "    %-9d %8s %8s %8s %8s %8s %8s\n", i, milli(g.Offset), milli(g.Gain), milli(g.Quantisation), milli(g.Drift), milli(g.Noise), milli(g.Total))
		}
	}
	if b.Zero == nil {
		fmt.Fprintln(out, "    offset: the data sheet's band; a zero pass takes it off")
	}
	if b.Match == nil {
		fmt.Fprintln(out, "    gain: the data sheet's band; a match pass takes it off")
	}
}

// milli writes a pressure to thousandths, a dash if it is not known.
func milli(p pressure.KPa) string {
	if math.IsNaN(float64(p)) {
		return "–"
	}
	return fmt.Sprintf("%.3f", float64(p))
}

// budgetOf adds up what a card knows of a channel's errors.
func budgetOf(b *garage.Board, channel int) sensor.Budget {
	nan := math.NaN()
	setup := sensor.Setup{Kinds: cardKinds(b)}
	k := sensor.Known{Kind: *setup.Kind(channel), ZeroUncertainty: pressure.KPa(nan), Noise: pressure.KPa(nan), GainUncertainty: nan, Drift: pressure.KPa(nan)}
	if z := b.Zero; z != nil && channel < len(z.OffsetsKPa) {
		k.Bits = z.Bits
		k.ZeroUncertainty = valueAt(z.UncertaintyKPa, channel)
		k.Noise = valueAt(z.NoiseKPa, channel)
		k.Drift = driftBetween(b, channel)
	}
	if m := b.Match; m != nil && channel < len(m.UncertaintyGain) && m.UncertaintyGain[channel] > 0 {
		k.GainUncertainty = m.UncertaintyGain[channel]
	}
	return sensor.BudgetOf(&k)
}

// sameDay is how far apart two zero passes may be for their difference to count as drift. Chosen: one day's
// work; over longer times other air and other wiring come in.
const sameDay = 12 * time.Hour

// driftBetween returns by how much a channel's offset moved beside the others' from the zero pass before the
// last to the last; NaN where there are not two of one day with the same sensors.
func driftBetween(b *garage.Board, channel int) pressure.KPa {
	nan := pressure.KPa(math.NaN())
	if len(b.PreviousZeros) == 0 {
		return nan
	}
	old := b.PreviousZeros[len(b.PreviousZeros)-1]
	if len(old.OffsetsKPa) != len(b.Zero.OffsetsKPa) || b.Zero.Time.Sub(old.Time) > sameDay || fmt.Sprint(old.Sensors) != fmt.Sprint(b.Zero.Sensors) {
		return nan
	}
	return max(b.Zero.OffsetsKPa[channel]-old.OffsetsKPa[channel], old.OffsetsKPa[channel]-b.Zero.OffsetsKPa[channel])
}

func valueAt(values []pressure.KPa, i int) pressure.KPa {
	if i < len(values) {
		return values[i]
	}
	return pressure.KPa(math.NaN())
}
