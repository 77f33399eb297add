// Package balance turns engine cycles into a reading of the bank, with its uncertainty, and into
// advice: the one thing to do next. It learns what each screw does from what its turning does. It
// holds no wording, only the constants of package advice.
//
// In comes a cycle.Span: one engine cycle, with every cylinder's mean pressure, or a stretch
// without one. Out goes a Reading: draws, differences, spread, openings, and an advice.Advice. Begin
// with New and Balance.Push.
//
// The equation. A screw s must change the draw d(c) of each cylinder c that it moves by x(s), which is what
// is wanted of it, so that all cylinders end at one draw m:
//
//	d(c) + Σ M(c,s) x(s) = m,   M(c,s) = 1 where screw s moves cylinder c, else 0
//
// A bank of n cylinders has n-1 screws: the matrix [M | 1] is square, and its inverse gives x and -m
// (package linkage). Draws are scaled to a mean of 25 kPa first, so that an idle that wanders moves
// nothing ("scaled", window.go).
//
// What happens to a cycle, in order:
//
//	speed.go       says whether the speed is steady
//	balance.go     leaves out what a misfire spoils (misfire.go), keeps the rest
//	window.go      averages over the cycles since something last changed (package series: intervals)
//	gate.go        says what stands in the way of advice: a fault, a cold or hot engine, a blip
//	               (packages faults, warmup and hoses)
//	unsettled.go   says what needs no settled speed: the first screw after a start, a bank that is level after
//	               its blip
//	advise.go      chooses a screw: package linkage looks for the fewest screws that level the bank, and the one of
//	               them that is farthest off is named
//	telling.go     says how far to turn it: a little where nothing is known, an amount, or until told
//	               to stop
//	asking.go      waits for that screw to move
//	turning.go     follows the screw while it is turned, with what is held of its effect and of the hand
//	               (package learned), and of how it moves all cylinders (package linkage)
//	check.go       has the lock nut of a screw that came right tightened, and a level bank blipped
//	halt.go        stops a levelling that hides a leak, and a screw that nothing answers to
package balance
