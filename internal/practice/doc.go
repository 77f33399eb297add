// Package practice is the practice engine in the place of a board and a bike, with somebody's hands on it.
//
// A Bike is an invented bike: the engine of package engine, which turns its screws' positions
// into the bytes that a board would send, and what the display may ask of it. A Mechanic levels
// it as the advice says, a PilotHand trims its pilot screws; Habits make them calm or clumsy.
// Both are told the engine's time and the newest advice, and act on the engine alone.
//
// In: which bike, and whose hands (bike.go). Out: a source of bytes, and turned screws. mechanic.go levels,
// pilots.go and pilothand.go trim, hand.go has all habits and paces. Begin with New, and with Mechanic.Step.
package practice
