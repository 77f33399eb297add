package main

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// practice is the practice engine in the place of a board.
type practice struct {
	rig    *rig
	engine *engine.Engine
	bank   bank.Bank
	name   string
	story  string       // of a bike that has one
	zero   *sensor.Zero // taken by prepare
	// presses are the turns asked for since the hand was last at rest.
	presses int
	pilots  []float64 // turns out of the pilot screws at first
	held    bool      // at the raised speed
	// taken is how often the virtual mechanic has taken a screw in hand.
	taken int
}

// mostPresses bounds the turns that wait for the hand: one turn, so that a key
// held down does not go on turning long after.
const mostPresses = 8

// freshBike is the practice bike when none is named: the chosen bike's bank, else
// a four, with screws of which nothing is known.
const freshBike = "fresh"

// practiceConfig returns the practice bike of that name. Its sensors, screws and
// setting differ each time.
func practiceConfig(r *rig, name string) (engine.Config, error) {
	if s, ok := engine.ScenarioNamed(name); ok {
		return s.Config(r.world.newSeed()), nil
	}
	if name != freshBike {
		return engine.Config{}, usagef("no practice bike %q; there are:\n%s", name, practiceBikes())
	}
	b := bank.Default(4)
	if r.bike != nil && r.bikeName != "" {
		b = r.bike.Bank
		b.Screws = slices.Clone(b.Screws)
		for i := range b.Screws { // the practice engine's screws are its own
			b.Screws[i].EffectKPaPerTurn = 0
		}
	}
	return engine.Config{Bank: b, Seed: r.world.newSeed()}, nil
}

// practiceBikes lists the invented garage.
func practiceBikes() string {
	var b strings.Builder
	for _, s := range engine.Scenarios() {
		fmt.Fprintf(&b, "  %-17s %s\n", s.Name, s.Story)
	}
	return b.String()
}

// addPracticeFlag adds the flag that puts a practice bike in the board's place.
func addPracticeFlag(f *pflag.FlagSet, name *string) {
	f.StringVar(name, "practice", "", "use a practice engine instead of a board; --practice=NAME for one with a story")
	f.Lookup("practice").NoOptDefVal = freshBike
}

// newPractice returns a practice engine.
func newPractice(r *rig, name string, running bool) (*practice, error) {
	cfg, err := practiceConfig(r, name)
	if err != nil {
		return nil, err
	}
	cfg.Running = running
	if r.ambient != 0 {
		cfg.Ambient = pressure.KPa(r.ambient)
	}
	p := &practice{rig: r, bank: cfg.Bank, name: name, engine: engine.New(cfg)}
	for _, s := range engine.Scenarios() {
		if s.Name == name {
			p.story = s.Story
		}
	}
	return p, nil
}

// told is the bike's story, "" when it has none.
func (p *practice) told() string {
	if p.story == "" {
		return ""
	}
	return p.name + ": " + p.story + "\n"
}

// score says how a practice went.
func (p *practice) score() string {
	t := p.engine.Truth()
	if p.taken > 0 { // the mechanic's hand moves in many small steps
		t.Moves = p.taken
	}
	return fmt.Sprintf("practice: a screw taken in hand %d times, %.1f turns in all, engine running %d:%02d, true spread %.2f kPa",
		t.Moves, t.TurnsMade, int(t.IdlingS)/60, int(t.IdlingS)%60, float64(t.Spread))
}

func (p *practice) own() ownership { return practices }
func (p *practice) close()         {}

func (p *practice) configFor(*frame.Announcement) session.Config { return p.config() }

func (p *practice) meet(context.Context, func(string)) (*frame.Announcement, error) {
	return p.announcement(), nil
}

func (p *practice) read(ctx context.Context, sess *session.Session, _ func(string)) error {
	return sess.Run(ctx, session.NewPace(ctx, p.engine))
}

