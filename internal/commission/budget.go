package commission

import (
	"fmt"
	"io"
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// ShowBoard prints the card of a board, which is in the file path.
func ShowBoard(out io.Writer, b *garage.Board, path string) {
	tell.BoardCard(out, b, path, func(channel int) sensor.Budget { return BudgetOf(b, channel) })
}

// BudgetOf adds up what a card knows of a channel's errors.
func BudgetOf(b *garage.Board, channel int) sensor.Budget {
	nan := math.NaN()
	setup := sensor.Setup{Kinds: settings.CardKinds(b)}
	k := sensor.Known{Kind: *setup.Kind(channel), ZeroUncertainty: pressure.KPa(nan), Noise: pressure.KPa(nan),
		GainUncertainty: nan, Drift: pressure.KPa(nan)}
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
	if len(old.OffsetsKPa) != len(b.Zero.OffsetsKPa) || b.Zero.Time.Sub(old.Time) > sameDay ||
		fmt.Sprint(old.Sensors) != fmt.Sprint(b.Zero.Sensors) {
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
