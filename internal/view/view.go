package view

import (
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/hills"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/rates"
	"evendraw/internal/session"
)

// View is the state of the display.
type View struct {
	Now  time.Time
	Snap *session.Snapshot
	// Bike is the name on the bike card, "" without one.
	Bike string
	Unit pressure.Unit
	// Limit is the spread at which a bank passes; Aim that at which the advice stops.
	Limit, Aim pressure.KPa
	// ByMean shows differences from the bank's mean instead of from the reference.
	ByMean bool
	// Flow is where the job stands.
	Flow Flow
	// Page is what is looked at, and Alone is set while the advice has the whole screen.
	Page  Page
	Alone bool
	// Cursor is the line in hand of a page that is a list.
	Cursor int
	under  int // the Cursor of the page under one that was opened
	// marks are how the steps before were left: x done, - skipped.
	marks [stepCount]string
	// Entry is the line of text being typed, nil when none is.
	Entry *Entry
	// Bikes are the names that can be chosen from.
	Bikes []string
	// Checks are the bike's pre-start checks, and Ticks what was answered.
	Checks []garage.Check
	Ticks  []garage.Tick
	// Remark goes into the record.
	Remark string
	// Records are the files that were saved in this run.
	Records []string
	// Practice is the practice engine's state, nil without one.
	Practice *Practice
	// Recording is set where a capture is shown: nothing at hand is to be turned.
	Recording bool
	// Cold is set where the step that warms the engine up is passed over, until it is taken, or said, to be warm.
	Cold   bool
	warmth string // one of the garage's, "" before anything is known of it
	// Headless is set where no keys are taken: plain lines.
	Headless bool
	// Phone is the page for a phone, nil where none is served.
	Phone *Phone
	// LinkNote says how the search for a board goes, "" when there is nothing to say.
	LinkNote string
	// Bare is what is known of a board without a program, nothing while there is none.
	Bare BareBoard
	// Note is a passing message, shown until NoteUntil.
	Note      string
	NoteRole  Role
	NoteUntil time.Time
	// NoRoom says why records can't be kept, nothing while they can.
	NoRoom NoRoom
	// Wants are what the last event asks the program to do.
	Wants []Want

	hold    wordHold
	order   Words     // of a fault, to be read while the engine stands
	orderAt time.Time // when they were last told
	// noChange is set from when nothing was told to answer to a screw, as long as nothing else is told.
	noChange bool
	leak     leak // that looking for one has found, until it is put aside
	hills    hills.Hills
	rate     rates.Frames
	looks    rates.Looks
	saved    bool // a level bank has been saved by itself
	rests    bool // see toRest
	savedAt  time.Time
	see      string // the command that lists the last record
	answered string // the note that a key answers
	// ordered is the large word that last sent to the engine; early is it where g came before it was told again.
	ordered, early string
	earlyAt        time.Time
	wentPast       time.Time // when g was pressed last, until it is seen what came of it
	// read is set once a reading was good for a record; nutAt is when a lock nut was asked for last, nutScrew whose.
	read     bool
	nutAt    time.Time
	nutScrew int
}

// Page is what the screen is given to.
type Page int

// Pages. PageStep is that of the step at hand: the levelling view, most of the time.
const (
	PageStep  Page = iota
	PageSteps      // all steps, to jump to one
	PageWaves      // one cycle of all cylinders against crank angle
	PageRig        // what is known of every channel and of the line
	PageHelp
	PagePhone // under which address a phone sees all this
)

// Practice is what the display knows of the practice engine.
type Practice struct {
	Running bool
	Auto    bool // a virtual mechanic levels the bank
	// Doing is what he says that he does, "" without one.
	Doing string
	// Lesson is what was the matter with the practice bike, and what it teaches; "" without one.
	Lesson string
	// Screw is the index of the screw that the keys turn: the synchronising screws,
	// the throttle stop, the pilot screws.
	Screw int
	Names []string
	// Turns made of each, clockwise positive.
	Turns []float64
	// Truth shows the true draws, on request.
	Truth        bool
	Joint        int // the cylinder whose joint was wetted last
	TrueDraws    []pressure.KPa
	TrueOpenings []float64 // over that of cylinder 1
}

