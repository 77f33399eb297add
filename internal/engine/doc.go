// Package engine is the practice engine: an engine whose truth is known, with a
// linkage to turn, sensors, and the exact bytes that a board would send. It shares
// no code with the stages that it tests. This is a first, honest model of what
// sets the pressure in each runner; it is no model of one make of engine.
//
// Engine.Read gives the bytes of firmware-protocol/PROTOCOL.md; Turn, TurnStop,
// Start, Stop and Blip act; Truth and OnCycle tell what no sensor knows.
//
// # Model
//
// Inside, units are SI and pressures Pa absolute. For each cylinder:
//
//   - Butterfly (butterfly.go): open area of a plate in a round bore by its angle,
//     closed form of Harrington and Bolt (1970), times a discharge coefficient.
//     Flow A p psi(r)/sqrt(R T), psi the isentropic nozzle function for gamma 1.4,
//     choked below r = 0.5283, at most in proportion to 1 - r close to r = 1. It
//     may go either way.
//   - Runner (runner.go): a volume of 60 cm3 at a fixed temperature: isothermal,
//     for its walls are warm and large for the little gas. dm/dt = in - out,
//     p = m R T/V.
//   - Valve and cylinder (cylinder.go): an orifice with a squared-sine lift, open
//     for 244 degrees of crank; volume by slider-crank; first law without heat to
//     the walls, dU = cp T dm - p dV. The clearance begins with burnt gas at
//     ambient pressure. With the valve shut the cylinder is not followed.
//   - Combustion (crank.go): work in proportion to the fresh charge, with scatter
//     from cycle to cycle, given out over half a turn.
//
// Crank (crank.go): I dw/dt = combustion + gas work on the intake stroke - friction
// (constant and in proportion to speed) + starter. Idle speed follows from it.
//
// Linkage (linkage.go): screws move plates by an angle in proportion to the turns,
// with a mild curvature; size and sign are each bike's own. Measuring chain
// (chain.go): hose and sensor as first-order lags, offset, gain, noise, a
// ratiometric transfer function and a converter; channels sampled in turn.
//
// Midpoint steps of 25 µs where a valve is open, else 125 µs.
//
// # Left out
//
// Waves in the runner; heat to the cylinder's walls; fuel, its vapour and mixture;
// the pilot circuit's air; residual gas other than the clearance's, and the exhaust;
// compression's torque and misfire; warming up; slides; vacuum pipes between
// runners; play, lock nuts and spring of the linkage; drift of sensors and of the
// board's clock; missed instants.
package engine
