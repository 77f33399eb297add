package tell

import (
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"evendraw/internal/airleak"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// What is said beside a run.

// AirFound sums up a watch for an air leak that ends.
func AirFound(s *airleak.State) string {
	cylinder := s.Last
	if s.Phase == airleak.Less {
		cylinder = s.Cylinder
	}
	if cylinder == 0 {
		return "No cylinder was seen to get less air: that is no proof that none leaks."
	}
	leaks := "perhaps it leaks"
	if s.Again {
		leaks = "twice: it leaks"
	}
	return fmt.Sprintf("Seen last: cylinder %d got less air, %s where water was put just then. Engine off, "+
		"look there, mend it, look again.", cylinder, leaks)
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
		of := fmt.Sprintf("channel %d", d.Channel)
		if i := slices.Index(s.Bank.Channels, d.Channel); i >= 0 {
			of = fmt.Sprintf("cylinder %d", i+1)
		}
		return fmt.Sprintf("The sensor of %s has drifted by %s kPa since the zero. Engine off, "+
			"hoses off the ports: zero again (z).", of, pressure.Kilopascal.FormatSigned(own))
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

// HeatLeft says that a budget of idling that was left is gone on with.
func HeatLeft(h *heat.State) string {
	clock := func(s float64) time.Duration { return time.Duration(math.Ceil(s)) * time.Second }
	if h.Hot {
		return fmt.Sprintf("The engine is hot from its last idling: let it stand for %v, with a fan for %v.",
			clock(h.CoolS(false)), clock(h.CoolS(true)))
	}
	return fmt.Sprintf("The engine is warm from its last idling: it may idle for %v, then it must cool.",
		clock(h.LeftS()))
}

// Fan says what the user has told of a fan.
func Fan(on bool) string {
	if on {
		return fmt.Sprintf("A fan on the engine: stopped, it is taken to cool %g times as fast.",
			heat.FanPace/heat.CoolPace)
	}
	return "No fan on the engine."
}

// Corrected says that the last turn of a pilot screw counts as another than told, or that there is none to correct.
func Corrected(turns float64, ok bool) view.Event {
	if !ok {
		return view.Told{Text: "No turn of a pilot screw to correct.", Role: view.Warn}
	}
	way := "the way that was told"
	if turns < 0 {
		way = "the other way"
	}
	return view.Told{Text: "Counted as " + garage.FormatTurns(math.Abs(turns)) + " turns, " + way + "."}
}

// TooManyTurns says that an answer is no turn of a pilot screw, or one past its seat.
func TooManyTurns(turns float64, pastSeat bool) view.Event {
	text := garage.FormatTurns(math.Abs(turns)) + " turns"
	if pastSeat {
		text += ", past its seat"
	}
	return view.Told{Role: view.Warn, Text: text + ": a slip of the finger? Not counted: answer again. So far turned " +
		"in truth? Turn it back first, and answer 0."}
}

// TooSoon is what an Enter gets that can't be of the turn that is told.
const TooSoon = "that Enter came too soon to be for this turn: press it when the turn is made"

// IdleTaken says that an idle speed was taken, and whether it stands on the bike's card.
func IdleTaken(low, high float64, kept bool) view.Event {
	text := fmt.Sprintf("Idle speed %.0f to %.0f rpm", low, high)
	if kept {
		text += ", kept on the bike's card"
	}
	return view.Told{Text: text + "."}
}

// EngineRunsOn is the last word of a run whose engine still turns; unseen is set where the board is lost.
func EngineRunsOn(unseen bool) string {
	still := "The engine still runs."
	if unseen {
		still = "The engine ran when it was seen last."
	}
	return still + " Stop it, unless you go on at once: without wind it overheats."
}

// PageAddresses tells where the page for phones is. The next start has the same addresses but where it moved to another
// port as the usual one was not to be had, or they could not be kept for the reason notKept.
func PageAddresses(w io.Writer, p *view.Phone, moved bool, notKept error) {
	fmt.Fprintln(w, view.PhoneWords)
	for _, a := range p.Addresses {
		fmt.Fprintln(w, "  "+a)
	}
	if moved {
		fmt.Fprintln(w, "The usual port is in use, maybe by another evendraw: these hold until the program ends.")
	}
	if notKept != nil {
		fmt.Fprintf(w, "It holds until the program ends: it could not be kept for the next start. %s\n",
			plain.Text(notKept.Error()))
		return
	}
	if !moved {
		fmt.Fprint(w, "It stays from start to start. ")
	}
	fmt.Fprintln(w, "Has somebody seen it who should not, --new-address changes it.")
}

// PageCode draws the code of the page's address on a terminal, black on white whatever its colours
// are: a scanner reads no inverted one. w is the terminal itself. The colours are 16 and 231 of
// the 256, black and white in every palette of them.
func PageCode(w io.Writer, p *view.Phone) {
	for _, row := range p.Code {
		fmt.Fprintf(w, "\x1b[38;5;16;48;5;231m%s\x1b[0m\n", row)
	}
}