// WantKind is a thing that the display asks the program to do.
type WantKind int

// Things that the display can ask for.
const (
	Quit      WantKind = iota
	Interrupt          // as Quit, by Ctrl-C
	Suspend            // give the terminal back until the program is called again
	Save               // Text is what is known of the engine's warmth
	UseFolder          // for records, from now on; Text is its path
	PrintPage          // of the record saved last
	StartZero
	StartMatch
	DropMatch // end a match pass that runs, without a result
	SetReference
	ChooseBike  // Text is its name, "" none
	MakeBike    // Card
	SetIdle     // Low and High are the idle speed of the bike in use, rpm
	KeepPlace   // Text is the step's ID
	KeepTicks   // Ticks
	LookLevel   // begin the levelling: its words are shown from now on
	LookIdle    // look at the idle speed anew
	LookRaised  // begin the look at the raised speed
	TrimPilots  // begin to trim the pilot screws
	TrimAnew    // the same from where they stand, whatever was found before
	PilotsBack  // the pilot screws left in a trial position are back where they were
	TrimCorrect // the turn of that Number was made by Turns, in the direction told
	TrimMade    // the turn of a pilot screw is made
	EndTune     // end trim and look
	WatchAir    // begin to watch for an air leak, or end it
	ToggleFan   // a fan blows on the engine, or no longer
	GoOn        // put aside the fault that is being told
	NutTight    // the lock nut that was asked for last is tight
	Install     // put the board program on the board, or agree to that
	TurnScrew
	StartEngine
	StopEngine
	Blip
	WetJoint   // of Cylinder
	HoldRaised // hold the practice engine at the raised speed, or let go
	Mend       // put right what is wrong with the practice engine beside its screws
)

// Want is one thing asked for.
type Want struct {
	Kind      WantKind
	Cylinder  int     // SetReference, WetJoint
	Screw     int     // TurnScrew
	Turns     float64 // TurnScrew, clockwise positive
	Number    int     // TrimCorrect
	Text      string
	Card      *garage.Bike // MakeBike
	Low, High float64      // the idle speed, rpm; 0 unknown
	Ticks     []garage.Tick
}

// saveSeconds is the least time between two records by the key.
const saveSeconds = 2

// noEnter answers an Enter that does nothing. It goes once Enter is asked for.
const noEnter = "Enter is not needed here: n goes on to the next step."

// noteSeconds is how long a passing message stays, and readTime how long an Enter still answers the step before one
// that came by itself. Chosen.
const noteSeconds, readTime = 6, time.Second

// Event is something that happened.
type Event interface{ event() }

// Tick brings the newest snapshot.
type Tick struct {
	Now  time.Time
	Snap *session.Snapshot
}

// KeyPress is a key, as the text that the terminal's adapter gives it: a letter, or one of the Key names.
type KeyPress struct{ Key string }

// Told is a message to pass on: of the program's own doings.
type Told struct {
	Text string
	Role Role
}

// LinkNews says how the search for a board goes.
type LinkNews struct{ Text string }

// BareBoard tells of a port on which there is no board program, of what is on it once that is known, and how far
// writing is. All empty: it is over.
type BareBoard struct {
	Port  string
	Loses string // what is lost by writing, waiting to be agreed to
	Done  int    // per cent written
	Busy  bool   // it is being looked at or written
}

// SavedRecord tells that a record was saved, what it is in words, and with which command it is seen.
type SavedRecord struct{ What, See string }

// NoRoom says why records can't be kept, and a folder that could take them, "" when none is known. Both empty:
// they can.
type NoRoom struct{ Why, Offer string }

// Bike brings a bike that was chosen, Name "" for none, with what its card says.
type Bike struct {
	Name       string
	Unit       pressure.Unit
	Aim, Limit pressure.KPa
	ByMean     bool // differences are shown from the bank's mean
	Checks     []garage.Check
	Ticks      []garage.Tick
	// All are the names of all bikes.
	All []string
}

// PracticeState brings the newest state of the practice engine.
type PracticeState struct {
	Running      bool
	Doing        string
	Turns        []float64
	TrueDraws    []pressure.KPa
	TrueOpenings []float64
}

