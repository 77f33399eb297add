package tell

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/sensor"
)

// Checkup is what a look at a board found.
type Checkup struct {
	Board  *frame.Announcement
	Setup  sensor.Setup // in force
	Check  *sensor.Checkup
	Clock  *sensor.ClockFit // nil where this computer's clock says nothing
	Stats  frame.Stats
	Note   string        // on channels that are not read, "" for none
	Card   *garage.Board // nil: nothing is known of the passes
	Budget func(channel int) sensor.Budget
}

func (c *Checkup) clockError() (fast, interval float64) {
	if c.Clock == nil {
		return math.NaN(), math.NaN()
	}
	return c.Clock.Error()
}

// Text prints what a checkup found.
func (c *Checkup) Text(out io.Writer) {
	s, a := c.Stats, c.Board
	fmt.Fprintf(out, "board %s (%s, program %s): %.1f s, %d frames\n", plain.Text(a.Serial), plain.Text(a.Model),
		plain.Text(a.Program), c.Check.Seconds(), c.Check.Frames())
	fmt.Fprintf(out, "  rate     %.1f frames a second by its own clock, %d announced\n", c.Check.Rate(), a.Rate)
	if fast, interval := c.clockError(); !math.IsNaN(fast) {
		fmt.Fprintf(out, "  clock    %+.2f %% ±%.2f against this computer's%s\n", 100*fast, 100*interval,
			clockWords(fast, interval))
	}
	fmt.Fprintf(out, "  line     %d lost, %d damaged, %d twice; %d missed by the board; %d restarts\n", s.Lost,
		s.Damaged, s.Duplicates, s.Overflows, s.Restarts)
	for _, hint := range lineHints(&s) {
		fmt.Fprintln(out, "           "+hint)
	}
	channels := c.Check.Channels()
	engine := "nothing pulses: the engine is off"
	if sensor.Running(channels) {
		engine = "it pulses: the engine runs"
	}
	fmt.Fprintln(out, "  "+engine)
	for i, ch := range channels {
		says := channelWords[ch.Verdict]
		fmt.Fprintf(out, "  channel %d  %s\n", i, says.words)
		if a.Channels[i].Role == frame.Pressure {
			fmt.Fprintf(out, "             mean %.1f kPa, swing %.2f kPa rms, counts %d to %d; %s\n",
				float64(ch.Pressure), float64(ch.SD), ch.Least, ch.Most, plain.Text(c.Setup.Kind(i).Name))
		}
		if says.hint != "" {
			fmt.Fprintln(out, "             hint: "+says.hint)
		}
	}
	if c.Note != "" {
		fmt.Fprintln(out, "  "+c.Note)
	}
	if c.Card != nil {
		budgets(out, c.Card, len(a.Channels), c.Budget,
			func(i int) bool { return a.Channels[i].Role == frame.Pressure })
	}
}

// clockLimit is the error of a clock that is told of. PROTOCOL.md allows the tick 2 %; a quartz keeps 0.01 %, a
// ceramic resonator 0.5 %.
const clockLimit = 0.01

// halfClock is the error of a clock of 8 MHz under a program made for 16, and halfSlack by how much it may be off.
const halfClock, halfSlack = -0.5, 0.02

// NoneUsable says that a checkup found no channel that can be used; NoneUsableHint what to do.
const (
	NoneUsable     = "no channel can be used"
	NoneUsableHint = "are the sensors connected, and is their kind right? hardware-notes/README.md has the wiring; " +
		"evendraw board setup asks for the kind"
)

func clockWords(fast, interval float64) string {
	if math.Abs(fast-halfClock) < halfSlack {
		return ": it runs at 8 MHz and needs 16: it can't be used for this"
	}
	if math.Abs(fast)-interval > clockLimit {
		return ": speeds are off by that much"
	}
	return ""
}

// lineHints say what to do about what was lost.
func lineHints(s *frame.Stats) (hints []string) {
	if s.Damaged > 0 || s.Lost > 0 {
		hints = append(hints, "hint: lost or damaged on the way: another USB lead or socket, away from the ignition "+
			"leads")
	}
	if s.Overflows > 0 {
		hints = append(hints, "hint: missed by the board: its program is too slow for its rate, or the line too "+
			"slow for the frames")
	}
	if s.Restarts > 0 {
		hints = append(hints, "hint: it started anew: its supply breaks down, or the ignition disturbs it")
	}
	return hints
}

// JSON prints it as JSON.
func (c *Checkup) JSON(out io.Writer) error {
	channels := []map[string]any{}
	all := c.Check.Channels()
	for i, ch := range all {
		role, says := c.Board.Channels[i].Role, channelWords[ch.Verdict]
		j := map[string]any{"channel": i, "role": role, "verdict": ch.Verdict, "words": says.words, "hint": nil,
			"sensor": c.Setup.Kind(i).Name, "mean_kpa": ch.Pressure, "swing_kpa": ch.SD, "least": ch.Least,
			"most": ch.Most, "mean": ch.Mean, "distinct": ch.Distinct, "rail_low": ch.RailLow,
			"rail_high": ch.RailHigh, "budget": nil}
		if says.hint != "" {
			j["hint"] = says.hint
		}
		if c.Card != nil && role == frame.Pressure {
			b := c.Budget(i)
			j["budget"] = map[string]any{"offset_kpa": plain.Number(b.Offset), "gain_kpa": plain.Number(b.Gain),
				"quantisation_kpa": plain.Number(b.Quantisation), "drift_kpa": plain.Number(b.Drift),
				"noise_kpa": plain.Number(b.Noise), "total_kpa": plain.Number(b.Total)}
		}
		channels = append(channels, j)
	}
	fast, interval := c.clockError()
	s := c.Stats
	return json.NewEncoder(out).Encode(map[string]any{
		"board": c.Board.Serial, "model": c.Board.Model, "program": c.Board.Program, "seconds": c.Check.Seconds(),
		"frames": c.Check.Frames(),
		"rate":   c.Check.Rate(), "nominal_rate": c.Board.Rate, "clock_error": plain.Number(fast),
		"clock_uncertainty": plain.Number(interval),
		"lost":              s.Lost, "damaged": s.Damaged, "duplicates": s.Duplicates, "overflows": s.Overflows,
		"restarts":       s.Restarts,
		"engine_running": sensor.Running(all), "channels": channels,
	})
}

// channelWords are the words on a channel's verdict, and what a mechanic can do about it, "" for nothing.
var channelWords = map[sensor.Verdict]struct{ words, hint string }{
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

// ManyChannelsNote says which of the pressure channels of a board, or of a table, are read.
func ManyChannelsNote(read, left []int) string {
	return fmt.Sprintf("There are %d pressure channels: %s read, %s left aside. A bike card chooses: "+
		"channels = [...].",
		len(read)+len(left), channelList(read), channelList(left))
}

// channelList lists channels as people do.
func channelList(channels []int) string {
	if len(channels) == 1 {
		return fmt.Sprintf("channel %d is", channels[0])
	}
	return "channels " + plain.AndNumbers(channels) + " are"
}
