package practice

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// Fresh is the practice bike when none is named: the chosen bike's bank, else a four, with screws
// of which nothing is known.
const Fresh = "fresh"

// Leaking is the practice bike whose leak is looked for when none is named.
const Leaking = "leaking-boot"

// When a virtual hand wets the first joint, and every how many seconds the next. Chosen.
const FirstWetS, WetEveryS = 15.0, 8.0

// Options choose a practice bike.
type Options struct {
	Name    string       // a story's of the invented garage, or Fresh
	Bank    *bank.Bank   // of a fresh bike; nil is a four
	Like    *garage.Bike // the bike whose bank that is; its idle speed and limit of idling hold as well
	Seed    uint64       // makes sensors, screws and setting differ
	Running bool         // whether the engine runs at first
	Ambient pressure.KPa // absolute; 0 is the bike's own
	Aim     pressure.KPa // spread at which the advice stops
	Mixture *Mixture     // nil: the bank is to be levelled
}

// cardName begins the name of the card that the records of one practice engine go to.
const cardName = "practice-engine "

// CardName is the name of the card of a practice. Each run has an engine of its own, and so a card of its own, named by
// when it began, for the newest to be the last, and by which engine it was: trends over several would mean nothing.
func CardName(begun time.Time, engine string) string {
	return strings.TrimSpace(cardName + begun.Local().Format("2006-01-02 15-04-05 ") + engine)
}

// HasCard reports whether a bike's name is that of a practice engine.
func HasCard(bike string) bool { return strings.HasPrefix(bike, cardName) }

// Known reports whether there is a practice bike of that name.
func Known(name string) bool {
	_, ok := engine.ScenarioNamed(name)
	return ok || name == Fresh
}

// Names are those of the invented garage.
func Names() (names []string) {
	for _, s := range engine.Scenarios() {
		names = append(names, s.Name)
	}
	return names
}

// Columns of the list of stories. Chosen: a manual page of 80 columns keeps 73 for them.
const (
	nameColumn   = 20
	storyColumns = 52
)

// Stories lists the invented garage.
func Stories() string {
	var b strings.Builder
	for _, s := range engine.Scenarios() {
		story := strings.ReplaceAll(plain.Wrap(s.Story, storyColumns), "\n", "\n"+strings.Repeat(" ", nameColumn))
		fmt.Fprintf(&b, "  %-*s%s\n", nameColumn-2, s.Name, story)
	}
	return b.String()
}

// EngineConfig returns the engine of a practice bike. The name must be Known.
func (o *Options) EngineConfig() engine.Config {
	cfg := engine.Config{Bank: bank.Default(4), Seed: o.Seed}
	if s, ok := engine.ScenarioNamed(o.Name); ok {
		cfg = s.Config(o.Seed)
	} else if o.Bank != nil {
		cfg.Bank = *o.Bank
		cfg.Bank.Screws = slices.Clone(cfg.Bank.Screws)
		for i := range cfg.Bank.Screws { // the practice engine's screws are its own
			cfg.Bank.Screws[i].EffectKPaPerTurn = 0
		}
		cfg.IdleRPM = o.idleRPM()
	}
	cfg.Running = o.Running
	if o.Ambient != 0 {
		cfg.Ambient = o.Ambient
	}
	if o.Mixture != nil {
		o.Mixture.apply(&cfg, o.Name == Fresh)
	}
	return cfg
}

// Bike is the practice engine in the place of a board.
type Bike struct {
	Engine *engine.Engine
	Bank   bank.Bank

	name    string
	like    *garage.Bike // the bike whose bank it has, nil for none
	seed    uint64
	story   string       // of a bike that has one
	lesson  string       // what was the matter with it
	aim     pressure.KPa // of its advice
	mixture *Mixture
	zero    *sensor.Zero // taken by Prepare
	// presses are the turns asked for since the hand was last at rest.
	presses int
	pilots  []float64 // turns out of the pilot screws at first
	held    bool      // at the raised speed
	// mechanic turns the screws, nil when a person does.
	mechanic *Mechanic

	mu    sync.Mutex // guards all below
	doing string     // what the virtual mechanic says that he does
	found []string   // what was found and mended, in sentences
}

// mostPresses bounds the turns that wait for the hand, either way: one turn, so that a key held down does not go on
// turning long after; at a pilot screw, which is told by more at once, three.
const mostPresses, mostPilotPresses = 8, 24

