// Package bikeform asks what a new bike's card is to say, in a terminal and on the screen alike.
//
// In: a bike as far as it is known, and what people type. Out: the answer to offer, and the bike with an answer taken,
// or an error for people. Begin with Question.
package bikeform
