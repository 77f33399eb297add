// Package cycle cuts samples into engine cycles.
//
// In: sensor.Samples, absolute pressures in kPa of one to eight channels. Out: Spans, one for each
// engine cycle while the engine turns, one for each quarter of a second while it doesn't. A Span
// has each cylinder's mean pressure over exactly one cycle,
//
//	mean = 1/T ∫ p dt  from one boundary to the next, T apart,
//
// the speed, each butterfly's opening, each hose's lag, and the health of each channel. It is
// handed out nearly half a cycle after its end. Begin reading at Tracker.Push in tracker.go.
//
// # The way of a sample
//
//  1. history.go keeps it; despike.go takes ignition spikes out, a few samples behind the newest.
//  2. acquire.go finds the period T: the shortest shift at which all channels repeat.
//  3. follow.go finds each boundary: the same angle of the crank as the last one.
//  4. tracker.go cuts the cycle there, takes the means and undoes the hoses' lags in them.
//     Where the input ends soon after its start, finish.go looks through all of it once more.
//  5. health.go judges the channels; beat.go tells when each cylinder draws, and package misfire what the
//     spacing of that says of the pushes on the crank.
//
// # The match of a boundary
//
// A boundary t and a period are fitted by least squares to the half cycle around t, all cylinders
// together. Each cylinder has a usual course k, by x = (time - t)/T, and a level of its own. No two dips
// are alike: m, the mode, is how the course changes where a dip is stronger, and a how much stronger
// this one is:
//
//	y(x) = level + k(x) + a m(x)
//
// match.go has the normal equations. What y, k and m are, differs:
//
//   - Volumes (intake.go), the main match. A runner's pressure P, a ratio to ambient, falls by what
//     its cylinder takes in and rises by what its butterfly lets through. The volume that was taken
//     in, in volumes of the runner, is
//
//     V = pace ∫ psi(P)/P dt - ln P,   psi: the flow function of a nozzle
//
//     In V a strong dip is a usual one times a factor, so that the mode is the course itself, m = k.
//     This match needs a refill whose pace is known, and samples that are dense enough.
//
//   - Pressures (template.go), the fallback, and the only match in the first cycles. k and m are
//     learned from the last cycles. The depth of the dips next to the boundary shows most of a
//     beforehand (strength.go): a strong dip moves its flanks as the crank does, but its depth knows
//     nothing of time.
//
// Where neither fits, follow.go looks further off, then leaves one cylinder out, and in the end
// uses the prediction.
//
// # Refills
//
// Between intake strokes the runner refills through its butterfly alone, P' = pace psi(P), and what
// the sensor feels follows it by y' = (P - y)/lag. refill.go takes the mean of the refills of a
// cylinder, course.go fits pace and lag to that mean, lag.go decides which lags are used, and
// opening.go takes each cycle's pace, which is in proportion to the area of the butterfly. Package nozzle
// has psi. jet.go looks for a small jet in the hose, which passes pressure on otherwise.
package cycle
