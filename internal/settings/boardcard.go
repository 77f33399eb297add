package settings

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/tell"
)

// zeroOld is the age from which a zero pass is told to be old. Chosen: not of this day's work.
const zeroOld = 12 * time.Hour

// Notes tells what does not stop the work, each thing once.
type Notes struct {
	Tell func(string)
	told []string
}

// Once tells something unless it was told.
func (n *Notes) Once(text string) {
	if text == "" || slices.Contains(n.told, text) {
		return
	}
	n.told = append(n.told, text)
	n.Tell(text)
}

// BoardConfig returns the chain's settings for a board. What is doubtful about its card is noted.
func (s *Settings) BoardConfig(a *frame.Announcement, n *Notes) session.Config {
	card, err := s.BoardCard(a)
	if err != nil {
		n.Once(err.Error() + "; going on without this board card, and so without its zero")
	}
	for _, note := range FitCard(&card, a, time.Now()) {
		n.Once(note)
	}
	cfg := s.ConfigOf(card)
	if cfg.Zeroed {
		n.Once(s.AmbientDoubt(cfg.Ambient))
		n.Once(s.ambientUnused(&cfg))
	}
	return cfg
}

// BankConfig is BoardConfig of a run that reads the bank: it notes as well which channels are not of it.
func (s *Settings) BankConfig(a *frame.Announcement, n *Notes) session.Config {
	cfg := s.BoardConfig(a, n)
	n.Once(LeftAside(a, &cfg))
	return cfg
}

// BoardCard is what the garage knows of a board; kept apart so that a damaged
// card is told once and doesn't stop the work.
func (s *Settings) BoardCard(a *frame.Announcement) (garage.Board, error) {
	card, err := s.Garage.LoadBoard(a.Serial)
	if err != nil {
		return garage.Board{Serial: a.Serial, Model: a.Model}, err
	}
	return card, nil
}

// BoardSerials are the serial numbers on board cards.
func BoardSerials(cards []garage.Board) (list []string) {
	for _, b := range cards {
		list = append(list, plain.Text(b.Serial))
	}
	return list
}

// BoardsKnown says which boards have a card, or how one gets it.
func BoardsKnown(serials []string) string {
	if len(serials) == 0 {
		return "a zero pass makes it: evendraw zero; or evendraw board setup"
	}
	return "there is one of " + strings.Join(serials, ", ")
}

// NoBoardNamed is the error of a serial number that no board card has.
func NoBoardNamed(g *garage.Garage, serial string) error {
	cards, _ := g.ListBoards()
	known := BoardSerials(cards)
	return hint.Usage(hint.With(fmt.Errorf("there is no card of a board %q%s", serial, plain.IsMeant(serial, known)),
		BoardsKnown(known)))
}

// FitCard takes from a card what doesn't fit the board that announced a, and says why.
func FitCard(card *garage.Board, a *frame.Announcement, now time.Time) (notes []string) {
	say := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	if note := tell.UnknownKeys("the card of board "+card.Serial, card.Unknown); note != "" {
		say("%s", note)
	}
	for i, name := range card.Sensors {
		if _, err := sensor.ParseKind(name); err != nil {
			say("the card of board %s: channel %d: %v; taken for %s", card.Serial, i, err, sensor.DefaultKind)
		}
	}
	if len(card.Sensors) > 0 && len(card.Sensors) < len(a.Channels) {
		say("the card of board %s names %d sensors, the board has %d channels: the others are taken for %s",
			card.Serial, len(card.Sensors), len(a.Channels), sensor.DefaultKind)
	}
	for i, channel := range card.Hoses {
		if channel >= len(a.Channels) || a.Channels[channel].Role != frame.Pressure {
			say("hose %d is on channel %d by the card, which is no pressure channel of this board: the card's hoses "+
				"are not used", i+1, channel)
			card.Hoses = nil
			break
		}
	}
	setup := sensor.Setup{Kinds: CardKinds(card)}
	kinds := setup.KindNames(len(a.Channels))
	fits := func(what string, taken time.Time, channels int, of []string, then string) bool {
		switch {
		case channels != len(a.Channels):
			say("the %s of %s was of %d channels, the board has %d: it is not used%s", what, plain.Minute(taken),
				channels, len(a.Channels), then)
		case len(of) > 0 && !slices.Equal(of, kinds):
			say("the %s of %s was made with other sensors: it is not used%s", what, plain.Minute(taken), then)
		default:
			return true
		}
		return false
	}
	if z := card.Zero; z != nil {
		if !fits("zero pass", z.Time, len(z.OffsetsKPa), z.Sensors, "; take a new one") {
			card.Zero = nil
		} else if now.Sub(z.Time) > zeroOld {
			say("the zero pass is %s old: take a new one before you trust a difference (engine off, hoses open)",
				plain.Age(now.Sub(z.Time)))
		}
	}
	if m := card.Match; m != nil && !fits("comparison", m.Time, len(m.Gains), m.Sensors, "") {
		card.Match = nil
	}
	return notes
}

// CardKinds are the kinds of a card's sensors; one that is not known is taken for the default.
func CardKinds(card *garage.Board) (kinds []sensor.Kind) {
	for _, name := range card.Sensors {
		k, err := sensor.ParseKind(name)
		if err != nil {
			k, _ = sensor.ParseKind(sensor.DefaultKind)
		}
		kinds = append(kinds, k)
	}
	return kinds
}

