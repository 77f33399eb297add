package suspects

// Start is for a first start that fails: what to look at, in order, the dangerous first. Common practice, no source.
var Start = []string{
	"It floods or smells of petrol: engine off, bottle and tap shut, no spark near, wipe up; a float needle leaks. " +
		"Petrol in the oil or in a cylinder? Don't crank it: take the " +
		"spark plugs out, draw the petrol out with a syringe, let it dry, change the oil. Only then crank it.",
	"It will not start:",
	"  1  stop switch, neutral, battery",
	"  2  fuel in every bowl: bottle or tap open, its hose, floats",
	"  3  choke fully on, throttle shut",
	"  4  spark: no petrol near; pull the cap off, leave its plug in the engine; push a spare plug into the cap, " +
		"lay it on bare metal; hands off plug and lead, then crank",
	"  5  pilot jets and passages",
	"  6  butterflies too far shut: throttle stop 1/2 turn in, back when it runs",
	"One pipe stays cold (don't touch: drops of water hiss on a hot one):",
	"  1  its spark plug, cap and lead, engine off",
	"  2  fuel in its bowl",
	"  3  its pilot screw and jet",
	"  4  its boot and port plug",
	"The idle hangs high:",
	"  1  choke still on; a cable that pulls: turn the handlebar left and right",
	"  2  throttle stop too far in",
	"  3  a leak: boot, clamp, port plug",
	"  4  a lean pilot mixture, a slide or butterfly that sticks",
	"",
}
