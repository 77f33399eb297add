package garage

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"evendraw/internal/bank"
)

// tomlText returns s as a TOML string.
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case unicode.IsControl(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// tomlNumber returns v as a TOML number, with all of its digits.
func tomlNumber(v float64) string {
	switch {
	case math.IsNaN(v):
		return "nan"
	case math.IsInf(v, 1):
		return "inf"
	case math.IsInf(v, -1):
		return "-inf"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// tomlList returns a TOML list of values, each made by one.
func tomlList[T any](values []T, one func(T) string) string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = one(v)
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// card writes a card's text.
type card struct{ bytes.Buffer }

// remark writes lines of comment, and an empty line before them.
func (c *card) remark(text string) {
	c.WriteString("\n# " + strings.ReplaceAll(text, "\n", "\n# ") + "\n")
}

func (c *card) set(key, value string) { fmt.Fprintf(c, "%s = %s\n", key, value) }

// bikeText returns the card of a bike.
func bikeText(b *Bike) []byte {
	var c card
	c.WriteString("# Bike card of evendraw. It may be edited with any text editor. Lines that\n" +
		"# begin with # are remarks; the program reads past them and keeps them.\n")
	c.set("format", strconv.Itoa(cardFormat))
	c.remark("The bike's name, as you choose it with --bike.")
	c.set("name", tomlText(b.Name))
	c.bank(&b.Bank)
	c.remark("The cylinder that the others are compared with.")
	c.set("reference", strconv.Itoa(b.Reference))
	c.remark("The unit to show pressures in: kPa, mbar, mmHg, cmHg or inHg.")
	c.set("unit", tomlText(b.Unit))
	c.remark("Spread is the largest minus the smallest draw of the cylinders, in kPa. With a\n" +
		"spread below the limit the bank passes; the bike's manual may give a figure\n" +
		"(1 kPa = 7.5 mmHg = 10 mbar; a limit of 2.7, which is 20 mmHg, is common practice,\n" +
		"no source). The advice goes on until the aim is reached (0.5 is chosen).")
	c.set("limit_kpa", tomlNumber(float64(b.LimitKPa)))
	c.set("aim_kpa", tomlNumber(float64(b.AimKPa)))
	c.remark("The idle speed with a warm engine, in revolutions a minute, from low to high.")
	c.optional("idle_rpm_low", b.IdleRPMLow != 0, b.IdleRPMLow, 1000)
	c.optional("idle_rpm_high", b.IdleRPMHigh != 0, b.IdleRPMHigh, 1100)
	c.tune(&b.Tune)
	c.remark("How many metres your place lies above the sea. It stands in for the air pressure\n" +
		"while there is no zero pass.")
	altitude := 0.0
	if b.AltitudeM != nil {
		altitude = *b.AltitudeM
	}
	c.optional("altitude_m", b.AltitudeM != nil, altitude, 250)
	c.remark("Anything else worth knowing.")
	c.set("note", tomlText(b.Note))
	c.screws(b.Bank.Screws)
	return c.Bytes()
}

// optional writes a key whose value may be unknown: then an example in a
// remark.
func (c *card) optional(key string, known bool, value, example float64) {
	if !known {
		c.WriteString("# ")
		value = example
	}
	c.set(key, tomlNumber(value))
}

func (c *card) bank(b *bank.Bank) {
	c.remark("How many cylinders, 2 to 4. They are numbered from 1, from the seated\n" +
		"rider's left; for a vee as the maker's manual numbers them.")
	c.set("cylinders", strconv.Itoa(b.Cylinders))
	c.remark("The board's channel of each cylinder, from cylinder 1 on; channels count from 0.")
	c.set("channels", tomlList(b.Channels, strconv.Itoa))
	c.remark("The cylinders in the order in which they fire.")
	c.set("firing_order", tomlList(b.FiringOrder, strconv.Itoa))
	c.remark("When each of them fires, in degrees of crank after the first, 720 being one cycle.\n" +
		"Leave it out for an engine that fires evenly.")
	if b.FiringAngles == nil {
		c.WriteString("# firing_angles = [0, 270]\n")
	} else {
		c.set("firing_angles", tomlList(b.FiringAngles, tomlNumber))
	}
	c.remark("The cylinder whose carburettor carries the throttle stop: no synchronising screw\n" +
		"should move it.")
	c.set("root", strconv.Itoa(b.Root))
}

func (c *card) screws(screws []bank.Screw) {
	c.remark("The synchronising screws, one [[screw]] each, and one fewer than cylinders: the name\n" +
		"says what the screw sits between, moves lists the cylinders whose butterflies it\n" +
		"moves. " + effectKey + " is the change in draw of these cylinders per turn\n" +
		"clockwise, as seen looking at the screw's head, in kPa, negative when the draw gets\n" +
		"smaller; the program learns it and writes it here. Without it, the program finds out.")
	for i, s := range screws {
		if i > 0 {
			c.WriteString("\n")
		}
		c.WriteString("[[screw]]\n")
		c.set("name", tomlText(s.Name))
		c.set("moves", tomlList(s.Moves, strconv.Itoa))
		if s.EffectKPaPerTurn != 0 {
			c.set(effectKey, tomlNumber(s.EffectKPaPerTurn))
		}
	}
}
