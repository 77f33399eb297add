// The reference board's program as a sketch: open this file in the board makers' editor, choose a board with an
// ATmega328P at 16 MHz, and upload. All of it is in the files beside this one; board.c has main().
