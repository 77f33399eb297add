// Package benchwords names what is done and noted on the bench, for the screen, the printed sheet and plain lines: the
// pre-start checks, the settings of a carburettor, and what is odd about a card.
//
// In: a check, a setting's name or a card of package garage. Out: words.
package benchwords
