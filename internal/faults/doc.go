// Package faults finds the cylinders of an engine that look ill in a way that no synchronising screw mends: one that
// misfires, or does not fire, one whose draw does not fit its butterfly's opening, a channel that shows less than its
// cylinder does, a hose that is half blocked. It says when each is told, and that once, or until it is mended or put
// aside.
//
// What comes in are cycles (Cylinders.Push) and what a reading tells of them (Cylinders.Diagnose); what goes out are
// advices of package advice, in no words. Begin with Cylinders.
package faults
