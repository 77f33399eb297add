// Package learned is what a levelling learns of the screws and of the hand that turns them.
//
// A Screw is the direction of a synchronising screw, as odds, and the size of its effect, kPa of draw a turn, whose
// logarithm is taken as normally distributed: each turn that was told and seen moves the mean by its share of what is
// not known, as a Kalman filter of one figure does. Amounts reckons from what was told and what came of it how far a
// screw was turned in all, and says where amounts may have been made in part. A Hand is how long a user turns on after
// the word to stop, at which pace, and how long the way to a screw takes; Motion follows what it moves.
//
// What comes in are changes of draw in kPa, turns and seconds; package balance says when. Begin with Screw.
package learned
