package view

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/hoses"
	"evendraw/internal/plain"
	"evendraw/internal/session"
	"evendraw/internal/turnwords"
	"evendraw/internal/waves"
)

// Role is what a piece of text or a mark means; a screen turns it into a
// style. Colour never stands alone: each role comes with a word or a sign.
type Role int

// Roles.
const (
	Plain Role = iota
	Dim
	Good
	Warn
	Bad
	Strong
	Code // black on white, in light and dark terminals, for what is scanned
)

// Ages of the last frame at which figures turn grey, and vanish.
const (
	staleAfter = 300 * time.Millisecond
	blankAfter = time.Second
)

// Text is a piece of text with its role.
type Text struct {
	Text string
	Role Role
}

// Picture is all that a screen shows, in words and marks.
type Picture struct {
	Head []Text // one line: bike, speed, clock; the last is the link
	// Step says where the job stands, nil where there is none.
	Step []Text
	// Words are what is to be done.
	Words
	// Alone is set when the advice has the whole screen.
	Alone bool
	// List, Table and Waves are what stands below the advice on pages without lanes.
	List  []Item
	Table *Table
	Waves *waves.Picture
	// Left, Middle and Right describe the lanes' ends; Band is the aim's
	// half-width on them, and Limit that of the limit.
	Left, Middle, Right string
	Unit                string
	Band, Limit         float64
	Lanes               []Lane
	Foot                []Text // passing message, or state of the zero
	Entry               *Entry
	// Keys say what the keys do, the most needed first.
	Keys     []string
	Practice []Text // behind PracticeHead of its state
	Stale    bool
	Help     []string
	Phone    *Phone
}

// Table is rows of texts under a head, and lines below them.
type Table struct {
	Rows  [][]string
	Roles []Role // of the rows
	Below []Text
}

// Picture returns what a screen shows of the view.
func (v *View) Picture() Picture {
	if v.Page != PageStep && v.mustStop() { // nothing covers the words
		open := *v
		open.Page = PageStep
		return open.Picture()
	}
	p := Picture{Keys: v.keyLine(), Entry: v.Entry, Alone: v.Alone}
	r := v.reading()
	blank := r != nil && v.age() > blankAfter
	p.Stale = v.stale()
	p.Head = v.head(r, blank)
	p.Step = v.stepLine()
	p.Words = v.heldWords(r, blank)
	if v.Page == PageStep && strings.Contains(strings.Join(p.Say, " "), "press l.") {
		p.Keys = slices.Insert(p.Keys, 1, "l leak test")
	}
	switch v.Page {
	case PageHelp:
		p.Help = v.helpPage()
	case PagePhone:
		p.Phone = v.phone()
	case PageWaves:
		p.Waves = v.waves(blank)
	case PageRig:
		p.Table, p.Say, p.Read = v.rigTable(), nil, false
	case PageSteps:
		p.List = v.list()
	default:
		p.List = v.list()
		if (v.Flow.Off || v.Flow.At.live()) && p.Way == "" {
			v.lanes(&p, r, blank)
		} else if v.Flow.At >= StepRig && v.Flow.At <= StepMatch && v.snap().Board != nil {
			if p.Table = v.rigTable(); v.Flow.At > StepRig {
				p.Table.Below = nil
			}
		}
	}
	p.Foot = v.foot()
	for i := range p.Foot {
		p.Foot[i].Text = v.withoutKeys(p.Foot[i].Text)
	}
	if note := plain.Text(v.LinkNote); note != "" && len(p.Foot) == 0 && !slices.Contains(p.Say, note) &&
		v.Page != PageRig {
		if !v.Flow.Off && v.Flow.At < StepRig { // there is time, and the list needs the room
			what, _, _ := strings.Cut(note, ". ")
			note = what + ". r says what to do."
		}
		p.Foot = []Text{{note, Warn}}
	}
	p.Practice = v.practice()
	if p.Stale && (v.Flow.Off || v.Flow.At.live()) {
		p.Role = Dim
	}
	return p
}

// stale reports whether the reading is too old to act on.
func (v *View) stale() bool { return v.reading() != nil && v.age() > staleAfter }

// words say what is to be done. What an old reading asks for is not told but to stop.
func (v *View) words(r *balance.Reading, blank bool) Words {
	w := v.freshWords(r, blank)
	if w.Big == bigStart || w.Big == v.order.Big { // whose words end with the start, too
		w = v.mayStart(w)
	}
	w.Say = strings.Split(v.withoutKeys(strings.Join(w.Say, "\n")), "\n")
	if v.Recording && w.Arrow != 0 {
		w.Say[0] = "Recorded: " + w.Say[0]
	}
	if v.stale() && !blank && (v.Flow.Off || v.Flow.At.live()) && w.Big != BigStop && w.Big != bigNoChange &&
		!v.mustStop() && !v.cooling() {
		return words("NO DATA", Warn, "Nothing comes from the board at the moment: turn nothing.")
	}
	return w
}

