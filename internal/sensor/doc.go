// Package sensor turns the board's raw counts into absolute pressures, and learns how far its sensors
// can be trusted.
//
// In: frame.Frames, with the frame.Announcement of their board and a Setup, which says what is known of
// its sensors. Out: Samples, one for each frame: absolute pressures in kPa, all at one time. Begin
// reading at Converter.Push. For a count n of a converter of so many bits, with the supply Vs as its
// reference,
//
//	ratio = Vout/Vs = (n + 1/2) / 2^bits
//	reading = (ratio - Intercept) / Slope            (Kind; a gauge kind's is added to Ambient)
//	pressure = Ambient + (reading - Offset - Ambient) / Gain
//
// and, as the channels of a frame are sampled in turn, each goes back along a straight line to the
// frame's tick.
//
// What learns and watches:
//
//   - ZeroPass (zero.go): samples with all hoses open to the air; gives each channel's Offset.
//   - MatchPass (matchpass.go, matchresult.go): samples with all hoses on one source; gives each Gain.
//   - Checkup: frames of ten seconds; gives each channel a Verdict.
//   - HoseFinder: samples; says which hose is sucked on, blown into or pinched.
//   - DriftWatch: samples; while the engine stands, says how far the sensors have moved since the zero pass.
//   - ClockFit: how fast the board's clock is beside another.
//   - BudgetOf: how far a reading may be off, by cause.
//
// Kinds of sensors are in catalogue.go; twopoint.go makes one of two points that the user knows.
package sensor
