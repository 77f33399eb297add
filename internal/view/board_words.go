package view

import (
	"errors"
	"fmt"
	"math"

	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// channelWords are the words on a channel's verdict, and what to do about it.
var channelWords = map[sensor.Verdict][2]string{
	sensor.VerdictGood: {"good", ""},
	sensor.VerdictStill: {"at the air pressure, and not a count moves",
		"draw on its hose with a syringe and check again: it must move"},
	sensor.VerdictHoseOff: {"hose off: it reads the air while the others pulse",
		"see that its hose is on at both ends, the port open, the hose not split"},
	sensor.VerdictNoisy: {"noisy", "look for a loose wire or a bad ground; " +
		"keep its wires away from the ignition leads"},
	sensor.VerdictDead: {"dead: it never moves",
		"look at its signal wire; swap it with another sensor to see which of wire and sensor it is"},
	sensor.VerdictRailLow: {"is at the low end of its range",
		"look for a broken supply or signal wire, or a signal shorted to ground"},
	sensor.VerdictRailHigh: {"is at the high end of its range",
		"look for a broken ground wire, or a signal shorted to the supply"},
	sensor.VerdictTouches: {"touches an end of its range now and then",
		"the sensor's range may be too small, or a wire is loose"},
	sensor.VerdictSwapped: {"gives a pressure that can't be",
		"see that supply and ground are not swapped, and that its kind is right on the card: evendraw board kind"},
	sensor.VerdictOff: {"at rest, but further from the others than its data sheet allows",
		"see that its kind is right on the card, and its hose open to the air"},
	sensor.VerdictOtherRole: {"no pressure channel: left aside", ""},
}

// ChannelWords returns the words on a channel's verdict in a board check, and what a mechanic can do
// about it, "" when there is nothing to do.
func ChannelWords(verdict sensor.Verdict) (words, hint string) {
	w, ok := channelWords[verdict]
	if !ok {
		return string(verdict), ""
	}
	return w[0], w[1]
}

// Refusal says why a zero pass was refused.
func Refusal(err error) string { return "Zero refused: " + plain.Text(reasonOf(err)) }

// MatchRefusal says why a match pass was refused.
func MatchRefusal(err error) string { return "Comparison refused: " + plain.Text(reasonOf(err)) }

// reasonOf returns a refusal's channel and reason in words, else those of the error.
func reasonOf(err error) string {
	var r *sensor.Refusal
	switch {
	case !errors.As(err, &r):
		return err.Error()
	case r.Channel >= 0:
		return fmt.Sprintf("channel %d %s", r.Channel, r.Reason)
	}
	return r.Reason
}

// DriftNote asks for a new zero pass where the sensors were seen to have moved, the engine being off; "" where
// nothing is to be asked.
func DriftNote(s *session.Snapshot) string {
	d := &s.Drift
	own := d.Own[d.Channel]
	switch {
	case !d.Asks:
		return ""
	case math.Abs(float64(own)) >= math.Abs(float64(d.Common)):
		return fmt.Sprintf("The sensor of channel %d has drifted by %s kPa since the zero. Engine off, "+
			"hoses off the ports: zero again (z).",
			d.Channel, pressure.Kilopascal.FormatSigned(own))
	}
	return fmt.Sprintf("All sensors have drifted by %s kPa since the zero: weather or heat. Engine off, "+
		"hoses off the ports: zero again (z).",
		pressure.Kilopascal.FormatSigned(d.Common))
}

// WarmNote asks for a new zero pass after so many minutes of a running engine.
func WarmNote(minutes float64) string {
	return fmt.Sprintf("The engine has run for %.0f minutes since the zero, and the sensors have warmed. "+
		"At the next stop, hoses off the ports: zero again (z).", minutes)
}

// ManyChannelsNote says which of a board's pressure channels are read.
func ManyChannelsNote(read, left []int) string {
	return fmt.Sprintf("The board has %d pressure channels: %s read, %s left aside. A bike card chooses: "+
		"channels = [...].",
		len(read)+len(left), channelList(read), channelList(left))
}

// channelList lists channels as people do.
func channelList(channels []int) string {
	if len(channels) == 1 {
		return fmt.Sprintf("channel %d is", channels[0])
	}
	return "channels " + plain.And(numbers(channels)) + " are"
}

// numbers writes numbers for a list.
func numbers(n []int) (names []string) {
	for _, i := range n {
		names = append(names, fmt.Sprint(i))
	}
	return names
}

// bareWords offer the board program to a board that has none, or not ours.
func (v *View) bareWords() (w Words) {
	switch b := &v.Bare; {
	case b.Busy && b.Done > 0:
		w = words("WRITING", Strong,
			fmt.Sprintf("The board program is being written: %d %%. Leave the lead in.", b.Done))
	case b.Busy:
		w = words("LOOKING", Strong, "Looking whether a program can be put on the board.")
	case b.Loses != "":
		w = words("OVERWRITE?", Warn, plain.Text(b.Loses), "i writes evendraw's program on it, n leaves the board "+
			"as it is.")
	default:
		w = words("YOUR BOARD?", Warn, "No evendraw program answers at "+plain.Text(b.Port)+".",
			"Is that your board? Press i to put evendraw's program on it; you are asked once more.")
	}
	w.Read = true
	return w
}