// takeCard puts what a board's card knows into the chain's settings.
func takeCard(cfg *session.Config, card *garage.Board) {
	cfg.Setup.SupplyMV = card.SupplyMV
	cfg.Setup.Kinds = CardKinds(card)
	if z := card.Zero; z != nil {
		cfg.Setup.Offsets = z.OffsetsKPa
		cfg.Ambient, cfg.AmbientFrom, cfg.Zeroed = z.AmbientKPa, session.FromZeroPass, true
		cfg.ZeroedAt, cfg.ZeroUncertainty = z.Time, z.UncertaintyKPa
	}
	if m := card.Match; m != nil {
		cfg.Setup.Gains, cfg.MatchedAt, cfg.MatchUncertainty = m.Gains, m.Time, m.UncertaintyGain
	}
	cfg.Setup.Ambient = cfg.Ambient
	takeHoses(cfg, card.Hoses)
}

// takeHoses puts hose 1 on cylinder 1 and so on, unless a bike card says otherwise. Without a bike card there are as
// many cylinders as hoses.
func takeHoses(cfg *session.Config, hoses []int) {
	unchanged := func(b *bank.Bank) bool { return slices.Equal(b.Channels, bank.Default(b.Cylinders).Channels) }
	switch n := len(hoses); {
	case n == 0:
	case cfg.Bank == nil && n <= bank.MaxCylinders:
		b := bank.Default(n)
		cfg.Bank = &b
		b.Channels = slices.Clone(hoses)
	case cfg.Bank != nil && unchanged(cfg.Bank) && n >= cfg.Bank.Cylinders:
		cfg.Bank.Channels = slices.Clone(hoses[:cfg.Bank.Cylinders])
	}
}

// LeftAside says which pressure channels of a board are not read by these settings, "" if all are.
func LeftAside(a *frame.Announcement, cfg *session.Config) string {
	all := a.PressureChannels()
	read := all[:min(len(all), bank.MaxCylinders)]
	if cfg.Bank != nil {
		read = cfg.Bank.Channels
	}
	left := slices.DeleteFunc(slices.Clone(all), func(c int) bool { return slices.Contains(read, c) })
	if len(left) == 0 || len(read) == 0 {
		return ""
	}
	return tell.ManyChannelsNote(read, left)
}

// highestAir is the air pressure above which one is doubted without an altitude. Chosen: a strong high at
// the sea; records are near 108 kPa (from memory).
const highestAir pressure.KPa = 104.5

// AmbientDoubt says that an air pressure is not what the bike card's altitude leads one to expect, "" if it
// is; without an altitude, that no weather is like it.
func (s *Settings) AmbientDoubt(p pressure.KPa) string {
	if s.Bike == nil || s.Bike.AltitudeM == nil {
		if p > highestAir {
			return fmt.Sprintf("the air pressure of %.1f kPa is higher than weather makes it anywhere on land but "+
				"on rare days: are the kinds of the sensors right?", float64(p))
		}
		return ""
	}
	c := sensor.CheckAmbient(p, *s.Bike.AltitudeM)
	if c.Plausible {
		return ""
	}
	return fmt.Sprintf("the air pressure of %.1f kPa is %+.1f kPa off the standard atmosphere's %.1f at the card's "+
		"%.0f m: more than weather; are the kinds of the sensors right, and the altitude?",
		float64(p), float64(c.Off), float64(c.Expected), *s.Bike.AltitudeM)
}

// ambientUnused says that the air pressure of the command line gives way to a zero pass's, "" where it does not.
func (s *Settings) ambientUnused(cfg *session.Config) string {
	if s.Ambient == 0 || cfg.AmbientFrom != session.FromZeroPass {
		return ""
	}
	return fmt.Sprintf("--ambient %g counts from a new zero on: the zero in force has its own air pressure, %.1f kPa",
		float64(s.Ambient), float64(cfg.Ambient))
}

// KeepZero writes a zero pass on the board's card.
func KeepZero(g *garage.Garage, a *frame.Announcement, cfg *session.Config, zr *sensor.Zero, when time.Time) error {
	card, kinds, err := cardFor(g, a, cfg)
	if err != nil {
		return err
	}
	return g.SaveZero(&card, &garage.ZeroCard{Time: when, AmbientKPa: zr.Ambient, OffsetsKPa: zr.Offsets,
		UncertaintyKPa: zr.Uncertainty, NoiseKPa: zr.Noise, Samples: zr.Samples, Bits: a.Bits, Sensors: kinds})
}

// KeepMatch writes a match pass on the board's card.
func KeepMatch(g *garage.Garage, a *frame.Announcement, cfg *session.Config, m *sensor.Match, when time.Time) error {
	card, kinds, err := cardFor(g, a, cfg)
	if err != nil {
		return err
	}
	mc := &garage.MatchCard{Time: when, AmbientKPa: cfg.Ambient, Gains: m.Gains, LevelKPa: m.Level, Sensors: kinds}
	mc.UncertaintyGain, mc.ResidualKPa = make([]float64, len(m.Uncertainty)),
		make([]pressure.KPa, len(m.Uncertainty))
	for i, u := range m.Uncertainty { // 0 is unknown: a list in TOML has no null
		if !math.IsNaN(u) {
			mc.UncertaintyGain[i], mc.ResidualKPa[i] = u, m.Residual[i]
		}
	}
	return g.SaveMatch(&card, mc)
}

// cardFor returns the board's card, or a new one, and the kinds of sensors in force.
func cardFor(g *garage.Garage, a *frame.Announcement, cfg *session.Config) (garage.Board, []string, error) {
	card, err := g.LoadBoard(a.Serial)
	if err != nil {
		return card, nil, err
	}
	card.Model = cmp.Or(card.Model, a.Model)
	kinds := cfg.Setup.KindNames(len(a.Channels))
	if len(card.Sensors) == 0 {
		card.Sensors = kinds
	}
	return card, kinds, nil
}
