package keyhelp

import "strings"

// HandsFull tells a hand that is not at the keys what happens without one.
const HandsFull = "Hands full? Then wait: within 20 s the screen goes on by itself."

// The words about keys that both leave out, and those about a zero.
const (
	fanRuns  = " Press f when the fan runs."
	fanOff   = " Press f when the fan is off."
	thenZ    = "hen press z and wait five seconds"
	againZ   = "hen z: zero again"
	zeroThen = "hen end this run: evendraw zero"
	byWater  = "Or test with water: start it, press l."
)

var lines = strings.NewReplacer("Then press Enter.", "Then wait: it goes on by itself.", "\n"+HandsFull, "",
	thenZ, zeroThen, againZ, zeroThen, "then z; hoses on, then start it", "t"+zeroThen,
	"then z. Hoses on, then start it.", "t"+zeroThen+".", "hen z.", zeroThen+".",
	"ress g", "ress g (on the screen alone, not here)", fanRuns, "", fanOff, "",
	byWater, "Or test with water: evendraw leaks.",
	"l finds a leak while the engine runs", "evendraw leaks finds a leak while the engine runs",
	"(o, Level the bank)", "(evendraw live)", "Level the bank (o)", "levelling (evendraw live)",
	"If it is your board, press i to put that program on it; you are asked once more.",
	"If it is your board, end this run: evendraw board install puts that program on it.",
	"press q, then start the program again", "start the program again")

// Lines returns a text of the live screen as plain lines say it, which nobody can answer by a key: a text that names
// none stays as it is.
func Lines(text string) string { return lines.Replace(text) }

var recording = strings.NewReplacer(" Then press Enter.", "", "\n"+HandsFull, "", fanRuns, "", fanOff, "",
	"\n"+byWater, "", "Engine off, all hoses off the ports and open to the air. T"+thenZ+".",
	"Recorded without a zero pass: from here on no turn is advised.", "Until then this difference", "This difference",
	"Not zeroed: figures may be wrong. Engine off, hoses off the ports, then z.",
	"Recorded without a zero pass: figures may be wrong.", " Your place in the job is kept.", "",
	" Engine off, all hoses off the ports, t"+againZ+".", "")

// Recording returns a text of the live screen as it holds beside a recording, of whose engine nothing can be turned,
// zeroed or started.
func Recording(text string) string { return recording.Replace(text) }