// LevelAgain goes back to the levelling.
type LevelAgain struct{}

func (Tick) event()          {}
func (KeyPress) event()      {}
func (Told) event()          {}
func (LinkNews) event()      {}
func (BareBoard) event()     {}
func (SavedRecord) event()   {}
func (NoRoom) event()        {}
func (Bike) event()          {}
func (PracticeState) event() {}
func (LevelAgain) event()    {}

// Update returns the view after an event. It changes nothing else.
func Update(v View, e Event) View {
	v.Wants = nil
	switch e := e.(type) {
	case Tick:
		v.noteRestart(v.Snap, e.Snap)
		air := v.air()
		if v.Now, v.Snap = e.Now, e.Snap; air != nil && v.air() == nil && !v.Headless { // none is put aside
			v.leak = leakHeard(air)
		}
		v.leak.stood = v.leak.cylinder > 0 && (v.leak.stood || !v.turning())
		if r := v.reading(); r != nil {
			v.hills.Push(v.compared(r))
		}
		v.read = v.read || session.Usable(v.reading())
		if v.nutTold() {
			v.nutAt, v.nutScrew = v.Now, v.reading().Advice.Screw
		}
		v.rests = v.toRest()
		v.rate.Push(v.Snap)
		v.looks.Push(v.Now)
		v.saveByItself()
		v.follow()
		v.keepOrder()
		v.holdWords()
		v.lookPast()
	case KeyPress:
		v.hold, v.Note, v.answered = v.hold.answered(v.Now, e.Key), "", v.Note // what it told of is answered, or past
		return v.key(e.Key)
	case Told:
		v.note(e.Text, e.Role)
	case LinkNews:
		v.LinkNote = e.Text
	case BareBoard:
		v.Bare = e
	case NoRoom:
		v.takeRoom(e)
	case SavedRecord:
		v.takeRoom(NoRoom{})
		v.Records, v.see = append(v.Records[:len(v.Records):len(v.Records)], e.What), e.See
		if v.Note = ""; v.Flow.At != StepKeep || v.Flow.Off || v.mustStop() { // where it is said large
			v.note("Saved: "+plain.Text(e.What)+".", Good)
		}
	case Bike:
		v.takeBike(&e)
	case LevelAgain:
		v.choose(StepLevel)
	case PracticeState:
		if v.Practice != nil {
			p := *v.Practice
			p.Running, p.Turns, p.TrueDraws, p.TrueOpenings = e.Running, e.Turns, e.TrueDraws, e.TrueOpenings
			p.Doing = e.Doing
			v.Practice = &p
		}
	}
	return v
}

func (v *View) note(text string, role Role) {
	v.Note, v.NoteRole, v.NoteUntil = plain.Text(text), role, v.Now.Add(noteSeconds*time.Second)
}

func (v *View) want(w Want) { v.Wants = append(v.Wants, w) }

// takeRoom takes whether records can be kept; where they can, a folder is asked for no more.
func (v *View) takeRoom(r NoRoom) {
	if v.NoRoom = r; r.Why == "" && v.Entry != nil && v.Entry.For == EntryFolder {
		v.Entry = nil
	}
}

func (v *View) takeBike(b *Bike) {
	v.Bike, v.Unit, v.Aim, v.Limit = b.Name, b.Unit, b.Aim, b.Limit
	v.Checks, v.Bikes, v.ByMean = b.Checks, b.All, b.ByMean
	v.Ticks = garage.FreshTicks(b.Ticks, b.Checks, v.Now)
	v.hills = hills.Hills{}
	v.saved = false
}

// saveByItself asks to save once when the bank has become level.
func (v *View) saveByItself() {
	if v.reading() == nil || v.Snap.Phase != session.Running || v.Recording {
		return
	}
	switch a := &v.Snap.Reading.Advice; {
	case a.Kind == advice.Done && !v.saved:
		v.saved = true
		v.want(Want{Kind: Save, Text: v.warmth})
	case a.ToTurn(advice.SyncScrew):
		v.saved = false
	}
}
