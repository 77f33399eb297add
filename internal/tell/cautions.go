package tell

// MixtureCautions are shown before an engine runs for the mixture's sake. The limits
// of carbon monoxide and of noise are NIOSH's.
var MixtureCautions = []string{
	"Outdoors only. Exhaust holds carbon monoxide, which you can't smell: NIOSH",
	"names 35 ppm over a working day, 200 ppm as a ceiling, 1200 ppm as dangerous",
	"to life at once. A rich mixture gives off several per cent, tens of thousands",
	"of ppm, at the tailpipe.",
	"An engine that idles without wind overheats in minutes: a fan on it, and",
	"pauses to cool down. Exhaust and cylinders burn; chain, fan and wheels move.",
	"Hearing protection: 85 dBA is NIOSH's limit for a working day. The maker's",
	"manual and the law on emissions come first.",
}

// RaisedCautions are shown before the engine is raised.
var RaisedCautions = []string{
	"Outdoors only: carbon monoxide (NIOSH: 200 ppm ceiling, 1200 ppm dangerous at",
	"once). Neutral, firm on its stand, nobody in line with the wheels. It heats",
	"faster than at idle, and is louder: hearing protection (NIOSH: 91 dBA 2 h,",
	"97 dBA 30 min). Some seconds.",
}

// AirCautions are shown before a leak is looked for.
var AirCautions = []string{
	"Water only, a little at a time: never fuel, cleaner or anything else that",
	"burns near a hot engine. Not on spark plugs, coils, exhaust, into intakes;",
	"steam burns. Keep clear of fan, chain and wheels.",
	"Outdoors only: exhaust holds carbon monoxide. The maker's manual comes first.",
}

// SheetCautions stand at the foot of a printed page.
var SheetCautions = []string{
	"Run the engine outdoors only: exhaust holds carbon monoxide, which has no smell.",
	"Keep hands, hair, sleeves, leads and hoses from hot and moving parts, and petrol from heat and sparks. An " +
		"engine that idles without wind overheats in minutes.",
	"These figures are of the day and the engine's warmth then. The maker's manual and the law of the place " +
		"come first; where in doubt, ask a qualified mechanic.",
}