// New returns a practice bike. The name must be Known.
func New(o Options) *Bike {
	cfg := o.EngineConfig()
	p := &Bike{Engine: engine.New(cfg), Bank: cfg.Bank, name: o.Name, like: o.Like, seed: cfg.Seed,
		aim: o.Aim, mixture: o.Mixture}
	if s, ok := engine.ScenarioNamed(o.Name); ok {
		p.story, p.lesson = s.Story, s.Truth
	}
	for _, c := range p.Engine.Truth().Cylinders {
		p.pilots = append(p.pilots, c.PilotOut)
	}
	return p
}

// Named tells which practice engine it is, "" for a four without a story.
func (p *Bike) Named() string {
	if p.like != nil {
		return "like " + p.like.Name
	}
	if p.name == Fresh {
		return ""
	}
	return p.name
}

// Story is the bike's story as a line, "" when it has none.
func (p *Bike) Story() string {
	if p.story == "" {
		return ""
	}
	return p.name + ": " + p.story + "\n"
}

// Score says how a practice went.
func (p *Bike) Score() string {
	t := p.Engine.Truth()
	text := fmt.Sprintf("practice: screws turned by %.1f turns in all, engine running %d:%02d", t.TurnsMade,
		int(t.IdlingS)/60, int(t.IdlingS)%60)
	if t.Running { // one that stands has no spread
		text += fmt.Sprintf(", true spread %.2f kPa", float64(t.Spread))
	}
	if p.lesson != "" {
		text += "\nwhat was the matter: " + p.lesson
	}
	return text
}

// Lesson is what was the matter with the bike, "" where it has no story.
func (p *Bike) Lesson() string { return p.lesson }

// Says takes what the virtual mechanic says that he does.
func (p *Bike) Says(text string) {
	p.mu.Lock()
	p.doing = text
	p.mu.Unlock()
}

// Finds keeps what was found or mended, a sentence, once.
func (p *Bike) Finds(text string) {
	p.mu.Lock()
	if !slices.Contains(p.found, text) {
		p.found = append(p.found, text)
	}
	p.mu.Unlock()
}

// Found is what was found and mended so far, for the record; "" for nothing.
func (p *Bike) Found() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Join(p.found, " ")
}

// Mechanic returns a calm mechanic who levels the bike from now on.
func (p *Bike) Mechanic() *Mechanic {
	p.mechanic = NewMechanic(NewHand(p.Engine, &Calm, p.seed), &p.Bank)
	return p.mechanic
}

// PilotHand returns a calm hand at the bike's pilot screws.
func (p *Bike) PilotHand() *PilotHand { return NewPilotHand(p.Engine, &calmPilots, p.seed) }

// settleTime is how long the engine stands before the zero pass, s of its time.
const settleTime = 0.5

// Source is the engine's bytes at real speed, until ctx ends.
func (p *Bike) Source(ctx context.Context) io.Reader { return session.NewPace(ctx, p.Engine) }

// Config is the chain's for the practice engine: no card but the bike's bank.
func (p *Bike) Config() session.Config {
	b := p.Bank
	cfg := session.Config{Bank: &b, Reference: b.Root, AmbientFrom: session.FromStandard,
		Ambient: pressure.StandardAtmosphere(0)}
	if p.mixture != nil {
		cfg = p.mixture.config(b)
	}
	cfg.Aim = p.aim
	if b := p.like; b != nil {
		cfg.Idle.LowRPM, cfg.Idle.HighRPM, cfg.IdlingLimit = b.IdleRPMLow, b.IdleRPMHigh, 60*b.IdlingLimitMin
	}
	if p.zero != nil {
		cfg.Ambient, cfg.AmbientFrom = p.zero.Ambient, session.FromZeroPass
		cfg.Setup.Offsets, cfg.Zeroed, cfg.ZeroUncertainty = p.zero.Offsets, true, p.zero.Uncertainty
	}
	cfg.Setup.Ambient = cfg.Ambient
	return cfg
}

// Prepare takes a zero pass and starts the engine, faster than real time, for a run without hands
// on the keys. It fails when the pass is refused.
func (p *Bike) Prepare() error {
	if p.zero != nil || p.mixture != nil {
		return nil
	}
	begun := false
	c, err := p.feed(func(c *session.Chain) bool {
		begun = begun || c.Link().LastTime > settleTime && c.StartZero()
		return begun && !c.ZeroState().Running
	})
	if err != nil {
		return err
	}
	if p.zero = c.ZeroState().Result; p.zero == nil {
		return c.ZeroState().Err
	}
	p.Engine.Start()
	return nil
}

