// Package practice is the practice engine in the place of a board and a bike, with somebody's
// hands on it.
//
// A Bike is an invented bike: the engine of package engine, which turns its screws' positions
// into the bytes that a board would send, and what the display may ask of it. A Mechanic levels
// it as the advice says, a PilotHand trims its pilot screws.
//
// Begin with New, and with Mechanic.Step.
package practice
