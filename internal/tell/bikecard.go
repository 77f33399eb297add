package tell

import (
	"fmt"
	"io"
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// BikeCard prints all of a bike's card, which is in the file path, and the defaults in force for what it leaves out.
func BikeCard(out io.Writer, b *garage.Bike, path string) {
	fmt.Fprintln(out, plain.Text(b.Name))
	row := func(name, format string, args ...any) {
		fmt.Fprintf(out, "  %s%s\n", pad(name, cardColumn), fmt.Sprintf(format, args...))
	}
	row("card", "%s", path)
	bankRows(row, b)
	row("shown in", "%s", b.Unit)
	row("aim", "%g kPa%s, limit %g kPa%s", float64(b.AimKPa), besides(b.AimKPa, b), float64(b.LimitKPa),
		besides(b.LimitKPa, b))
	row("level by", "%s", map[string]string{garage.LevelByDraw: "the vacuum (draw)",
		garage.LevelByOpening: "how far the butterflies are open (opening)"}[b.LevelBy])
	row("idle speed", "%s", orUnknown(b.IdleRPMLow != 0, "%g to %g rpm", b.IdleRPMLow, b.IdleRPMHigh))
	row("idling", "%g min, then it is to cool", b.IdlingLimitMin)
	row("stop's effect", "%s", orUnknown(b.StopEffectRPMPerTurn != 0, "%+.0f rpm per clockwise turn",
		b.StopEffectRPMPerTurn))
	row("pilot screws", "%s", orUnknown(b.PilotScrews != "", "%s", pilotKinds[b.PilotScrews]))
	row("raised look", "at %g rpm", b.RaisedRPM)
	row("lambda", "%s; stoichiometric air/fuel ratio %g", orUnknown(b.LambdaTarget != 0, "%g wanted", b.LambdaTarget),
		b.StoichAFR)
	height := 0.0
	if b.AltitudeM != nil {
		height = *b.AltitudeM
	}
	row("altitude", "%s", orUnknown(b.AltitudeM != nil, "%g m", height))
	row("your hand", "%s", orUnknown(b.HandLateS+b.HandRunOnTurns != 0,
		"turns on for %.2g s after the word to stop, and then by %.2g turns", b.HandLateS, b.HandRunOnTurns))
	for _, line := range strings.Split(strings.TrimRight(b.Note, "\n"), "\n") {
		if line != "" {
			row("note", "%s", plain.Text(line))
		}
	}
}

// cardColumn is the column of what a row of a card says. Chosen: the longest name and a gap.
const cardColumn = 15

// pilotKinds say what the kinds of pilot screws are.
var pilotKinds = map[string]string{garage.FuelScrews: "fuel screws: out is richer",
	garage.AirScrews: "air screws: out is leaner"}

// orUnknown is a text where it is known.
func orUnknown(known bool, format string, args ...any) string {
	if !known {
		return "unknown"
	}
	return minus(format, args...)
}

// list writes numbers with commas between.
func list[T int | float64](numbers []T) string {
	return strings.ReplaceAll(strings.Trim(fmt.Sprint(numbers), "[]"), " ", ", ")
}

// bankRows print cylinders and screws.
func bankRows(row func(name, format string, args ...any), b *garage.Bike) {
	firing := "evenly"
	if b.Bank.FiringAngles != nil {
		firing = "at " + list(b.Bank.FiringAngles) + " degrees of crank"
	}
	row("cylinders", "%d, firing order %s, %s", b.Bank.Cylinders,
		strings.ReplaceAll(list(b.Bank.FiringOrder), ", ", "-"), firing)
	row("channels", "%s, from cylinder 1 on", list(b.Bank.Channels))
	shown := fmt.Sprintf("cylinder %d", b.Reference)
	if b.ByMean {
		shown = "the mean of all cylinders"
	}
	row("reference", "%s, throttle stop on %d", shown, b.Bank.Root)
	for _, s := range b.Bank.Screws {
		effect := "effect unknown: a first turn will show it"
		if s.EffectKPaPerTurn != 0 {
			effect = minus("about %+.1f kPa", s.EffectKPaPerTurn) + besides(pressure.KPa(s.EffectKPaPerTurn), b) +
				" of vacuum per clockwise turn"
		}
		row("screw "+plain.Text(s.Name), "moves %s, %s", plain.AndNumbers(s.Moves), effect)
	}
	nuts := "yes, on the synchronising screws"
	if b.Bank.NoLockNuts {
		nuts = "none on the synchronising screws"
	}
	row("lock nuts", "%s", nuts)
}

// besides is a pressure of a card, which stands there in kPa, in the unit that the bike is shown in: " (3.8 mmHg)"; ""
// where that is kPa too.
func besides(p pressure.KPa, b *garage.Bike) string {
	u, err := pressure.ParseUnit(b.Unit)
	if err != nil || u == pressure.Kilopascal {
		return ""
	}
	return " (" + u.Format(p) + " " + u.Name + ")"
}
