package garage

import (
	"strconv"
)

// boardText returns the card of a board.
func boardText(b *Board) []byte {
	var c card
	c.WriteString("# Board card of evendraw. It may be edited with any text editor. Lines that\n" +
		"# begin with # are remarks; the program reads past them and keeps them.\n")
	c.set("format", strconv.Itoa(cardFormat))
	c.remark("The board, as it announces itself. Its file is found by the serial.")
	c.set("serial", tomlText(b.Serial))
	c.set("model", tomlText(b.Model))
	c.remark("The kind of sensor on each channel, from channel 0 on. After a change here, make\n" +
		"a new zero pass.")
	if len(b.Sensors) == 0 {
		c.WriteString(`# sensors = ["KIND", "KIND", "KIND", "KIND"]` + "\n")
	} else {
		c.set("sensors", tomlList(b.Sensors, tomlText))
	}
	c.remark("The sensors' supply in thousandths of a volt. It counts only for a board that does\n" +
		"not measure against that supply itself.")
	c.set("supply_mv", strconv.Itoa(b.SupplyMV))
	c.remark("The channel of each hose, hose 1 first: hose 1 goes to cylinder 1 unless the bike's\n" +
		"card says otherwise. Found by evendraw board setup.")
	if len(b.Hoses) == 0 {
		c.WriteString("# hoses = [0, 1, 2, 3]\n")
	} else {
		c.set("hoses", tomlList(b.Hoses, strconv.Itoa))
	}
	c.remark("Minutes of a running engine that warm the sensors: a new zero pass is asked for then.")
	if b.WarmUpMin == 0 {
		c.WriteString("# warm_up_min = " + strconv.Itoa(DefaultWarmUpMin) + "\n")
	} else {
		c.set("warm_up_min", tomlNumber(b.WarmUpMin))
	}
	c.lambda(b.Lambda)
	if b.Zero != nil {
		c.remark("The last zero pass: the air pressure in kPa, what each sensor read above it, and\n" +
			"how sure that is. The program writes this; passes before it go to the end.")
		c.WriteString(zeroPasses.section("[zero]", b.Zero, "\n"))
	}
	if b.Match != nil {
		c.remark("The last match pass: by how much each sensor's reading moves when the pressure moves\n" +
			"by one, beside the others. The program writes this; passes before it go to the end.")
		c.WriteString(matchPasses.section("[match]", b.Match, "\n"))
	}
	for _, z := range b.PreviousZeros {
		c.WriteString("\n" + zeroPasses.section("[["+zeroPasses.previous()+"]]", z, "\n"))
	}
	for _, m := range b.PreviousMatches {
		c.WriteString("\n" + matchPasses.section("[["+matchPasses.previous()+"]]", m, "\n"))
	}
	return c.Bytes()
}

// keyValue is a key of a card and its value in TOML.
type keyValue struct{ key, value string }
