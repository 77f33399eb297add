package tell

import (
	"cmp"
	"fmt"
	"strings"

	"evendraw/internal/frame"
	"evendraw/internal/plain"
	"evendraw/internal/sensor"
)

// What board setup says and asks.
const (
	SetupPractice = "Practice: nothing is kept, and the practice mouth does the sucking.\n\n1. The board."
	SetupLooking  = "1. The board. Looking for it; this takes up to eight seconds."
	SetupHasCard  = "   It has a card already: what you answer here is put on it, the rest stays."
	AskTwoPoints  = "   Its two points, as 20kPa=0.79V 101.32kPa=4.00V\n   (a vacuum sensor's: " +
		"-60kPa=2.30V 0kPa=4.60V gauge); < goes back:"
	AskHosesStill  = "   Let all hoses lie still, then Enter:"
	SetupMoment    = "   A moment …"
	NoHoseNamed    = "   No hose is named: they are taken for channel 0, 1, 2 … in order."
	AskSetupZero   = "   Enter starts (five seconds), s skips, < goes back to the sensors:"
	SetupZeroAgain = "   See to that, and once more; was another kind of sensor named? Then <."
)

// SetupHoses and SetupZero open the steps of that name; SetupDone and SetupPractised end the dialogue.
var (
	SetupHoses = []string{"", "3. The hoses. Mark them 1, 2, 3 … as the cylinders that they will go to, from",
		"   the rider's left.", "   Engine off, all hoses open to the air and off the ports."}
	SetupZero = []string{"", "4. The zero. Engine off, all hoses off the ports, hands off: this learns what",
		"   each sensor reads too much."}
	SetupDone = []string{"", "Done. Next: evendraw board check; evendraw match, which compares the sensors;",
		"evendraw bike new for the bike; evendraw live."}
	SetupPractised = []string{"", "Done. It was practice: no card of a board is kept. With a board the same is",
		"evendraw board setup. Next to try: evendraw match --practice; evendraw live --practice."}
)

// setupColumns is how wide the dialogue is. Chosen: a terminal of 80 columns.
const setupColumns = 76

// Indented is a text of several lines, in line with the questions.
func Indented(text string) string {
	return strings.ReplaceAll(plain.Wrap(plain.Text(text), setupColumns), "\n", "\n   ")
}

// SetupFound says which board was found on which port.
func SetupFound(a *frame.Announcement, where string, channels int) string {
	return fmt.Sprintf("   Found board %s (%s) on %s:\n   %d pressure channels, %d bits, %d frames a second.",
		plain.Text(a.Serial), plain.Text(a.Model), where, channels, a.Bits, a.Rate)
}

// SetupKinds lists the kinds of sensors by number.
func SetupKinds(all []sensor.Kind) []string {
	lines := []string{"", "2. The sensors. Which kind is on the channels? It is printed on each."}
	for i, k := range all {
		lines = append(lines, fmt.Sprintf("   %2d  %-16s %s", i+1, k.Name, k.About))
		if k.Parts != "" {
			lines = append(lines, "       "+strings.ReplaceAll(k.Parts, " ", ", "))
		}
	}
	return append(lines, fmt.Sprintf("   %2d  another, of which I know the volts at two pressures", len(all)+1),
		"   One number or name for all channels, or one for each with commas: 1,1,8,8.")
}

// AskKind asks for the kinds; usual is what Enter takes, "" what is on the card.
func AskKind(usual string) string {
	return "   Enter for " + cmp.Or(usual, "what is on the card") + ":"
}

// TouchHose says how to make hose n known.
func TouchHose(n int) string {
	return fmt.Sprintf("   Draw gently on hose %d with a syringe, and hold for a second. (By mouth only\n"+
		"   if it has never been on an engine: petrol.)\n   (Enter: there is no hose %d. < goes back to the sensors, "+
		"if a pull shows nothing.)", n, n)
}

// TouchedHose says which channel a hose is on; known is the hose that this channel has already, 0 is none.
func TouchedHose(n, channel, known int) string {
	if known > 0 {
		return fmt.Sprintf("     That is channel %d, and so hose %d. Take the next one.", channel, known)
	}
	return fmt.Sprintf("     Hose %d is on channel %d. Let go.", n, channel)
}

// SetupZeroed tells a zero pass of the pressure channels; doubt is what is odd about the air pressure, "" nothing.
func SetupZeroed(z *sensor.Zero, channels []int, doubt string) []string {
	lines := []string{fmt.Sprintf("   Air pressure %.1f kPa.", float64(z.Ambient))}
	for _, i := range channels {
		lines = append(lines, minus("     channel %d  zero error %+.2f kPa ±%.3f", i, float64(z.Offsets[i]),
			float64(z.Uncertainty[i])))
	}
	if doubt != "" {
		lines = append(lines, "   But "+doubt, "   If not, go through this again.")
	}
	return lines
}
