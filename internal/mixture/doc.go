// Package mixture sets what comes after levelling: the idle speed by the throttle stop, and the pilot screws one by one
// for the highest idle speed. It holds no wording, only the constants of package advice.
//
// IdleSpeed and Trim are stages. In comes a cycle.Span (Push); out goes a state: the figures so far and an
// advice.Advice, the one thing to do next. Begin with NewIdleSpeed, which Trim needs as well.
//
// The equation. At a setting of a pilot screw the idle speed of cycle k is
//
//	w(k) = (1-q) w(k-1) + f (w(k-1) - w(k-2)) + a + d t + scatter
//
// with q how much of a speed is lost from cycle to cycle, f how a change goes on, a the setting's own level, and d the
// drift over the time t (curve.go; the fit, with what is believed before any data, in fit.go). Which laws the settled
// levels may follow is asked after that: falls of any size, flat to the rich side and steep to the lean one by any
// skew, each weighed by how well it fits (law.go, weigh.go), and by what the other cylinders told of the engine's
// (alike.go). Where their peaks lie is where the screw is set, and the interval round that is told.
//
//	idle.go     the throttle stop: look, ask for a turn, follow it, let the speed settle, learn
//	idlelearn.go  what a turn of it did, and one that led away
//	speed.go    the last cycles' speeds: mean, standard error, slope
//	trim.go     the steps of a trim: idle, base speed, then turn and watch, then set
//	turn.go     a turn that is told: confirmed, or asked for again; corrected
//	sure.go     how far in a screw surely may be turned; whether the idle moves by itself
//	slip.go     which confirmed turns were surely made, and whether one surely was not
//	takes.go    how long screws will take
//	rest.go     the cool-down between two screws where they do not fit the budget of idling
//	touch.go    a throttle stop that is touched meanwhile
//	watch.go    the look at a setting; stalled.go: one that the engine does not bear
//	seek.go     which setting to look at next, and when a peak is sure
//	promise.go  what a look at a setting would tell
//	again.go    screws that are set anew at the end, by what the others told since
//	held.go     the speed at a screw that was set against what was foretold
//	target.go   the owner's lambda instead of the peak
//	lambda.go   what the probe told at each setting
package mixture
