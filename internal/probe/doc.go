// Package probe turns the volts of a lambda probe's controller into lambda. Stage is a stage: volts at a time go in
// (Push), what the probe tells comes out (State).
package probe
