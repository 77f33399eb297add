package settings

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"

	"evendraw/internal/balance"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/mixture"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/probe"
	"evendraw/internal/session"
	"evendraw/internal/tell"
)

// Choice is what the command line chooses for every verb.
type Choice struct {
	Garage  string  // folder that holds every file; "" is EVENDRAW_GARAGE, else the platform's
	Bike    string  // name of a bike card; "" is the last one used
	Ambient float64 // air pressure, kPa absolute, by a barometer at this place; 0 is not known
}

// Settings are what holds for a run. They never change: another bike makes others.
type Settings struct {
	World   *World
	Version string // of the program
	Garage  *garage.Garage
	Bike    *garage.Bike // nil without a card
	Named   bool         // the bike was named on the command line
	// GarageNamed is set where the garage was: without the flag another one is meant.
	GarageNamed bool
	Ambient     pressure.KPa // given on the command line, absolute; 0 is not known
}

// Streams are where a job reads what is typed, and where it prints.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer // standard output and standard error
}

// Warn tells what does not stop the work.
func (s *Streams) Warn(text string) { fmt.Fprintln(s.Err, "evendraw: "+plain.Lines(text)) }

// Need is how a verb stands to the bike.
type Need int

// What a verb needs of the bike's card.
const (
	NoBike   Need = iota // none is looked for
	MayNamed             // one that is named must be there; without, the last one's if it can be read
	MayBike              // as MayNamed, but a last one that can't be read is an error
	TheBike              // one there must be
	AnyBike              // as TheBike; where none was used yet, the only card, else the newest of practice engines
)

// InUse is the bike used last, else the only one there is, "" for none. The bikes of practices count where practices is
// set: if there are no others, the newest of them is meant, and several is set where it is not alone.
func InUse(g *garage.Garage, practices bool) (name string, several bool) {
	if last, err := g.LastBike(); last != "" || err != nil && !practices {
		return last, false
	}
	bikes, damaged := g.ListBikes() // the newest practice last
	n, real := len(bikes), func(b garage.Bike) bool { return !practice.HasCard(b.Name) }
	switch {
	case n == 0 || len(damaged) > 0:
	case n == 1 && real(bikes[0]), practices && !slices.ContainsFunc(bikes, real):
		return bikes[n-1].Name, n > 1
	}
	return "", false
}

// leastAmbient and mostAmbient bound an air pressure that is given, kPa absolute. Chosen: beyond
// the highest road and the highest barometer.
const leastAmbient, mostAmbient = 40, 115

// Resolve returns the settings in force. What does not stop the work goes to notes.
func Resolve(w *World, version string, c Choice, need Need, notes func(string)) (*Settings, error) {
	if c.Ambient != 0 && !(c.Ambient >= leastAmbient && c.Ambient <= mostAmbient) {
		meant := ""
		if kPa := c.Ambient / 10; kPa >= leastAmbient && kPa <= mostAmbient {
			meant = fmt.Sprintf("; %g hPa is %g kPa", c.Ambient, kPa)
		}
		return nil, hint.Usagef("--ambient %g is no air pressure in kPa absolute (%d to %d; not reduced to sea "+
			"level)%s", c.Ambient, leastAmbient, mostAmbient, meant)
	}
	g, err := garage.Open(cmp.Or(c.Garage, os.Getenv("EVENDRAW_GARAGE")))
	if err != nil {
		return nil, hint.With(err, nameFolder)
	}
	s := &Settings{World: w, Version: version, Garage: g, Named: c.Bike != "", Ambient: pressure.KPa(c.Ambient),
		GarageNamed: c.Garage != ""}
	if need != MayNamed && need != MayBike { // those two go on without a garage
		if _, err := folderAt(g.Paths().Dir); err != nil {
			return nil, err
		}
	}
	if need == NoBike {
		return s, nil
	}
	name, several := c.Bike, false
	if !s.Named {
		name, several = InUse(g, need == AnyBike)
	}
	if several {
		notes("this is " + name + ", the newest; evendraw bike list has the others, --bike takes one")
	}
	if name != "" {
		err = s.takeBike(name, notes)
	}
	if need == MayNamed && !s.Named {
		err = nil
	}
	if err == nil && s.Bike == nil && (need == TheBike || need == AnyBike) {
		err = NoBikeYet(g)
	}
	return s, err
}

// NoBikeYet is why no bike is known where none was named: what can't be read, else that none was used.
func NoBikeYet(g *garage.Garage) error {
	if _, err := g.LastBike(); err != nil {
		return err
	}
	bikes, damaged := g.ListBikes()
	if len(bikes) == 0 && len(damaged) > 0 {
		return damaged[0]
	}
	if len(bikes) == 0 {
		return hint.With(errors.New("there is no bike yet"), `make one: evendraw bike new "NAME" --cylinders 4; `+
			"evendraw live --practice needs none")
	}
	return hint.With(errors.New("no bike is in use"),
		`name one of evendraw bike list with --bike, or make one: evendraw bike new "NAME" --cylinders 4`)
}

