package garage

import (
	"strconv"

	"evendraw/internal/bank"
	"evendraw/internal/card"
)

// bikeText returns the card of a bike.
func bikeText(b *Bike) []byte {
	var w card.Writer
	w.WriteString("# Bike card of evendraw. It may be edited with any text editor. Lines that\n" +
		"# begin with # are remarks; the program reads past them and keeps them.\n")
	w.Set("format", strconv.Itoa(cardFormat))
	w.Remark("The bike's name, as you choose it with --bike.")
	w.Set("name", card.Text(b.Name))
	bankText(&w, &b.Bank)
	w.Remark("The cylinder that the others are compared with: best the root, which no screw moves.")
	w.Set("reference", strconv.Itoa(b.Reference))
	w.Remark("What the screen shows differences from: the reference, or the mean of all cylinders,\n" +
		"as key 0 does there.")
	w.Optional("compare_with", b.ByMean, card.Text("mean"), card.Text("mean"))
	w.Remark("The unit to show pressures in: kPa, mbar, mmHg, cmHg or inHg.")
	w.Set("unit", card.Text(b.Unit))
	w.Remark("Spread is the largest minus the smallest vacuum of the cylinders, in kPa. With a\n" +
		"spread below the limit the bank passes; the bike's manual may give a figure\n" +
		"(1 kPa = 7.5 mmHg = 10 mbar; a limit of 2.7, which is 20 mmHg, is common practice,\n" +
		"no source). The advice goes on until the aim is reached (0.5 is chosen).")
	w.Set("limit_kpa", card.Number(b.LimitKPa))
	w.Set("aim_kpa", card.Number(b.AimKPa))
	w.Remark("The idle speed with a warm engine, in revolutions a minute, from low to high.")
	w.Optional("idle_rpm_low", b.IdleRPMLow != 0, card.Number(b.IdleRPMLow), "1000")
	w.Optional("idle_rpm_high", b.IdleRPMHigh != 0, card.Number(b.IdleRPMHigh), "1100")
	tuneText(&w, &b.Tune)
	w.Remark("How many metres your place lies above the sea. It stands in for the air pressure\n" +
		"while there is no zero pass.")
	altitude := 0.0
	if b.AltitudeM != nil {
		altitude = *b.AltitudeM
	}
	w.Optional("altitude_m", b.AltitudeM != nil, card.Number(altitude), "250")
	w.Remark("Anything else worth knowing.")
	w.Set("note", card.Text(b.Note))
	screwsText(&w, b.Bank.Screws)
	return w.Bytes()
}

func bankText(w *card.Writer, b *bank.Bank) {
	w.Remark("How many cylinders, 2 to 4. They are numbered from 1, from the seated\n" +
		"rider's left; for a vee as the maker's manual numbers them.")
	w.Set("cylinders", strconv.Itoa(b.Cylinders))
	w.Remark("The board's channel of each cylinder, from cylinder 1 on; channels count from 0.")
	w.Set("channels", card.List(b.Channels, strconv.Itoa))
	w.Remark("The cylinders in the order in which they fire.")
	w.Set("firing_order", card.List(b.FiringOrder, strconv.Itoa))
	w.Remark("When each of them fires, in degrees of crank after the first, 720 being one cycle.\n" +
		"Leave it out for an engine that fires evenly.")
	w.Optional("firing_angles", b.FiringAngles != nil, card.List(b.FiringAngles, card.Number), "[0, 270]")
	w.Remark("The cylinder whose carburettor carries the throttle stop: no synchronising screw\n" +
		"should move it.")
	w.Set("root", strconv.Itoa(b.Root))
	w.Remark("Whether the synchronising screws have lock nuts, which are loosened before a turn and\n" +
		"tightened after it: yes is common practice, no source.")
	w.Optional("lock_nuts", b.NoLockNuts, card.Text("no"), card.Text("no"))
}

func screwsText(w *card.Writer, screws []bank.Screw) {
	w.Remark("The synchronising screws, one [[screw]] each, and one fewer than cylinders: the name\n" +
		"says what the screw sits between, moves lists the cylinders whose butterflies it\n" +
		"moves. " + effectKey + " is the change in vacuum of these cylinders per turn\n" +
		"clockwise, as seen looking at the screw's head, in kPa, negative when the vacuum gets\n" +
		"smaller; the program learns it and writes it here. Without it, the program finds out.")
	for i, s := range screws {
		if i > 0 {
			w.WriteString("\n")
		}
		w.WriteString("[[screw]]\n")
		w.Set("name", card.Text(s.Name))
		w.Set("moves", card.List(s.Moves, strconv.Itoa))
		if s.EffectKPaPerTurn != 0 {
			w.Set(effectKey, card.Number(s.EffectKPaPerTurn))
		}
	}
}
