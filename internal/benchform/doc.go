// Package benchform is the form that a bench card is filled in with on the screen: its state as plain data, what a
// key does to it, and its words.
//
// In: a card (garage.BenchCard) and keys. Out: the card, and a Picture that package screen draws.
//
// Begin with Form.Update.
package benchform
