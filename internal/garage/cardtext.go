package garage

import (
	"bytes"
	_ "embed" // the templates
	"strconv"

	"evendraw/internal/card"
)

// Templates of new cards, as card.Fill takes them: each with all keys and remarks.
var (
	//go:embed bike.toml
	bikeTemplate string
	//go:embed board.toml
	boardTemplate string
)

// bikeText returns the card of a bike.
func bikeText(b *Bike) []byte {
	v := card.Values{"format": strconv.Itoa(newestFormat), "name": card.Text(b.Name), "note": card.Text(b.Note),
		"cylinders": strconv.Itoa(b.Bank.Cylinders), "channels": card.List(b.Bank.Channels, strconv.Itoa),
		"firing_order": card.List(b.Bank.FiringOrder, strconv.Itoa), "root": strconv.Itoa(b.Bank.Root),
		"reference": strconv.Itoa(b.Reference), "unit": card.Text(b.Unit), "limit_kpa": card.Number(b.LimitKPa),
		"aim_kpa": card.Number(b.AimKPa), "idling_limit_min": card.Number(b.IdlingLimitMin),
		"level_by": card.Text(b.LevelBy), "raised_rpm": card.Number(b.RaisedRPM),
		"stoichiometric_afr": card.Number(b.StoichAFR)}
	v.Optional("firing_angles", b.Bank.FiringAngles != nil, card.List(b.Bank.FiringAngles, card.Number))
	v.Optional("lock_nuts", b.Bank.NoLockNuts, card.Text("no"))
	v.Optional("compare_with", b.ByMean, card.Text("mean"))
	v.Optional("idle_rpm_low", b.IdleRPMLow != 0, card.Number(b.IdleRPMLow))
	v.Optional("idle_rpm_high", b.IdleRPMHigh != 0, card.Number(b.IdleRPMHigh))
	v.Optional("stop_effect_rpm_per_turn", b.StopEffectRPMPerTurn != 0, card.Number(b.StopEffectRPMPerTurn))
	v.Optional(handLateKey, b.HandLateS != 0, card.Number(b.HandLateS))
	v.Optional(handRunOnKey, b.HandLateS != 0, card.Number(b.HandRunOnTurns))
	v.Optional("pilot_screws", b.PilotScrews != "", card.Text(b.PilotScrews))
	v.Optional("lambda_target", b.LambdaTarget != 0, card.Number(b.LambdaTarget))
	if b.AltitudeM != nil {
		v["altitude_m"] = card.Number(*b.AltitudeM)
	}
	text := bytes.NewBufferString(card.Fill(bikeTemplate, v))
	for i, s := range b.Bank.Screws {
		if i > 0 {
			text.WriteString("\n")
		}
		fields := []card.Field{{"name", card.Text(s.Name)}, {"moves", card.List(s.Moves, strconv.Itoa)}}
		if s.EffectKPaPerTurn != 0 {
			fields = append(fields, card.Field{effectKey, card.Number(s.EffectKPaPerTurn)})
		}
		text.WriteString(card.Section("[[screw]]", fields, "\n"))
	}
	return text.Bytes()
}

// boardText returns the card of a board.
func boardText(b *Board) []byte {
	v := card.Values{"format": strconv.Itoa(newestFormat), "serial": card.Text(b.Serial), "model": card.Text(b.Model),
		"supply_mv": strconv.Itoa(b.SupplyMV)}
	v.Optional("sensors", len(b.Sensors) > 0, card.List(b.Sensors, card.Text))
	v.Optional("hoses", len(b.Hoses) > 0, card.List(b.Hoses, strconv.Itoa))
	v.Optional("warm_up_min", b.WarmUpMin != 0, card.Number(b.WarmUpMin))
	if l := b.Lambda; l != nil {
		v["[lambda]"], v["channel"] = "", strconv.Itoa(l.Channel)
		v["low_v"], v["high_v"] = card.Number(l.LowV), card.Number(l.HighV)
		v["low_lambda"], v["high_lambda"] = card.Number(l.LowLambda), card.Number(l.HighLambda)
	}
	text := bytes.NewBufferString(card.Fill(boardTemplate, v))
	if b.Zero != nil {
		text.WriteString("\n# The last zero pass: the air pressure in kPa, what each sensor read above it, and\n" +
			"# how sure that is. The program writes this; passes before it go to the end.\n" +
			zeroPasses.section("[zero]", b.Zero))
	}
	if b.Match != nil {
		text.WriteString("\n# The last comparison: by how much each sensor's reading moves when the pressure moves\n" +
			"# by one, beside the others. The program writes this; passes before it go to the end.\n" +
			matchPasses.section("[match]", b.Match))
	}
	for _, z := range b.PreviousZeros {
		text.WriteString("\n" + zeroPasses.section("[["+zeroPasses.previous()+"]]", z))
	}
	for _, m := range b.PreviousMatches {
		text.WriteString("\n" + matchPasses.section("[["+matchPasses.previous()+"]]", m))
	}
	return text.Bytes()
}
