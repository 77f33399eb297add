package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/tell"
)

// rig is what every verb knows: the garage, the bike, and the flags that are
// common to all.
type rig struct {
	garageDir string
	bikeName  string
	ambient   float64

	world world
	err   io.Writer // standard error

	garage *garage.Garage
	bike   *garage.Bike // nil without a card
	// warn tells what does not stop the work; nil writes to err.
	warn   func(string)
	warned []string // by warnOnce
}

// warns tells what does not stop the work.
func (r *rig) warns(text string) {
	if r.warn != nil {
		r.warn(text)
		return
	}
	fmt.Fprintln(r.err, "evendraw: "+tell.Lines(text))
}

// cardName is the name of the bike in use, "" without a card.
func (r *rig) cardName() string {
	if r.bike == nil {
		return ""
	}
	return r.bike.Name
}

func (r *rig) addFlags(f *pflag.FlagSet) {
	f.StringVar(&r.garageDir, "garage", "", "folder that holds every file (default: EVENDRAW_GARAGE, else the platform's data folder)")
	f.StringVar(&r.bikeName, "bike", "", "the bike card to use (default: the last one)")
	f.Float64Var(&r.ambient, "ambient", 0, "air pressure in kPa absolute, from a barometer at this place")
}

// open finds the garage.
func (r *rig) open() error {
	if r.ambient != 0 && !(r.ambient >= 40 && r.ambient <= 115) {
		return usagef("--ambient %g is no air pressure in kPa absolute (40 to 115; not reduced to sea level)", r.ambient)
	}
	dir := r.garageDir
	if dir == "" {
		dir = os.Getenv("EVENDRAW_GARAGE")
	}
	g, err := garage.Open(dir)
	r.garage = g
	return err
}

// chooseBike loads the card that is named, else the last bike's; without
// either there is none.
func (r *rig) chooseBike() error {
	name := r.bikeName
	if name == "" {
		last, err := r.garage.LastBike()
		if err != nil || last == "" {
			return nil // nothing remembered: no card
		}
		name = last
	}
	b, err := r.garage.LoadBike(name)
	if r.bikeName != "" && errors.Is(err, fs.ErrNotExist) {
		return &usageError{&hinted{fmt.Errorf("there is no bike card named %q", name), "evendraw bike list shows the cards there are"}}
	}
	if err != nil {
		if r.bikeName == "" {
			return &hinted{fmt.Errorf("the card of the last bike, %q, can't be used: %w", name, err), "put the card right, or choose another bike with --bike"}
		}
		return err
	}
	r.bike = &b
	if len(b.Unknown) > 0 {
		r.warns(fmt.Sprintf("the card of %q has keys that mean nothing here: %s", name, strings.Join(b.Unknown, ", ")))
	}
	return nil
}

// canSave returns why nothing could be saved in the garage, nil if it can. It
// leaves no trace.
func (r *rig) canSave() error {
	dir := r.garage.Paths().Dir
	for {
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			return fmt.Errorf("nothing can be saved: %s is not a folder (--garage or EVENDRAW_GARAGE)", dir)
		}
		if err == nil {
			break
		}
		dir = filepath.Dir(dir)
	}
	f, err := os.CreateTemp(dir, ".evendraw-*")
	if err != nil {
		return fmt.Errorf("nothing can be saved in %s: %v", dir, err)
	}
	f.Close()
	return os.Remove(f.Name())
}

// unit is what pressures are shown in.
func (r *rig) unit() pressure.Unit {
	if r.bike != nil {
		if u, err := pressure.ParseUnit(r.bike.Unit); err == nil {
			return u
		}
	}
	return pressure.Kilopascal
}

// boardCard is what the garage knows of a board; kept apart so that a damaged
// card is told once and doesn't stop the work.
func (r *rig) boardCard(a *frame.Announcement) (garage.Board, error) {
	card, err := r.garage.LoadBoard(a.Serial)
	if err != nil {
		return garage.Board{Serial: a.Serial, Model: a.Model}, err
	}
	return card, nil
}

