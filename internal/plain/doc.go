// Package plain is the way of words to whoever reads them.
//
// What a board, a file, a card or a person has named may hold characters that do something to a
// terminal or to a page: move the cursor, change colours, or turn the order in which text is
// read. None of them is shown. Text and Lines take them out of a text that is put among other
// words; Writer is what all output passes last, so that no field can be forgotten.
//
// In: any text from outside. Out: the same without what does harm, what a mistyped word probably meant, and the
// one way to write a date, a dash, and what is unknown. Begin with Text.
package plain
