package tell

import (
	"fmt"
	"math"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// Fact is one thing that a record says: its name, and what it is.
type Fact struct{ Name, Text string }

// ByOpening is said of a bank whose vacuums need not be alike.
const ByOpening = "by how far the butterflies are open, not by the vacuum"

// NoZero is said of figures that no zero pass has put right.
const NoZero = "no zero pass: the sensors' own zero errors are in the figures"

// NotZeroed marks what is of a record without a zero pass, after what parts it from the text before; "" of others.
func NotZeroed(r *garage.SyncRecord, after string) string { return notZeroed(r.Zero != nil, after) }

func notZeroed(zeroed bool, after string) string {
	if zeroed {
		return ""
	}
	return after + "not zeroed"
}

// Facts are what a record says beside its readings and what was turned: how far it can be trusted, what was found of
// the engine, and the conditions.
func Facts(r *garage.SyncRecord, u pressure.Unit) (facts []Fact) {
	add := func(name, format string, args ...any) {
		facts = append(facts, Fact{plain.Text(name), fmt.Sprintf(format, args...)})
	}
	for _, doubt := range Doubts(r, u) {
		add("Doubt", "%s", doubt)
	}
	if r.Halts != nil && r.Halts.LookedAgain {
		add("Was in doubt", "looked at again")
	}
	if r.Halts != nil && r.Halts.FiresSaid {
		add("Vacuum", "very low for an idle; said: every cylinder fires")
	}
	if r.LevelBy == garage.LevelByOpening {
		add("Levelled", ByOpening)
	}
	if text := NutsWords(r.NutsUnconfirmed); text != "" {
		add("Lock nuts", "%s", text)
	}
	if idle := r.IdleWanted; idle != nil {
		add("Idle wanted", "%.0f to %.0f rpm, on the bike's card", idle.LowRPM, idle.HighRPM)
	}
	for _, e := range r.Effects {
		if v := pressure.KPa(e.KPaPerTurn); !math.IsNaN(float64(v)) {
			add("Turn of "+e.Screw, "%s%s %s clockwise", u.FormatSigned(v), between(v, e.Factor, u), u.Name)
		}
	}
	if v := float64(r.Lambda); !math.IsNaN(v) && v != 0 {
		add("Lambda", "%.3f", v)
	}
	add("Engine ran", "%s", plain.Minutes(r.IdlingSeconds))
	if words := warmthWords[r.Warmth]; words != "" {
		add("Warmth", "%s", words)
	}
	if r.Temperature != "" {
		add("Temperature", "%s", plain.Text(r.Temperature))
	}
	air := pressure.Kilopascal.Format(pressure.KPa(r.AmbientKPa)) + " kPa"
	if r.AltitudeM != nil {
		air += fmt.Sprintf(", %.0f m above the sea", *r.AltitudeM)
	}
	if r.AmbientFrom == garage.AmbientAssumed {
		air += ", only assumed: the vacuums are as far off as the weather is"
	}
	add("Air pressure", "%s", air)
	return facts
}

// between says between which figures one lies, by 95 %, that may be off by a factor.
func between(v pressure.KPa, factor garage.NullFloat, u pressure.Unit) string {
	if f := pressure.KPa(factor); f >= 1 {
		return fmt.Sprintf(" (%s to %s)", u.FormatSigned(v/f), u.FormatSigned(v*f))
	}
	return " or so"
}

// Sensors says what was done to the sensors before a record.
func Sensors(r *garage.SyncRecord) string {
	if r.Zero == nil {
		return NoZero
	}
	text := "sensors zeroed" + dayIfKnown(r.Zero.Time)
	if r.Match != nil {
		text += ", compared" + dayIfKnown(r.Match.Time)
	}
	return text
}

func dayIfKnown(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return " " + plain.Minute(t)
}

// warmthWords say what is known of the engine's warmth.
var warmthWords = map[string]string{garage.WarmthSaid: "warm, as was said",
	garage.WarmthAssumed: "taken to be warm, as its idle held",
	garage.WarmthPassed:  "perhaps cold: its warm-up was passed over"}
