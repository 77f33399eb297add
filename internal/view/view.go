// Package view holds the state of the display as plain data, and all wording
// that the user reads. It draws nothing.
//
// Update takes an event and returns the next View; Picture turns a View into
// the texts and marks that a screen shows; Line and JSON make the plain and the
// machine-readable line of a reading.
package view

import (
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// View is the state of the display.
type View struct {
	Now  time.Time
	Snap *session.Snapshot
	// Bike is the name on the bike card, "" without one.
	Bike string
	Unit pressure.Unit
	// Limit is the spread at which a bank passes; Aim that at which the
	// advice stops.
	Limit, Aim pressure.KPa
	// Source says where the bytes come from, for the head line.
	Source string
	// Help is set while the help is shown.
	Help bool
	// Practice is the practice engine's state, nil without one.
	Practice *Practice
	// LinkNote says how the search for a board goes, "" when there is nothing
	// to say.
	LinkNote string
	// Note is a passing message, shown until NoteUntil.
	Note      string
	NoteRole  Role
	NoteUntil time.Time
	// Wants are what the last event asks the program to do.
	Wants []Want
	// saved is set once a level bank has been saved by itself.
	saved   bool
	savedAt time.Time
}

// Practice is what the display knows of the practice engine.
type Practice struct {
	Running bool
	// Screw is the index of the screw that the keys turn; one past the last
	// is the throttle stop.
	Screw int
	Names []string
	// Turns made of each, clockwise positive.
	Turns []float64
	// Truth shows the true draws, on request.
	Truth        bool
	TrueDraws    []pressure.KPa
	TrueOpenings []float64 // over that of cylinder 1
}

// WantKind is a thing that the display asks the program to do.
type WantKind int

// Things that the display can ask for.
const (
	Quit      WantKind = iota
	Interrupt          // as Quit, by Ctrl-C
	Save
	StartZero
	SetReference
	TurnScrew
	StartEngine
	StopEngine
	Blip
	GoOn // put aside the fault that is being told
)

// Want is one thing asked for.
type Want struct {
	Kind     WantKind
	Cylinder int     // SetReference
	Screw    int     // TurnScrew
	Turns    float64 // TurnScrew, clockwise positive
}

// saveSeconds is the least time between two records by the key.
const saveSeconds = 2

// noteSeconds is how long a passing message stays.
const noteSeconds = 6

// Event is something that happened: Tick, Key, Saved, Told or PracticeState.
type Event interface{ event() }

// Tick brings the newest snapshot.
type Tick struct {
	Now  time.Time
	Snap *session.Snapshot
}

// KeyPress is a key, as the text that the terminal's adapter gives it: a
// letter, or one of the Key names.
type KeyPress struct{ Key string }

// Names of keys that are no letters.
const (
	KeyEscape = "escape"
	KeyCtrlC  = "ctrl-c"
	KeyLeft   = "left"
	KeyRight  = "right"
	KeyUp     = "up"
	KeyDown   = "down"
	KeyTab    = "tab"
)

// Told is a message to pass on: of the program's own doings.
type Told struct {
	Text string
	Role Role
}

// LinkNews says how the search for a board goes.
type LinkNews struct{ Text string }

// PracticeState brings the newest state of the practice engine.
type PracticeState struct {
	Running      bool
	Turns        []float64
	TrueDraws    []pressure.KPa
	TrueOpenings []float64
}

func (Tick) event()          {}
func (KeyPress) event()      {}
func (Told) event()          {}
func (LinkNews) event()      {}
func (PracticeState) event() {}

// Update returns the view after an event. It changes nothing else.
func Update(v View, e Event) View {
	v.Wants = nil
	switch e := e.(type) {
	case Tick:
		v.Now, v.Snap = e.Now, e.Snap
		v = v.saveByItself()
	case KeyPress:
		return v.key(e.Key)
	case Told:
		v.note(e.Text, e.Role)
	case LinkNews:
		v.LinkNote = e.Text
	case PracticeState:
		if v.Practice != nil {
			p := *v.Practice
			p.Running, p.Turns, p.TrueDraws, p.TrueOpenings = e.Running, e.Turns, e.TrueDraws, e.TrueOpenings
			v.Practice = &p
		}
	}
	return v
}

func (v *View) note(text string, role Role) {
	v.Note, v.NoteRole, v.NoteUntil = text, role, v.Now.Add(noteSeconds*time.Second)
}

// saveByItself asks to save once when the bank has become level.
func (v View) saveByItself() View {
	if v.Snap == nil || v.Snap.Reading == nil || v.Snap.Phase != session.Running {
		return v
	}
	switch v.Snap.Reading.Advice.Kind {
	case balance.Done:
		if !v.saved {
			v.saved = true
			v.Wants = append(v.Wants, Want{Kind: Save})
		}
	case balance.Turn, balance.Reverse:
		v.saved = false
	}
	return v
}

// key does what a key means.
func (v View) key(k string) View {
	want := func(w Want) View {
		v.Wants = append(v.Wants, w)
		return v
	}
	switch k {
	case "q":
		return want(Want{Kind: Quit})
	case KeyCtrlC:
		return want(Want{Kind: Interrupt})
	case KeyEscape:
		if v.Help {
			v.Help = false
			return v
		}
		return want(Want{Kind: Quit})
	case "?", "h":
		v.Help = !v.Help
		return v
	case "u":
		v.Unit = v.Unit.Next()
		return v
	case "s":
		if v.Snap == nil || !session.Usable(v.Snap.Reading) {
			v.note("Nothing to save yet: no cycle has been read on every cylinder.", Warn)
			return v
		}
		if v.Now.Sub(v.savedAt) < saveSeconds*time.Second {
			return v // one press is one record
		}
		v.savedAt = v.Now
		return want(Want{Kind: Save})
	case "z":
		return want(Want{Kind: StartZero})
	case "g":
		if r := v.reading(); r != nil && r.Advice.Kind == balance.Fault && r.Advice.Why != balance.WhyChannel {
			return want(Want{Kind: GoOn})
		}
	case "1", "2", "3", "4":
		return want(Want{Kind: SetReference, Cylinder: int(k[0] - '0')})
	}
	if v.Practice != nil {
		return v.practiceKey(k)
	}
	return v
}

// Turns of a screw that one press of a practice key makes.
const (
	pressTurns     = 1.0 / 8
	finePressTurns = 1.0 / 16
)

// practiceKey does what a key means on the practice engine.
func (v View) practiceKey(k string) View {
	p := *v.Practice
	turn := func(turns float64) { v.Wants = append(v.Wants, Want{Kind: TurnScrew, Screw: p.Screw, Turns: turns}) }
	switch k {
	case KeyRight:
		turn(pressTurns)
	case KeyLeft:
		turn(-pressTurns)
	case ".":
		turn(finePressTurns)
	case ",":
		turn(-finePressTurns)
	case KeyTab, KeyDown:
		p.Screw = (p.Screw + 1) % len(p.Names)
	case KeyUp:
		p.Screw = (p.Screw + len(p.Names) - 1) % len(p.Names)
	case "t":
		p.Truth = !p.Truth
	case "b":
		v.Wants = append(v.Wants, Want{Kind: Blip})
	case "e":
		kind := StartEngine
		if p.Running {
			kind = StopEngine
		}
		v.Wants = append(v.Wants, Want{Kind: kind})
	}
	v.Practice = &p
	return v
}