// config is the chain's for the practice engine: no card but the bike's bank.
func (p *practice) config() session.Config {
	b := p.bank
	cfg := session.Config{Bank: &b, Reference: 1, AmbientFrom: session.FromStandard, Ambient: pressure.StandardAtmosphere(0)}
	cfg.Aim, _ = p.rig.limits()
	if p.zero != nil {
		cfg.Ambient, cfg.AmbientFrom = p.zero.Ambient, session.FromZeroPass
		cfg.Setup.Offsets, cfg.Zeroed, cfg.ZeroUncertainty = p.zero.Offsets, true, p.zero.Uncertainty
	}
	cfg.Setup.Ambient = cfg.Ambient
	return cfg
}

// prepare takes a zero pass and starts the engine, faster than real time, for a
// run without hands on the keys.
func (p *practice) prepare(context.Context) error {
	if p.zero != nil {
		return nil
	}
	c := session.NewChain(p.config(), func(*balance.Reading) {})
	buf := make([]byte, 4096)
	for begun := false; !begun || c.ZeroState().Running; {
		n, err := p.engine.Read(buf)
		if err != nil {
			return err
		}
		if err := c.Feed(buf[:n]); err != nil {
			return err
		}
		if !begun && c.Link().LastTime > settleTime {
			begun = c.StartZero()
		}
	}
	if p.zero = c.ZeroState().Result; p.zero == nil {
		return c.ZeroState().Err
	}
	p.engine.Start()
	return nil
}

// announcement is what the practice engine's board says of itself.
func (p *practice) announcement() *frame.Announcement {
	e := engine.New(engine.Config{Bank: p.bank})
	var d frame.Decoder
	buf := make([]byte, 4096)
	n, _ := e.Read(buf)
	d.Feed(bytes.Clone(buf[:n]))
	d.Next()
	return d.Board()
}

// dress names the bike, and puts its screws in the user's hand.
func (p *practice) dress(v *view.View) {
	v.Bike = "practice engine"
	if p.story != "" {
		v.Bike = "practice: " + p.name
	}
	v.Checks = garage.PreStartChecks(&p.bank)
	v.Practice = &view.Practice{Running: p.engine.Truth().Running}
	for _, s := range p.bank.Screws {
		v.Practice.Names = append(v.Practice.Names, s.Name)
	}
	v.Practice.Names = append(v.Practice.Names, view.StopName)
	for _, c := range p.engine.Truth().Cylinders {
		v.Practice.Names = append(v.Practice.Names, fmt.Sprintf("pilot %d", len(p.pilots)+1))
		p.pilots = append(p.pilots, c.PilotOut)
	}
}

// state is the engine's newest state for the display.
func (p *practice) state() view.PracticeState {
	t := p.engine.Truth()
	s := view.PracticeState{Running: t.Running, Turns: append(append([]float64(nil), t.ScrewTurns...), t.StopTurns)}
	for i, c := range t.Cylinders {
		s.Turns = append(s.Turns, p.pilots[i]-c.PilotOut) // inwards is clockwise
		s.TrueDraws = append(s.TrueDraws, c.Draw)
		s.TrueOpenings = append(s.TrueOpenings, c.Opening)
	}
	return s
}

// do carries out what the display asks of the engine.
func (p *practice) do(w view.Want) {
	switch w.Kind {
	case view.TurnScrew:
		if !p.engine.Truth().Turning {
			p.presses = 0
		}
		if p.presses++; p.presses > mostPresses {
			return
		}
		switch n := len(p.bank.Screws); {
		case w.Screw < n:
			p.engine.Turn(w.Screw, w.Turns)
		case w.Screw == n:
			p.engine.TurnStop(w.Turns)
		default:
			p.engine.TurnPilot(w.Screw-n, w.Turns)
		}
	case view.StartEngine:
		p.engine.Start()
	case view.StopEngine:
		p.engine.Stop()
	case view.Blip:
		p.engine.Blip()
	case view.HoldRaised:
		if p.held = !p.held; p.held {
			p.engine.HoldAt(mixture.DefaultRaisedRPM)
		} else {
			p.engine.HoldAt(0)
		}
	}
}