// freshWords are the words of a reading that is not old.
func (v *View) freshWords(r *balance.Reading, blank bool) Words {
	if w, ok := v.heatWords(); ok {
		if s := v.snap().Tune.Raised; s != nil && s.Done && v.Flow.At == StepRaised && v.cooling() {
			return v.raisedStepWords() // the head tells of the cooling
		}
		return w
	}
	switch {
	case !v.Flow.Off && v.Flow.At < StepRig, !v.Flow.Off && v.Flow.At == StepKeep:
		return v.stepWords()
	case blank || r == nil:
		return v.linkWords()
	case v.snap().Zero.Running:
		return toRead(fmt.Sprintf("ZERO %d%%", int(100*v.snap().Zero.Progress)), Strong,
			"Engine off, hoses off the ports, hands off: the sensors are being zeroed.")
	case v.leakFound() && v.leak.sure && v.air() == nil && !v.turning(): // found, no more to be looked for
		return v.leakWords()
	case v.order.Big != "" && !r.Span.Cycle && (!v.heat().Turning || v.Now.Sub(v.orderAt) < orderSeconds*time.Second),
		v.order.Big != "" && v.noChange:
		return v.order
	case v.air() != nil && !r.Span.Cycle && !v.heat().Turning:
		return startWords()
	case v.air() != nil && !v.overrides(&r.Advice):
		return AirWords(v.air())
	case v.leakFound() && (!v.overrides(&r.Advice) || v.leakExplains(&r.Advice)):
		return v.leakWords()
	case (r.Advice.Again || r.Advice.Why == advice.WhyNoAnswer) && v.Now.Sub(v.Flow.began) < unheardTime:
		return words("WAIT", Dim, turnwords.Wait(advice.WhyFewCycles)...)
	case v.Flow.Off || v.Flow.At == StepLevel || v.Flow.At == StepBlip || v.Flow.At.live() && v.overrides(&r.Advice):
		return v.adviceWords(r)
	}
	return v.stepWords()
}

// overrides reports whether an advice is told whatever the step: a fault.
func (v *View) overrides(a *advice.Advice) bool {
	return a.Kind == advice.Fault && (a.Why != advice.WhyHoses || v.Flow.At > StepHoses)
}

// snap is the newest snapshot, an empty one before the first.
func (v *View) snap() *session.Snapshot {
	if v.Snap == nil {
		return &session.Snapshot{Phase: session.Waiting}
	}
	return v.Snap
}

// reading returns the newest reading, nil if there is none.
func (v *View) reading() *balance.Reading { return v.snap().Reading }

// age returns how old the last frame is.
func (v *View) age() time.Duration {
	if v.snap().LastFrame.IsZero() {
		return time.Hour
	}
	return v.Now.Sub(v.Snap.LastFrame)
}

// matched reports whether the sensors' gains are known.
func (v *View) matched() bool { return len(v.snap().Config.Setup.Gains) > 0 }

func (v *View) head(r *balance.Reading, blank bool) []Text {
	name := plain.Text(v.Bike)
	if name == "" {
		name = "no bike card"
	}
	head := []Text{{name, Strong}}
	switch {
	case r == nil || blank || math.IsNaN(r.RPM):
		head = append(head, Text{plain.Dash + " rpm", Dim})
	case v.stale():
		head = append(head, Text{fmt.Sprintf("%.0f rpm, old", r.RPM), Dim})
	case r.Steady:
		head = append(head, Text{fmt.Sprintf("%.0f rpm steady", r.RPM), Plain})
	default:
		head = append(head, Text{fmt.Sprintf("%.0f rpm moving", r.RPM), Warn})
	}
	if t, ok := v.clock(); ok {
		head = append(head, t)
	}
	return append(head, v.link())
}

// link says how the line to the board is.
func (v *View) link() Text {
	if v.Snap == nil {
		return Text{"no board yet", Warn}
	}
	l := v.Snap.Link
	switch {
	case v.Snap.Phase == session.Lost:
		return Text{"board lost", Bad}
	case v.Snap.Phase == session.Ended:
		return Text{"ended", Plain}
	case v.Snap.Phase == session.Refused:
		return Text{"frames refused", Bad}
	case v.Snap.Phase != session.Running:
		return Text{"no data", Warn}
	case v.age() > staleAfter:
		return Text{"data stopped", Bad}
	case l.Overflows > 0:
		return Text{fmt.Sprintf("board too slow: %d missed", l.Overflows), Warn}
	case l.Lost > 0 || l.Damaged > l.Before:
		return Text{fmt.Sprintf("%d lost %d damaged", l.Lost, l.Damaged-l.Before), Warn}
	case v.looks.Slow():
		return Text{"computer too busy", Warn}
	case v.Recording: // what asks for no turn of a real screw is told from what does
		return Text{"a recording: turn nothing", Warn}
	case v.Practice != nil:
		return Text{"practice", Warn}
	}
	return Text{"link good", Plain}
}

