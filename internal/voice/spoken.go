package voice

import (
	"strconv"
	"strings"
	"time"
	"unicode"

	"evendraw/internal/plain"
	"evendraw/internal/view"
)

// The words that are spoken are made of the large words that are shown, so that eye and ear are told
// the same thing at the same time.

// Cue is the kind of tone that goes before what is spoken.
type Cue int

// Cues. CueNone is for what waits or only tells where the job stands.
const (
	CueNone  Cue = iota
	CueGo        // there is something to do: turn, go on, blip
	CueStop      // hand off
	CueOther     // the other way, or another screw
	CueLevel     // the bank is level
	CueFault     // something is wrong
)

// Saying is what is spoken of large words.
type Saying struct {
	Cue Cue
	// Way is the direction of a turn, as view.Words.Arrow.
	Way int
	// Text is for a voice: words only, no signs and no figures.
	Text string
	// Cut breaks off what is being spoken.
	Cut bool
	key string // the saying without its amount
}

// same reports whether two sayings differ in their amount alone.
func (s *Saying) same(o *Saying) bool { return s.key == o.key && s.Cue == o.Cue }

// row says how large words are spoken. An empty text is the word itself in small letters.
type row struct {
	cue  Cue
	text string
}

// sayings has a row for each large word of the screen, without the figure behind it. No row's text
// stands within another's: half heard, it must not be taken for it. So the throttle stop is spoken
// as the idle screw, and hands off as hands away.
var sayings = map[string]row{
	view.BigStop:     {CueStop, ""},
	view.BigOtherWay: {CueOther, ""},
	"HANDS OFF":      {CueOther, "hands away"},
	"TURN BACK":      {CueOther, "undo that screw"},
	"GO ON":          {CueGo, ""},
	"SLOWER":         {CueGo, ""},
	"LEVEL":          {CueLevel, ""},
	"LEVEL?":         {CueFault, "reads level, but look"},
	"LEAK?":          {CueFault, "look for a leak"},
	"HOW FAR?":       {CueFault, "count its turns"},
	"NO CHANGE":      {CueFault, "was it turned"},
	"IDLE LOW":       {CueFault, "raise the idle"},
	"BLIP":           {CueGo, "blip the throttle"},
	"NUT":            {CueGo, "tighten the lock nut"},
	"IDLE":           {CueGo, "idle screw"},
	"IDLE OK":        {CueLevel, "idle is right"},
	"PILOT":          {CueGo, "pilot screw"},
	"TURNED?":        {CueGo, "is it made, press Enter"},
	"PILOTS":         {CueNone, "pilot screws"},
	"ALL SET":        {CueLevel, "all pilot screws are set"},
	"REV":            {CueGo, "open the throttle"},
	"REV LESS":       {CueGo, "close the throttle a little"},
	"HOLD":           {CueGo, "hold the throttle there"},
	"LET GO":         {CueStop, "let the throttle go"},
	"EVEN":           {CueLevel, "even at both speeds"},
	"LEVEL FIRST":    {CueOther, "the screws come first"},
	"UNEVEN":         {CueOther, "it differs at the raised speed"},
	"WAIT":           {CueNone, ""},
	"ENGINE OFF":     {CueFault, "switch the engine off"},
	"COOLING":        {CueNone, "let it cool"},
	"HOSES":          {CueFault, "look at the hoses"},
	"HOSES?":         {CueFault, "look at the hoses"},
	"HOSES OK":       {CueNone, "hoses are right"},
	"LEAK":           {CueFault, "air leak at cylinder"},
	"WATER ONLY":     {CueGo, "wet a joint with water"},
	"LOOK AT":        {CueFault, "look at cylinder"},
	"LOOK AT IT":     {CueFault, "look at the board"},
	"NO BOARD":       {CueFault, "board is missing"},
	"NO DATA":        {CueFault, "board is silent"},
	"END":            {CueNone, ""},
	"BOARD":          {CueNone, ""},
	"BOARD GOOD":     {CueNone, ""},
	"LOOKING":        {CueNone, ""},
	"YOUR BOARD?":    {CueNone, ""},
	"OVERWRITE?":     {CueNone, ""},
	"WRITING":        {CueNone, ""},
	"WHICH BIKE":     {CueNone, ""},
	"LOOK FIRST":     {CueNone, ""},
	"ALL SEEN":       {CueNone, ""},
	"ZERO":           {CueNone, ""},
	"ZEROED":         {CueNone, ""},
	"ZERO FIRST":     {CueFault, "take the zero first"},
	"COMPARE":        {CueNone, "compare the sensors"},
	"COMPARED":       {CueNone, "sensors are known"},
	"START":          {CueNone, "start the engine outdoors"},
	"WARM UP":        {CueNone, "warming"},
	"WARM?":          {CueNone, "taken for warm"},
	"NO ADVICE":      {CueNone, "figures alone"},
	"SAVE":           {CueNone, ""},
	"SAVED":          {CueNone, ""},
}

// turned are the large words that keep their meaning beside an arrow: all else there is a screw's name.
var turned = map[string]bool{view.BigOtherWay: true, "GO ON": true, "SLOWER": true, "IDLE": true,
	"PILOT": true}

