// Package bootloader puts a program on a board through the serial boot loader that such boards come with, by
// the chip maker's serial programming protocol, version 1 (STK500; application note AVR061: commands and
// answers from memory of it, and as two boot loaders in use answer them).
//
// In: a Line that can restart the board, and an Image, which ReadHex makes of an Intel-hex file (hex.go);
// Program is the board program that this version of evendraw brings along (program.go). Out: Examine says which
// chip and boot loader are there and what the chip holds; Install writes an image page by page and reads each
// page back (install.go). The protocol's commands are in loader.go.
//
// What it never does: write fuses, or any byte at Room or above, where boot loaders are. Page 0 is written
// first as a jump to itself and last as it is: a board whose lead is pulled half way runs nothing, stays silent,
// and its boot loader takes the next Install. Only in the 4 ms in which the chip itself erases and writes page 0
// can a failing supply leave another page 0.
package bootloader
