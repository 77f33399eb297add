package garage

import (
	"strconv"
	"strings"
	"time"

	"evendraw/internal/pressure"
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
	c.lambda(b.Lambda)
	if b.Zero != nil {
		c.remark("The last zero pass: the air pressure in kPa, what each sensor read above it, and\n" +
			"how sure that is. The program writes this; passes before it go to the end.")
		c.WriteString(zeroSection("[zero]", b.Zero, "\n"))
	}
	return c.Bytes()
}

// keyValue is a key of a card and its value in TOML.
type keyValue struct{ key, value string }

func zeroFields(z *ZeroCard) []keyValue {
	kPa := func(v pressure.KPa) string { return tomlNumber(float64(v)) }
	return []keyValue{
		{"time", z.Time.UTC().Format(time.RFC3339)},
		{"ambient_kpa", kPa(z.AmbientKPa)},
		{"offsets_kpa", tomlList(z.OffsetsKPa, kPa)},
		{"uncertainty_kpa", tomlList(z.UncertaintyKPa, kPa)},
		{"samples", strconv.Itoa(z.Samples)},
		{"sensors", tomlList(z.Sensors, tomlText)},
	}
}

// zeroSection returns a zero pass as a table under that header.
func zeroSection(header string, z *ZeroCard, newline string) string {
	var b strings.Builder
	b.WriteString(header + newline)
	for _, f := range zeroFields(z) {
		b.WriteString(f.key + " = " + f.value + newline)
	}
	return b.String()
}
