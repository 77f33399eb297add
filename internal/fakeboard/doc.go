// Package fakeboard is a board that is not there, with whatever can go wrong on the way from its clock to
// a host's port. Only tests use it.
//
// In: a Recording, what a board would send, from Steady, FromEngine or Read (fakeboard.go). Out: its bytes,
// by Blocks or Bytes, and after what goes wrong:
//
//   - faults.go loses, repeats and swaps blocks, and flips bits in them;
//   - uart.go (Resample) is a line whose ends are set to different rates;
//   - line.go: a Line is a pty that looks like a serial port, a Socket a path that stays while lines come
//     and go;
//   - cable.go: a Cable is a line in memory, which works in virtual time too.
//
// Play sends bytes over a Line or a Cable at the board's pace (pace.go), Unplug pulls the lead.
package fakeboard
