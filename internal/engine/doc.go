// Package engine is the practice engine: an engine whose truth is known, with a
// linkage to turn, sensors, and the exact bytes that a board would send. With the stages
// that it tests it shares package frame alone, which makes those bytes. It is a model of
// what sets the pressure in each runner, not of one make of engine.
//
// In: Config says what is special about a bike, and Scenarios are invented bikes with
// stories; Turn, TurnStop, TurnPilot, LockNut, Start, Stop, Blip, HoldAt and FailSensor
// are what hands do. Out: Engine.Read gives the bytes of firmware-protocol/PROTOCOL.md;
// Truth and OnCycle give what no sensor knows. Begin reading at Engine.Read, then
// Engine.instant (a frame) and Engine.advance (a step), in engine.go.
//
// Inside, units are SI and pressures Pa absolute; angles of crank in degrees from the
// cylinder's firing top dead centre. A constant says beside it whether it is published,
// standard, derived, measured on the model, or chosen.
//
// # Gas, for each cylinder
//
// Butterfly (butterfly.go). Open area of a plate with a shaft in a round bore by its
// angle, closed form of Harrington and Bolt (1970), times a discharge coefficient. The
// flow through an effective area A is
//
//	A p psi(r)/sqrt(R T),  psi = sqrt(2 g/(g-1) (r^(2/g) - r^((g+1)/g))),  g = 1.4
//
// with p, T upstream and r the ratio of the pressures, psi constant (choked) below
// r = 0.5283. As its slope is infinite at r = 1 it is at most in proportion to 1 - r
// there. Flow goes either way. A leak is one more such area, from the air.
//
// Runner (runner.go). A volume of 60 cm3 at a fixed temperature: isothermal, for its
// walls are warm and large for the little gas.
//
//	dm/dt = butterfly + leak - valve - passage,  p = m R T/V
//
// Passages lead from each runner to one small isothermal volume that joins them.
//
// Valve and cylinder (cylinder.go). Valve: curtain area at a squared-sine lift, open for
// 244 degrees, times a published polynomial of the discharge coefficient. Volume by
// slider-crank. While it is open, the first law:
//
//	dU = cp T dm - p dV + h S (Twall - T) dt,  p = (g-1) U/V
//
// with T of where the flow comes from, and Newton's law with a constant h to crown, head
// and liner S. The stroke begins with burnt gas in the clearance, hot and a little above
// ambient, which first blows back: a pulse begins with a small rise. Leaking rings let
// in air from the crankcase. With the valve shut the cylinder is not followed.
//
// # Combustion (combustion.go)
//
// The work of a charge is in proportion to its fresh mass, falls on either side of the
// best mixture as 1 - k (phi - best)^2 with phi = 1/lambda, and scatters from cycle to
// cycle: normally distributed, more with more residual gas and with a mixture off the
// best. Beyond limits of mixture ever more charges do not burn; a misfire has a
// probability of its own. What a combustion leaves behind depends on it, late ones
// leave hotter gas, failed ones cold, and its pressure scatters with the waves in the
// exhaust: so the scatter of one cylinder's draw follows from its own combustion.
// The size is chosen: from cycle to cycle at a healthy idle a difference of draws
// scatters by 0.05 kPa on a four and 0.1 on a twin. A lumpy engine scatters by 15 % in
// work and wanders as an Ornstein-Uhlenbeck process.
//
// Mixture (pilot.go): the pilot screw's turns from its best, times the root of what the
// air is thinner by than at sea level, times the share of air that comes past the
// butterfly and not by a leak.
//
// # Crank (crank.go) and warmth (warmth.go)
//
//	I dw/dt = combustion + gas work on the intake stroke - friction + starter
//
// Combustion gives its work out over half a turn as (1 - cos 2a)/pi; friction is a mean
// pressure, constant and in proportion to speed, and up to 30 % more on a cold engine.
// Idle speed follows, without any controller. The engine's temperature goes to its end
// with a time constant of minutes while it runs, and back slower; friction, runner and
// walls, and the sensors' drift follow it. A cold engine's enrichment is left out.
//
// # Linkage (linkage.go, screw.go)
//
// Screws move plates by an angle in proportion to the turns, with a mild curvature, and
// the plate's area is not in proportion to its angle; size and sign are each bike's own.
// Play holds plates back after a change of direction; a stiff screw's move in jerks; a
// lock nut shifts a setting a little, by chance. The twist grip opens all plates; of
// that a hanging slide lets a part through. A hand on it can hold a speed (grip.go).
//
// # Measuring chain (chain.go, probe.go, board.go)
//
// Hose: a delay and a first-order lag. Sensor: a first-order lag, offset, gain, drift
// with temperature, white noise, the transfer function of a published datasheet,
// ratiometric. Sparks add a voltage that dies away. Converter of 10 to 16 bits;
// channels sampled in turn. The lambda probe has a delay and a lag, on a linear
// controller. Then the frames; the line may lose, repeat or damage them, the board be
// late or start anew.
//
// # Numbers
//
// Midpoint steps of 25 µs where a valve is open, else 125 µs. Halving both moves the
// mean draw at idle by about 0.01 kPa; what enters a runner leaves it or stays to within
// rounding. The integrator settles the published manifold of Crossley and Cook (1991) on
// its algebraic root. One core runs a four more than twenty times faster than
// real time. Random numbers of each use come from a stream of their own by Config.Seed:
// leaving one use out does not change the others.
//
// # Left out
//
// Waves in runner and exhaust; composition of the gas (one gas, air, throughout); flow
// through the exhaust valve, and its overlap with the intake's; fuel on the walls, its
// vapour's share of the charge and its cooling; the pilot circuit's own air and the slides; torque of
// compression and of the closed cylinder; ignition advance; the chokes of a cold engine;
// valve float; the throttle spring; the clock error of the board. No measured trace of
// a runner was at hand: depth and shape of the pulses are the model's, within common
// practice for the mean.
package engine
