// Package suspects says what a mechanic looks at, and in which order, where no screw mends it: a cylinder that looks
// ill, a hose or sensor, a bank that is uneven at a raised speed, an engine that won't start. Plain tables of words,
// by the constants of advice, cycle and mixture; package view builds its sentences with them. All is common practice,
// no source, but where another is named.
package suspects