// Idle lets the engine run for that long, s, faster than real time.
func (p *Bike) Idle(seconds float64) error {
	_, err := p.feed(func(c *session.Chain) bool { return c.Link().LastTime >= seconds })
	return err
}

// feed hands the engine's bytes, faster than real time, to a chain of its own until that is done.
func (p *Bike) feed(done func(*session.Chain) bool) (*session.Chain, error) {
	c := session.NewChain(p.Config(), func(*balance.Reading) {})
	buf := make([]byte, 4096)
	for !done(c) {
		n, err := p.Engine.Read(buf)
		if err == nil {
			err = c.Feed(buf[:n])
		}
		if err != nil {
			return nil, err
		}
	}
	return c, nil
}

// Announcement is what the board of a practice engine with that bank says of itself.
func Announcement(b bank.Bank) *frame.Announcement {
	e := engine.New(engine.Config{Bank: b})
	var d frame.Decoder
	buf := make([]byte, 4096)
	n, _ := e.Read(buf)
	d.Feed(bytes.Clone(buf[:n]))
	d.Next()
	return d.Board()
}

// Describe names the bike, and puts its screws in the user's hand.
func (p *Bike) Describe(v *view.View) {
	v.Bike = "practice engine"
	if named := p.Named(); named != "" {
		v.Bike = "practice: " + named
	}
	v.Checks = garage.PreStartChecks(&p.Bank)
	v.Practice = &view.Practice{Running: p.Engine.Truth().Running, Auto: p.mechanic != nil, Lesson: p.lesson,
		Names: append(p.Bank.ScrewNames(bank.AllScrews), view.StopName)}
	for i := range p.pilots {
		v.Practice.Names = append(v.Practice.Names, fmt.Sprintf("pilot %d", i+1))
	}
}

// State is the engine's newest state for the display.
func (p *Bike) State() view.PracticeState {
	t := p.Engine.Truth()
	s := view.PracticeState{Running: t.Running, Turns: append(append([]float64(nil), t.ScrewTurns...), t.StopTurns)}
	for i, c := range t.Cylinders {
		s.Turns = append(s.Turns, p.pilots[i]-c.PilotOut) // inwards is clockwise
		s.TrueDraws = append(s.TrueDraws, c.Draw)
		s.TrueOpenings = append(s.TrueOpenings, c.Opening)
	}
	p.mu.Lock()
	s.Doing = p.doing
	p.mu.Unlock()
	return s
}

// Do carries out what the display asks of the engine, and returns what is to be said of it, nil for nothing.
func (p *Bike) Do(w view.Want) view.Event {
	switch w.Kind {
	case view.TurnScrew:
		if !p.Engine.Truth().Turning {
			p.presses = 0
		}
		way := 1
		if w.Turns < 0 {
			way = -1
		}
		most := mostPresses
		if w.Screw > len(p.Bank.Screws) {
			most = mostPilotPresses
		}
		if way*p.presses >= most {
			return view.Told{Text: "The hand is still turning: that press is not counted.", Role: view.Warn}
		}
		p.presses += way
		switch n := len(p.Bank.Screws); {
		case w.Screw < n:
			p.Engine.Turn(w.Screw, w.Turns)
		case w.Screw == n:
			p.Engine.TurnStop(w.Turns)
		default:
			p.Engine.TurnPilot(w.Screw-n, w.Turns)
		}
	case view.StartEngine:
		p.Engine.Start()
	case view.StopEngine:
		p.Engine.Stop()
	case view.Blip:
		p.Engine.Blip()
	case view.StartMatch:
		p.Engine.Pump(sensor.BudgetDraw)
	case view.DropMatch:
		p.Engine.Free()
	case view.WetJoint:
		p.Engine.Wet(w.Cylinder, 1, view.WetSeconds)
	case view.Mend:
		return p.mend()
	case view.HoldRaised:
		if p.held = !p.held; p.held {
			p.Engine.HoldAt(raised.DefaultRPM)
		} else {
			p.Engine.HoldAt(0)
		}
	}
	return nil
}