// config returns the chain's settings for a board.
func (r *rig) config(a *frame.Announcement) session.Config {
	card, err := r.boardCard(a)
	if err != nil {
		r.warnOnce(err.Error() + "; going on without this board card, and so without its zero")
	}
	for _, note := range fitCard(&card, a, time.Now()) {
		r.warnOnce(note)
	}
	cfg := r.configOf(card)
	r.warnOnce(leftAside(a, &cfg))
	if cfg.Zeroed {
		r.warnOnce(r.ambientDoubt(cfg.Ambient))
	}
	return cfg
}

// configOf returns the settings that a bike card and a board card give.
func (r *rig) configOf(card garage.Board) session.Config {
	cfg := session.Config{AmbientFrom: session.FromStandard, Ambient: pressure.StandardAtmosphere(0)}
	if r.bike != nil {
		b := r.bike.Bank
		cfg.Bank, cfg.Reference, cfg.Aim = &b, r.bike.Reference, r.bike.AimKPa
		cfg.IdlingLimit, cfg.LevelBy = 60*r.bike.IdlingLimitMin, balance.LevelBy(r.bike.LevelBy)
		cfg.Idle = mixture.IdleConfig{LowRPM: r.bike.IdleRPMLow, HighRPM: r.bike.IdleRPMHigh, EffectRPMPerTurn: r.bike.StopEffectRPMPerTurn}
		if r.bike.AltitudeM != nil {
			cfg.Ambient = pressure.StandardAtmosphere(*r.bike.AltitudeM)
		}
	}
	if r.ambient != 0 {
		cfg.Ambient, cfg.AmbientFrom = pressure.KPa(r.ambient), session.FromUser
	}
	cfg.Lambda = r.lambda(card.Lambda)
	takeCard(&cfg, &card)
	return cfg
}

// lambda returns the probe that a board card tells of, nil for none.
func (r *rig) lambda(card *garage.LambdaCard) *session.LambdaConfig {
	if card == nil {
		return nil
	}
	l := &session.LambdaConfig{Channel: card.Channel, StoichAFR: garage.DefaultStoichAFR,
		Probe: mixture.Probe{LowV: card.LowV, HighV: card.HighV, LowLambda: card.LowLambda, HighLambda: card.HighLambda}}
	if r.bike != nil {
		l.StoichAFR = r.bike.StoichAFR
	}
	return l
}

// limits are the card's aim and limit, or the defaults.
func (r *rig) limits() (aim, limit pressure.KPa) {
	aim, limit = defaultAim, defaultLimit
	if r.bike != nil {
		aim, limit = r.bike.AimKPa, r.bike.LimitKPa
	}
	return aim, limit
}

// kindsOf names the kinds of the sensors on a board's channels.
func kindsOf(setup *sensor.Setup, channels int) []string {
	var names []string
	for i := range channels {
		names = append(names, setup.Kind(i).Name)
	}
	return names
}

// ambientNote says where the air pressure comes from.
func ambientNote(cfg *session.Config) string {
	switch cfg.AmbientFrom {
	case session.FromZeroPass:
		return fmt.Sprintf("air pressure %.1f kPa, from the zero pass", float64(cfg.Ambient))
	case session.FromUser:
		return fmt.Sprintf("air pressure %.1f kPa, as given", float64(cfg.Ambient))
	}
	return fmt.Sprintf("air pressure %.1f kPa, only assumed (standard atmosphere): draws are as far off as the weather is", float64(cfg.Ambient))
}

// screwNames lists a bank's screws.
func screwNames(b *bank.Bank) string { return strings.Join(namesOf(b), ", ") }

// namesOf returns the names of a bank's screws.
func namesOf(b *bank.Bank) (names []string) {
	for _, s := range b.Screws {
		names = append(names, s.Name)
	}
	return names
}
