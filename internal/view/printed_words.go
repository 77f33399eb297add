package view

import "evendraw/internal/frame"

// PrintedText says what a board that can only print can't guarantee, by the kind in
// its announcement; "" for a board of the protocol.
func PrintedText(kind frame.Printed) string {
	switch kind {
	case frame.WithClock:
		return "This board prints lines with a clock: a damaged line may pass for a good one, " +
			"and the channels' delays are unknown."
	case frame.NoClock:
		return "This board prints lines without a clock: lost lines don't show, " +
			"a damaged line may pass for a good one, and the speed is only as right as the rate."
	}
	return ""
}