// SayingOf returns what is spoken of large words.
func SayingOf(w *view.Words) Saying {
	word, figure := splitFigure(w.Big)
	row, known := sayings[word]
	known = known && (w.Arrow == 0 || turned[word])
	text := row.text
	switch {
	case !known:
		row.cue, text = CueGo, spell(w.Big)
		if w.Arrow == 0 { // a speed, or a word without a row
			row.cue = CueNone
		}
	case text == "":
		text = strings.ToLower(word)
	}
	if figure != "" && (word == "LOOK AT" || word == "LEAK" || word == "PILOT" || word == "NUT") {
		text += " " + spell(figure)
	}
	if figure != "" && word == view.BigEngineOff {
		text += ", look at cylinder " + spell(figure)
	}
	if w.Arrow != 0 {
		text += ", " + map[bool]string{true: "clockwise", false: "anticlockwise"}[w.Arrow > 0]
	} else if word == "IDLE" || word == "HANDS OFF" && w.Amount != "" {
		row.cue = CueNone // nothing is to be turned yet; a wait that is no news
	}
	s := Saying{Cue: row.cue, Way: w.Arrow, Text: text, key: text,
		Cut: row.cue == CueStop || row.cue == CueOther || row.cue == CueFault}
	if w.Way != "" {
		s.Text += ", " + strings.ToLower(w.Way)
	}
	bare, more := strings.CutPrefix(w.Amount, "+")
	amount := spokenTurns(bare)
	if bare == plain.HairWord {
		amount = "a hair"
	}
	if more {
		amount += " more"
	}
	if amount != "" && (w.Arrow != 0 || word == "GO ON" || word == "TURN BACK") {
		s.Text += ", " + amount
	}
	return s
}

// splitFigure parts a large word from the figure that stands behind it.
func splitFigure(big string) (word, figure string) {
	i := strings.IndexFunc(big, unicode.IsDigit)
	if i <= 0 {
		return big, ""
	}
	return strings.TrimSpace(big[:i]), strings.TrimRight(big[i:], "% s")
}

var digits = [10]string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

// spell writes a name for a voice: each figure by itself, a hyphen between those that stand together.
func spell(name string) string {
	var b strings.Builder
	for i, r := range plain.Text(name) {
		if r < '0' || r > '9' {
			b.WriteRune(r)
			continue
		}
		if i > 0 && name[i-1] >= '0' && name[i-1] <= '9' {
			b.WriteByte('-')
		}
		b.WriteString(digits[r-'0'])
	}
	return b.String()
}

// counts are the numbers of parts of a turn, parts their names.
var (
	counts = [16]string{"", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
		"twelve", "thirteen", "fourteen", "fifteen"}
	parts = map[string]string{"2": "half", "4": "quarter", "8": "eighth", "16": "sixteenth", "32": "thirty-second",
		"64": "sixty-fourth"}
)

// spokenFraction puts a fraction, as "3/16", in words; "" for anything else.
func spokenFraction(f string) string {
	over, under, _ := strings.Cut(f, "/")
	n, err := strconv.Atoi(over)
	if err != nil || n < 1 || n >= len(counts) || parts[under] == "" {
		return ""
	}
	if n == 1 {
		return counts[n] + " " + parts[under]
	}
	return counts[n] + " " + parts[under] + "s"
}

// spokenTurns puts an amount, as fraction writes it, in words; "" for anything else, and for none.
func spokenTurns(amount string) string {
	if said := spokenFraction(amount); said != "" {
		return said
	}
	if whole, rest, mixed := strings.Cut(amount, " "); mixed && spokenFraction(rest) != "" {
		return spokenWhole(whole) + " and " + spokenFraction(rest)
	}
	return spokenWhole(amount)
}

// spokenWhole puts whole turns in words; "" for none, and for what is no number below ten.
func spokenWhole(amount string) string {
	switch {
	case amount == "1":
		return "one turn"
	case len(amount) == 1 && amount[0] >= '2' && amount[0] <= '9':
		return digits[amount[0]-'0'] + " turns"
	}
	return ""
}

// repeatAfter is how long what asks for something may stand before it is spoken again, with the newest amount. Chosen:
// who has missed it does not wait long, and a slow turn is not talked over.
const repeatAfter = 8 * time.Second

// Utterance is one thing to speak. Its Number goes up with each; the same number is the same utterance.
type Utterance struct {
	Number uint64
	Saying
}

// Voice says what is to be spoken, and when: once when the words change, and again where they ask
// for something and stand.
type Voice struct {
	said Utterance
	at   time.Time
}

// Push takes the words that are shown now, and returns the newest utterance. An amount alone that
// changes is not spoken: it does so while the hand turns.
func (o *Voice) Push(now time.Time, w *view.Words) Utterance {
	s := SayingOf(w)
	stands := o.said.Number > 0 && s.same(&o.said.Saying)
	if stands && (s.Cue == CueNone || s.Cue == CueLevel || now.Sub(o.at) < repeatAfter) {
		return o.said
	}
	if stands {
		s.Cut = false // it is no news
	}
	o.said, o.at = Utterance{o.said.Number + 1, s}, now
	return o.said
}
