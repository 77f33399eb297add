package garage

import (
	"strconv"

	"evendraw/internal/card"
)

// boardText returns the card of a board.
func boardText(b *Board) []byte {
	var w card.Writer
	w.WriteString("# Board card of evendraw. It may be edited with any text editor. Lines that\n" +
		"# begin with # are remarks; the program reads past them and keeps them.\n")
	w.Set("format", strconv.Itoa(cardFormat))
	w.Remark("The board, as it announces itself. Its file is found by the serial.")
	w.Set("serial", card.Text(b.Serial))
	w.Set("model", card.Text(b.Model))
	w.Remark("The kind of sensor on each channel, from channel 0 on. After a change here, make\n" +
		"a new zero pass.")
	w.Optional("sensors", len(b.Sensors) > 0, card.List(b.Sensors, card.Text), `["KIND", "KIND", "KIND", "KIND"]`)
	w.Remark("The sensors' supply in thousandths of a volt. It counts only for a board that does\n" +
		"not measure against that supply itself.")
	w.Set("supply_mv", strconv.Itoa(b.SupplyMV))
	w.Remark("The channel of each hose, hose 1 first: hose 1 goes to cylinder 1 unless the bike's\n" +
		"card says otherwise. Found by evendraw board setup.")
	w.Optional("hoses", len(b.Hoses) > 0, card.List(b.Hoses, strconv.Itoa), "[0, 1, 2, 3]")
	w.Remark("Minutes of a running engine that warm the sensors: a new zero pass is asked for then.")
	w.Optional("warm_up_min", b.WarmUpMin != 0, card.Number(b.WarmUpMin), strconv.Itoa(DefaultWarmUpMin))
	lambdaText(&w, b.Lambda)
	if b.Zero != nil {
		w.Remark("The last zero pass: the air pressure in kPa, what each sensor read above it, and\n" +
			"how sure that is. The program writes this; passes before it go to the end.")
		w.WriteString(zeroPasses.section("[zero]", b.Zero))
	}
	if b.Match != nil {
		w.Remark("The last comparison: by how much each sensor's reading moves when the pressure moves\n" +
			"by one, beside the others. The program writes this; passes before it go to the end.")
		w.WriteString(matchPasses.section("[match]", b.Match))
	}
	for _, z := range b.PreviousZeros {
		w.WriteString("\n" + zeroPasses.section("[["+zeroPasses.previous()+"]]", z))
	}
	for _, m := range b.PreviousMatches {
		w.WriteString("\n" + matchPasses.section("[["+matchPasses.previous()+"]]", m))
	}
	return w.Bytes()
}