// foot is the passing message, or what is known of the zero.
func (v *View) foot() []Text {
	one := func(text string, role Role) []Text { return []Text{{text, role}} }
	past := v.snap().Zero.Running || v.Note == noEnter && v.enterEnds() // what it told of is over
	if v.Note != "" && v.Now.Before(v.NoteUntil) && !past {
		return one(v.Note, v.NoteRole)
	}
	if v.NoRoom.Why != "" {
		return one(v.noRoom(), Bad)
	}
	if v.Practice != nil && v.Practice.Doing != "" {
		return one(v.Practice.Doing, Strong)
	}
	h := v.heat()
	if text := HeatLine(&h); text != "" {
		return one(strings.TrimSpace(text+" "+v.spread(true)), Warn)
	}
	if v.Cold && v.Flow.At > StepWarm && v.Flow.At.live() && !v.nutAsked() {
		return one(WarmFirst+" Enter: it is.", Warn)
	}
	if v.turnsPilot() { // the turn's three large words need the room
		return nil
	}
	if v.Practice != nil && v.Practice.Truth {
		return one(v.truth(), Strong) // it was asked for: on a small screen, too
	}
	if v.snap().Drift.Asks && v.snap().Zero.Zeroed && !v.turning() {
		return one("The sensors have drifted. Engine off, all hoses off the ports, then z: zero again.", Warn)
	}
	if !v.Flow.Off && !v.Flow.At.live() {
		return nil
	}
	if v.raised() != nil {
		return one("◇ at idle, ◆ at the raised speed.", Plain)
	}
	if z := v.snap().Zero; v.snap().Phase == session.Running && !z.Zeroed && !z.Running {
		return one("Not zeroed: figures may be wrong. Engine off, hoses off the ports, then z.", Warn)
	}
	if r := v.reading(); v.hoses() != "" && v.Flow.At != StepHoses && !r.HosesAside && r.Advice.Why != advice.WhyHoses {
		return one(v.hoses(), Warn)
	}
	if d := v.spread(false); d != "" {
		return one(d, Plain)
	}
	return nil
}

// truth is the practice engine's true vacuums and openings.
func (v *View) truth() string {
	text := "True vacuum"
	for _, d := range v.Practice.TrueDraws {
		text += " " + v.Unit.Format(d)
	}
	text += " " + v.Unit.Name + ". Throttles, in % of cylinder 1's opening:"
	for _, o := range v.Practice.TrueOpenings {
		text += fmt.Sprintf(" %.0f", 100*o)
	}
	return text + "."
}

const hosesAside = "You said the hoses are right: correct the firing order on the bike's card."

// hoses says when the pulses do not come in the firing order, "" when they do or it can't be told.
func (v *View) hoses() string {
	r := v.reading()
	if r == nil || r.Hoses.Verdict != hoses.Exchanged || v.age() > blankAfter {
		return ""
	}
	if r.HosesAside {
		return hosesAside
	}
	if len(r.Hoses.Exchanged) == 0 {
		return "The hoses seem to be mixed up, or the firing order on the bike's card is wrong."
	}
	text := "Hoses seem to be swapped: " + plain.Pairs(r.Hoses.Exchanged, ", and ")
	if len(r.Hoses.Alternatives) > 0 {
		text += ", or " + plain.Pairs(r.Hoses.Alternatives, ", or ")
	}
	return text + ". Or the firing order on the bike's card is wrong."
}

// spread says how the bank stands, in brief beside what else is to be read.
func (v *View) spread(brief bool) string {
	r := v.reading()
	if r == nil || math.IsNaN(float64(r.Spread)) || v.age() > blankAfter {
		return ""
	}
	u, spread, left := v.Unit, v.Unit.FormatBeside(r.Spread, v.Aim), plain.LeftOut(r.LeftOut())
	if brief {
		return fmt.Sprintf("Spread %s%s, aim %s, limit %s %s.", spread, left, u.Format(v.Aim), u.Format(v.Limit),
			u.Name)
	}
	return fmt.Sprintf("Spread %s %s over %s%s; aim %s, limit %s.", spread, u.Name, plain.Count(r.Cycles, "cycle"),
		left, u.Format(v.Aim), u.Format(v.Limit))
}

// PracticeHead is how many texts of Picture.Practice stand before the screws: what it is, and whether its engine runs.
const PracticeHead = 2

func (v *View) practice() []Text {
	p := v.Practice
	if p == nil || v.Flow.At < StepZero && !v.Flow.Off {
		return nil
	}
	out := []Text{{"Practice,", Dim}, {map[bool]string{true: "engine running:", false: "engine off:"}[p.Running], Dim}}
	from, to := v.inReach()
	for i := from; i < to; i++ {
		t, net, turned := Text{" " + p.Names[i] + " ", Dim}, 0.0, "(at "
		if i == min(max(p.Screw, from), to-1) {
			t, turned = Text{"[" + p.Names[i] + " chosen]", Strong}, "(turned "
		}
		if i < len(p.Turns) {
			net = plain.RoundNet(p.Turns[i])
		}
		if net != 0 {
			t.Text += turned + map[bool]string{true: "+", false: "−"}[net > 0] + plain.Fraction(net) + ")"
		}
		out = append(out, t)
	}
	return out
}