// takeBike loads a card.
func (s *Settings) takeBike(name string, notes func(string)) error {
	b, err := s.Garage.LoadBike(name)
	switch {
	case err != nil && !s.Named:
		return hint.With(fmt.Errorf("the card of the last bike, %q, can't be used: %w", name, err),
			"put the card right, or choose another bike with --bike")
	case errors.Is(err, fs.ErrNotExist):
		return NoBikeNamed(s.Garage, name)
	case err != nil:
		return err
	}
	s.Bike = &b
	if note := tell.UnknownKeys(fmt.Sprintf("the card of %q", b.Name), b.Unknown); note != "" {
		notes(note)
	}
	return nil
}

// NoBikeNamed is the error of a name that no card has.
func NoBikeNamed(g *garage.Garage, name string) error {
	var names []string
	all, _ := g.ListBikes()
	for _, b := range all {
		names = append(names, b.Name)
	}
	return hint.Usage(hint.With(fmt.Errorf("there is no bike card named %q%s", name, plain.IsMeant(name, names)),
		"evendraw bike list shows the cards there are"))
}

// WithBike are the settings with another bike; nil is none.
func (s *Settings) WithBike(b *garage.Bike) *Settings {
	other := *s
	other.Bike = b
	return &other
}

// BikeName is the name of the bike in use, "" without a card.
func (s *Settings) BikeName() string {
	if s.Bike == nil {
		return ""
	}
	return s.Bike.Name
}

// Unit is what pressures are shown in.
func (s *Settings) Unit() pressure.Unit {
	if s.Bike != nil {
		if u, err := pressure.ParseUnit(s.Bike.Unit); err == nil {
			return u
		}
	}
	return pressure.Kilopascal
}

// UnitOf is the unit that a record is shown in: that of its bike's card, else of the record itself.
func (s *Settings) UnitOf(r *garage.SyncRecord) pressure.Unit {
	if s.BikeName() == r.Bike {
		return s.Unit()
	}
	if b, err := s.Garage.LoadBike(r.Bike); err == nil {
		return s.WithBike(&b).Unit()
	}
	return s.WithBike(&garage.Bike{Unit: r.Unit}).Unit()
}

// Limits are the card's aim and limit, or the defaults.
func (s *Settings) Limits() (aim, limit pressure.KPa) {
	if s.Bike != nil {
		return s.Bike.AimKPa, s.Bike.LimitKPa
	}
	return balance.DefaultAim, balance.DefaultLimit
}

// ConfigOf returns the chain's settings that a bike card and a board card give.
func (s *Settings) ConfigOf(card garage.Board) session.Config {
	cfg := session.Config{AmbientFrom: session.FromStandard, Ambient: pressure.StandardAtmosphere(0),
		KnownAmbient: s.Ambient}
	if s.Bike != nil {
		b := s.Bike.Bank
		cfg.Bank, cfg.Reference, cfg.Aim = &b, s.Bike.Reference, s.Bike.AimKPa
		cfg.IdlingLimit, cfg.LevelBy = 60*s.Bike.IdlingLimitMin, balance.LevelBy(s.Bike.LevelBy)
		cfg.Hand = balance.Hand{Lag: s.Bike.HandLateS, RunOn: s.Bike.HandRunOnTurns}
		cfg.Idle = mixture.IdleConfig{LowRPM: s.Bike.IdleRPMLow, HighRPM: s.Bike.IdleRPMHigh,
			EffectRPMPerTurn: s.Bike.StopEffectRPMPerTurn}
		if s.Bike.AltitudeM != nil {
			cfg.Ambient = pressure.StandardAtmosphere(*s.Bike.AltitudeM)
		}
	}
	if s.Ambient != 0 {
		cfg.Ambient, cfg.AmbientFrom = s.Ambient, session.FromUser
	}
	cfg.Lambda = s.lambda(card.Lambda)
	takeCard(&cfg, &card)
	return cfg
}

// lambda returns the probe that a board card tells of, nil for none.
func (s *Settings) lambda(card *garage.LambdaCard) *session.LambdaConfig {
	if card == nil {
		return nil
	}
	l := &session.LambdaConfig{Channel: card.Channel, StoichAFR: garage.DefaultStoichAFR,
		Probe: probe.Probe{LowV: card.LowV, HighV: card.HighV, LowLambda: card.LowLambda,
			HighLambda: card.HighLambda}}
	if s.Bike != nil {
		l.StoichAFR = s.Bike.StoichAFR
	}
	return l
}

// override puts what the command line says over the settings of a capture's head.
func (s *Settings) override(cfg *session.Config) {
	if s.Named && s.Bike != nil {
		b := s.Bike.Bank
		cfg.Bank, cfg.Reference, cfg.Aim = &b, s.Bike.Reference, s.Bike.AimKPa
	}
	if s.Ambient != 0 && cfg.AmbientFrom != session.FromZeroPass {
		cfg.Ambient, cfg.AmbientFrom = s.Ambient, session.FromUser
		cfg.Setup.Ambient = cfg.Ambient
	}
}
