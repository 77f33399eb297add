// Package view holds the state of the display as plain data, and the words of the live screen. It draws nothing.
//
// In come events: Tick with the session's newest Snapshot, KeyPress, and news from the program. Out
// goes the next View, with Wants, what it asks the program to do:
//
//	v = view.Update(v, event)    v.Wants: save, zero, turn the practice engine's screw, quit ...
//
// Picture turns a View into the texts and marks that a screen shows; Line makes a plain line of it.
// Begin with Update in view.go.
//
//	flow.go, keys.go, lists.go                the state: the steps of the job, the keys, what is remembered
//	picture.go, lanes.go, waves.go            what the screen shows
//	phone.go                                  the page for phones
//	words.go, stepwords.go, tunesteps.go,     advice and steps in sentences
//	  mixture_words.go
//	faultwords.go, heat_words.go,             faults; heat; a levelling that is stopped; an air leak
//	  halt_words.go, air_words.go
//	wordhold.go                               how long a large word stands
//	board_words.go                            words on the board
//	lines.go                                  the plain line
//
// The words hang on the constants of advice, cycle, sensor, mixture and garage, never on their spelling.
package view
