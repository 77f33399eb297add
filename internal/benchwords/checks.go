package benchwords

import (
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// CheckWords returns a pre-start check in a few words, and what to do in a sentence or
// two. An unknown one has its name.
func CheckWords(c garage.Check) (short, text string) {
	w, ok := checkWords[c.ID]
	if !ok {
		return plain.Text(c.ID), ""
	}
	fill := strings.NewReplacer("{screws}", plain.Text(plain.And(c.Screws)))
	return fill.Replace(w.short), fill.Replace(w.text)
}

// PartWords is the heading of a part of the pre-start checks.
func PartWords(part string) string {
	switch part {
	case garage.PartBank:
		return "On the bench"
	case garage.PartFuel:
		return "Bank fitted"
	case garage.PartEngine:
		return "The rest of the engine"
	case garage.PartPlace:
		return "Where it is to run"
	}
	return plain.Text(part)
}

// checkWords are common practice, no source.
var checkWords = map[string]struct{ short, text string }{
	garage.CheckBrackets: {"Brackets tight after lining up",
		"Lay the bodies on a flat plate, line them up, then tighten the bracket screws a little at a time, " +
			"crosswise: every butterfly must still shut by itself."},
	garage.CheckFreePlay: {"Slides and butterflies move freely",
		"Open and let go by hand: every slide drops and every butterfly shuts by itself, without a click or a scrape."},
	garage.CheckSprings: {"Springs of the linkage are seated",
		"Look at screws {screws}: spring and plunger sit in their places, and the linkage has no play that you can " +
			"feel."},
	garage.CheckLevelByEye: {"Butterflies alike by eye",
		"Against the light: turn screws {screws} until all leave the same thin gap. Bank already fitted? Press " +
			"! to leave this check undone."},
	garage.CheckThrottleStop: {"Throttle stop holds the butterflies slightly open",
		"Turn the throttle stop in until every butterfly is just open. A rebuilt bank will not idle with them shut."},
	garage.CheckChoke: {"The choke linkage moves all",
		"Pull it: every plunger or flap moves the whole way, and all come back."},
	garage.CheckPilotScrews: {"Pilot screws as you noted them",
		"Seat each lightly, never by force, count out the turns that you noted; spring, washer and O-ring are " +
			"under each."},
	garage.CheckFloats: {"Float needles hold the fuel back",
		"Float heights are as the manual says; with fuel on, nothing overflows in five minutes. Do this outdoors, " +
			"away from flame and sparks."},
	garage.CheckVents: {"Bowl vents are open",
		"Every vent hose is on, open at its end, not pinched, and ends away from hot parts."},
	garage.CheckFuelTees: {"Fuel tees the right way, with O-rings",
		"Each joint between the bodies points the right way, its O-rings are whole, and nothing is wet."},
	garage.CheckDrains: {"Drain screws are tight", "Bowl screws and drains are shut and dry."},
	garage.CheckBoots: {"Intake boots sit and are clamped",
		"No cracks, no gap, clamps tight on engine and bank: a leak there looks like a butterfly that stands open."},
	garage.CheckPorts: {"Vacuum ports: a hose for each, others plugged",
		"A sensor hose is ready for each cylinder's port, numbered from the seated rider's left; every other port is " +
			"plugged."},
	garage.CheckTapHose: {"The fuel tap's vacuum hose is blanked",
		"If the tap works by vacuum: plug its port, set the tap to PRI or feed fuel some other way. As soon as the " +
			"engine stops: to OFF, or to ON if it has no OFF."},
	garage.CheckCables: {"Throttle cables free, with play",
		"The grip snaps back at every position of the handlebar. Once it idles, the speed must not change as the " +
			"bar is turned."},
	garage.CheckFuelFeed: {"Fuel feed is fixed and tight",
		"An auxiliary bottle hangs firmly, above the bank and away from heat and sparks; hoses are clipped; fuel is " +
			"clean."},
	garage.CheckAirFilter: {"A clean air filter is fitted",
		"Levelled without its filter or box, the bank is out again with them."},
	garage.CheckValves: {"Valve clearances are set",
		"On a cold engine, as the manual says. A tight valve looks like an uneven bank."},
	garage.CheckIgnition: {"Spark plugs, leads and battery are good",
		"All cylinders spark; the battery is charged, as the fan and long idling drain it."},
	garage.CheckOil: {"Oil and coolant are at their marks", "The engine will stand and idle for minutes."},
	garage.CheckOutdoors: {"Outdoors",
		"Exhaust holds carbon monoxide, which has no smell: not in a garage, not even with its door open."},
	garage.CheckCooling: {"A fan blows on the engine",
		"An engine that idles without wind overheats in minutes, an air-cooled one first. Keep idling short " +
			"and let it cool."},
	garage.CheckFire: {"Extinguisher at hand, no loose petrol",
		"Wipe up what was spilt; nothing nearby sparks or glows."},
	garage.CheckClear: {"Clear of hot and moving parts",
		"Neutral, on its stand. Hoses, leads, sleeves and hair away from exhaust, chain and fan; hearing protection " +
			"on."},
}
