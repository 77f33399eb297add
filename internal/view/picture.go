package view

import (
	"fmt"
	"math"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/session"
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

// Lane is what is shown of one cylinder.
type Lane struct {
	Label string // "1"
	// Draw is the draw in the chosen unit, and Difference the signed
	// difference from the reference with its uncertainty.
	Draw, Difference string
	// At is where the marker stands, -1 to 1 from the left to the right end of
	// the lane, 0 being the reference; Half is half the uncertainty's width.
	// Shown is false when there is no marker.
	At, Half  float64
	Shown     bool
	Reference bool
	// Fault says what is wrong with the channel, "" when nothing is.
	Fault string
	Role  Role
}

// Picture is all that a screen shows, in words and marks.
type Picture struct {
	Head []Text // one line: bike, speed, link
	// Big is the advice in a few letters, with Arrow turning +1 clockwise, -1
	// anticlockwise, 0 none, standing before Amount.
	Big, Amount string
	Arrow       int
	Role        Role
	// Say is the advice as a sentence or two.
	Say []string
	// Scale describes the lanes' ends; Band is the aim's half-width on them.
	Left, Middle, Right string
	Unit                string
	Band, Limit         float64
	Lanes               []Lane
	Foot                []Text // passing message, or state of the zero
	Keys                string
	Practice            []Text
	Stale               bool
	Help                []string
}

// Picture returns what a screen shows of the view.
func (v *View) Picture() Picture {
	p := Picture{Keys: v.keys()}
	if v.Help {
		p.Help = v.help()
	}
	age := v.age()
	r := v.reading()
	blank := r != nil && age > blankAfter
	p.Stale = r != nil && age > staleAfter
	p.Head = v.head(r, blank)
	if blank || r == nil {
		v.tellLink(&p)
	} else {
		v.tellAdvice(&p, r)
	}
	if z := v.zeroState(); z.Running && !blank && r != nil {
		v.tellZero(&p, z)
	}
	v.lanes(&p, r, blank)
	p.Foot = v.foot()
	p.Practice = v.practice()
	if p.Stale {
		p.Role = Dim
	}
	return p
}

// reading returns the newest reading, nil if there is none.
func (v *View) reading() *balance.Reading {
	if v.Snap == nil {
		return nil
	}
	return v.Snap.Reading
}

// age returns how old the last frame is.
func (v *View) age() time.Duration {
	if v.Snap == nil || v.Snap.LastFrame.IsZero() {
		return time.Hour
	}
	return v.Now.Sub(v.Snap.LastFrame)
}

func (v *View) zeroState() session.ZeroState {
	if v.Snap == nil {
		return session.ZeroState{}
	}
	return v.Snap.Zero
}

func (v *View) head(r *balance.Reading, blank bool) []Text {
	name := v.Bike
	if name == "" {
		name = "no bike card"
	}
	head := []Text{{name, Strong}}
	switch {
	case r == nil || blank:
		head = append(head, Text{"– rpm", Dim})
	case math.IsNaN(r.RPM):
		head = append(head, Text{"no steady cycle", Plain})
	case r.Steady:
		head = append(head, Text{fmt.Sprintf("%.0f rpm steady", r.RPM), Plain})
	default:
		head = append(head, Text{fmt.Sprintf("%.0f rpm moving", r.RPM), Warn})
	}
	if v.Snap != nil {
		if s := v.Snap.Journal.Idling; s > 0 {
			head = append(head, Text{fmt.Sprintf("running %d:%02d", int(s)/60, int(s)%60), Plain})
		}
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
	case v.Snap.Phase != session.Running:
		return Text{"no frames", Warn}
	case v.age() > staleAfter:
		return Text{"frames stopped", Bad}
	case l.Overflows > 0:
		return Text{fmt.Sprintf("board too slow: %d instants missed", l.Overflows), Warn}
	case l.Lost > 0 || l.Damaged > 0:
		return Text{fmt.Sprintf("%d lost %d damaged", l.Lost, l.Damaged), Warn}
	}
	return Text{"link good", Plain}
}

// foot is the passing message, or what is known of the zero.
func (v *View) foot() []Text {
	if v.Note != "" && v.Now.Before(v.NoteUntil) {
		return []Text{{v.Note, v.NoteRole}}
	}
	if v.Practice != nil && v.Practice.Truth {
		return []Text{{v.truth(), Plain}}
	}
	if z := v.zeroState(); v.Snap != nil && v.Snap.Phase == session.Running && !z.Zeroed && !z.Running {
		return []Text{{"No zero: the sensors' own offsets are still in these figures. Engine off, hoses open, then z.", Warn}}
	}
	if h := v.hoses(); h != "" {
		return []Text{{h, Warn}}
	}
	if h := v.heat(); h != "" {
		return []Text{{h, Warn}}
	}
	if d := v.spread(); d != "" {
		return []Text{{d, Plain}}
	}
	return nil
}

// longRun is after how many seconds of running the heat is named. An invented
// default: a standing air-cooled engine without a fan overheats in minutes
// (common practice, no source).
const longRun = 300

// heat reminds of the heat of a standing engine, "" while there is no need.
func (v *View) heat() string {
	r := v.reading()
	if r == nil || !r.Span.Cycle || v.Snap.Journal.Idling < longRun {
		return ""
	}
	return fmt.Sprintf("The engine has run for %d minutes: without a fan on it, let it cool before you go on.", int(v.Snap.Journal.Idling)/60)
}

// truth is the practice engine's true draws.
func (v *View) truth() string {
	text := "Truth: draws"
	for _, d := range v.Practice.TrueDraws {
		text += " " + v.Unit.Format(d)
	}
	text += " " + v.Unit.Name + ", openings:"
	for _, o := range v.Practice.TrueOpenings {
		text += fmt.Sprintf(" %.2f", o)
	}
	return text
}

// hoses says when the pulses do not come in the firing order, "" when they do
// or it can't be told.
func (v *View) hoses() string {
	r := v.reading()
	if r == nil || string(r.Hoses.Verdict) != "exchanged" || v.age() > blankAfter {
		return ""
	}
	if len(r.Hoses.Exchanged) == 0 {
		return "The pulses do not come in the firing order: are the hoses mixed up, or is the order on the bike's card another?"
	}
	text := "The pulses come as if these hoses were exchanged:"
	for i, p := range r.Hoses.Exchanged {
		if i > 0 {
			text += ", and"
		}
		text += fmt.Sprintf(" %d and %d", p[0], p[1])
	}
	for _, p := range r.Hoses.Alternatives {
		text += fmt.Sprintf(" or %d and %d", p[0], p[1])
	}
	return text + ". Or the firing order on the bike's card is another."
}

// spread says how the bank stands.
func (v *View) spread() string {
	r := v.reading()
	if r == nil || math.IsNaN(float64(r.Spread)) || v.age() > blankAfter {
		return ""
	}
	u := v.Unit
	text := fmt.Sprintf("Spread %s %s over %d cycles; aim %s, limit %s (the bike's manual decides).",
		u.Format(r.Spread), u.Name, r.Cycles, u.Format(v.Aim), u.Format(v.Limit))
	return text
}

func (v *View) practice() []Text {
	p := v.Practice
	if p == nil {
		return nil
	}
	state := "engine off"
	if p.Running {
		state = "engine on"
	}
	out := []Text{{"Practice, " + state + ", in hand:", Dim}}
	for i, name := range p.Names {
		t := Text{" " + name + " ", Dim}
		if i == p.Screw {
			t = Text{"[" + name + "]", Strong}
		}
		if i < len(p.Turns) && math.Abs(p.Turns[i]) >= 1.0/32 {
			sign := "+"
			if p.Turns[i] < 0 {
				sign = "−"
			}
			t.Text += sign + Fraction(p.Turns[i])
		}
		out = append(out, t)
	}
	return out
}
