package garage

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/card"
	"evendraw/internal/pressure"
	"evendraw/internal/store"
)

// Bike is what a bike card says.
type Bike struct {
	Name string
	Bank bank.Bank
	// Reference is the cylinder compared against, from 1; default the bank's root.
	Reference int
	// ByMean is set where the screen shows differences from the mean of all cylinders instead.
	ByMean bool
	// Unit is the name of the unit to show pressures in; default kPa.
	Unit string
	// LimitKPa is the spread at which the bank passes, AimKPa the one to
	// work towards, in kPa; defaults as in package balance.
	LimitKPa, AimKPa pressure.KPa
	// IdleRPMLow and IdleRPMHigh bound the idle speed; both 0 when unknown.
	IdleRPMLow, IdleRPMHigh float64
	Tune
	// AltitudeM is that of the place above sea level in metres, nil when unknown.
	AltitudeM *float64
	// Note is any text; it may have several lines.
	Note string
	// Unknown are keys on the card that mean nothing to this program: a slip of
	// the finger, or a later program's. They are kept.
	Unknown []string
}

// Bounds of a card's figures. Chosen: wide enough for any engine, and narrow enough to catch a slip of the finger.
const (
	MaxSpreadKPa   = 50
	MinIdle        = 300 // rpm
	MaxIdle        = 5000
	maxNoteBytes   = 10_000
	maxScrews      = 10
	maxListEntries = 8
)

// DefaultBike returns a bike with the usual bank of that many cylinders (see
// bank.Default) and the defaults of all else.
func DefaultBike(name string, cylinders int) Bike {
	b := bank.Default(cylinders)
	return Bike{Name: name, Bank: b, Reference: b.Root, Unit: pressure.Kilopascal.Name,
		LimitKPa: balance.DefaultLimit, AimKPa: balance.DefaultAim, Tune: defaultTune()}
}

// withDefaults returns b with what was left at 0 filled in, and its name cleaned.
func (b *Bike) withDefaults() Bike {
	c, d := *b, DefaultBike(b.Name, 1)
	c.Name, _ = cleanName(b.Name)
	c.Reference, c.Unit = cmp.Or(b.Reference, b.Bank.Root, d.Reference), cmp.Or(b.Unit, d.Unit)
	c.LimitKPa = cmp.Or(b.LimitKPa, d.LimitKPa)
	c.AimKPa = cmp.Or(b.AimKPa, min(d.AimKPa, c.LimitKPa))
	c.Tune = c.Tune.withDefaults()
	return c
}

// LoadBike returns the bike of that name. An Error names the file, the line and the field of what
// is wrong; it is fs.ErrNotExist when there is no such bike. What a card doesn't say has its
// default; keys that this program doesn't know are left alone.
func (g *Garage) LoadBike(name string) (Bike, error) {
	p, err := g.BikePaths(name)
	if err != nil {
		return Bike{}, err
	}
	b, err := readBike(p.Card)
	if errors.Is(err, fs.ErrNotExist) {
		return b, &Error{Path: p.Card, Problem: fmt.Sprintf("there is no bike named %q", name), Err: fs.ErrNotExist}
	}
	return b, err
}

// ListBikes returns the bikes of all cards, sorted by folder, and apart the errors of those that can't be read.
func (g *Garage) ListBikes() (bikes []Bike, damaged []*Error) {
	all, err := g.allPaths()
	if err != nil {
		damaged = append(damaged, store.AsError(g.Paths().Bikes, err))
	}
	for _, p := range all {
		b, err := readBike(p.Card)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			damaged = append(damaged, store.AsError(p.Card, err))
		default:
			bikes = append(bikes, b)
		}
	}
	return bikes, damaged
}

func readBike(path string) (Bike, error) {
	text, err := store.Read(path)
	if err != nil {
		return Bike{}, err
	}
	_, b, err := parseBike(path, text)
	return b, err
}

// parseBike reads the text of a card.
func parseBike(path string, text []byte) (*card.Card, Bike, error) {
	return parseCard(path, text, bikeOf)
}

// bikeOf reads a card whose format is known.
func bikeOf(t card.Table) Bike {
	name, problem := cleanName(t.Text("name", 4*maxNameRunes))
	if problem != "" {
		t.Fail("name", "%s", problem)
	}
	n := t.Whole("cylinders", 0)
	if !t.Has("cylinders") {
		t.Fail("cylinders", "not on the card: how many, from %d to %d?", bank.MinCylinders, bank.MaxCylinders)
		return Bike{}
	}
	if n < bank.MinCylinders || n > bank.MaxCylinders {
		t.Fail("cylinders", "%d is not from %d to %d", n, bank.MinCylinders, bank.MaxCylinders)
		return Bike{}
	}
	b := DefaultBike(name, n)
	readBank(t, &b.Bank)
	readRest(t, &b)
	b.Unknown = t.Unknown()
	return b
}

// readBank reads the linkage, and checks it.
func readBank(t card.Table, b *bank.Bank) {
	if t.Has("channels") {
		b.Channels = t.Wholes("channels", maxListEntries)
	}
	if t.Has("firing_order") {
		b.FiringOrder = t.Wholes("firing_order", maxListEntries)
	}
	// The bank has their bound.
	b.FiringAngles = card.Numbers[float64](t, "firing_angles", maxListEntries, math.MaxFloat64)
	b.Root = t.Whole("root", b.Root)
	b.NoLockNuts = t.OneOf("lock_nuts", "yes", "yes", "no") == "no"
	if t.Has("screw") {
		b.Screws = nil
		for _, s := range t.Tables("screw", maxScrews) {
			name := s.Text("name", card.MaxTextBytes)
			b.Screws = append(b.Screws, bank.Screw{Name: name, Moves: s.Wholes("moves", maxListEntries),
				EffectKPaPerTurn: s.Number(effectKey, -bank.MaxEffectKPaPerTurn, bank.MaxEffectKPaPerTurn, 0)})
		}
	}
	if t.Failed() {
		return
	}
	var wrong *bank.FieldError
	if errors.As(b.Check(), &wrong) {
		failBank(t, b, wrong)
		return
	}
	checkRoot(t, b)
}

// checkRoot refuses a throttle stop on a carburettor that a screw moves against it: the two would be told in turns
// without end.
func checkRoot(t card.Table, b *bank.Bank) {
	for s := range b.Screws {
		if !b.Moves(s, b.Root) {
			continue
		}
		hint := ""
		if root := bank.RootOf(b.Cylinders, b.Screws); root != 0 {
			hint = fmt.Sprintf(", here %d", root)
		}
		t.Fail("root", "carburettor %d carries the throttle stop, but screw %q moves it: the stop belongs to one "+
			"that no screw moves%s", b.Root, b.Screws[s].Name, hint)
		return
	}
}

const effectKey = "effect_kpa_per_turn"

// failBank keeps what the bank's check found, in the card's words.
func failBank(t card.Table, b *bank.Bank, wrong *bank.FieldError) {
	var i int
	if n, _ := fmt.Sscanf(wrong.Field, "screws[%d]", &i); n == 0 {
		field := wrong.Field
		if field == "screws" {
			field = "screw"
		}
		t.Fail(field, "%s", wrong.Problem)
		return
	}
	key := "moves"
	sameName := func(s bank.Screw) bool { return s.Name == b.Screws[i].Name }
	if b.Screws[i].Name == "" || slices.ContainsFunc(b.Screws[:i], sameName) {
		key = "name"
	}
	t.Entry("screw", i).Named(fmt.Sprintf(" of screw %q", b.Screws[i].Name)).Fail(key, "%s", wrong.Problem)
}

// readRest reads all but the name and the bank.
func readRest(t card.Table, b *Bike) {
	if t.Says("reference", "mean") {
		t.Fail("reference", "is a cylinder's number; for the bank's mean, write compare_with = \"mean\"")
	}
	b.Reference = t.Whole("reference", b.Bank.Root)
	if b.Reference < 1 || b.Reference > b.Bank.Cylinders {
		t.Fail("reference", "there is no cylinder %d", b.Reference)
	}
	b.ByMean = t.OneOf("compare_with", "reference", "reference", "mean") == "mean"
	if t.Has("unit") {
		unit, err := pressure.ParseUnit(t.Text("unit", card.MaxTextBytes))
		if err != nil {
			t.Fail("unit", "%v", err)
		}
		b.Unit = unit.Name
	}
	const least = 0.01
	b.LimitKPa = pressure.KPa(t.Number("limit_kpa", least, MaxSpreadKPa, float64(b.LimitKPa)))
	b.AimKPa = pressure.KPa(t.Number("aim_kpa", least, MaxSpreadKPa, math.Min(float64(b.AimKPa), float64(b.LimitKPa))))
	if b.AimKPa > b.LimitKPa {
		t.Fail("aim_kpa", "%g is above limit_kpa, %g", b.AimKPa, b.LimitKPa)
	}
	b.IdleRPMLow = t.Number("idle_rpm_low", MinIdle, MaxIdle, 0)
	b.IdleRPMHigh = t.Number("idle_rpm_high", MinIdle, MaxIdle, 0)
	switch low, high := b.IdleRPMLow, b.IdleRPMHigh; {
	case low == 0 && high != 0:
		t.Fail("idle_rpm_high", "idle_rpm_low is missing")
	case low != 0 && high == 0:
		t.Fail("idle_rpm_low", "idle_rpm_high is missing")
	case low > high:
		t.Fail("idle_rpm_low", "%g is above idle_rpm_high, %g", low, high)
	}
	readTune(t, &b.Tune)
	if t.Has("altitude_m") {
		m := t.Number("altitude_m", pressure.LowestM, pressure.HighestM, 0)
		b.AltitudeM = &m
	}
	b.Note = t.Lines("note", maxNoteBytes)
}

// CheckBike says what keeps a bike from having a card, nil if nothing does.
func CheckBike(b *Bike) error {
	_, err := newCard(b)
	return err
}

// newCard returns the text of a new bike's card.
func newCard(b *Bike) ([]byte, error) {
	c := b.withDefaults()
	text := bikeText(&c)
	if _, _, err := parseBike("", text); err != nil {
		return nil, ofNoFile(err)
	}
	return text, nil
}

// NewBike writes the card of a new bike; of b, what is 0 or "" has its default. It never touches a card that is there:
// then the error is fs.ErrExist. A bike that a card could not hold is refused with the field named.
func (g *Garage) NewBike(b *Bike) error {
	p, err := g.BikePaths(b.Name)
	if err != nil {
		return err
	}
	text, err := newCard(b)
	if err != nil {
		return err
	}
	return g.disk.Edit(p.Card, func(old []byte) ([]byte, error) {
		if old != nil {
			return nil, &Error{Path: p.Card, Problem: "was left as it is", Err: fs.ErrExist}
		}
		return text, nil
	})
}

// changeBike does to a bike's card what ops returns, and leaves all else on it as it is; nothing to do writes nothing.
func (g *Garage) changeBike(bike string, ops func(c *card.Card, b *Bike) ([]card.Op, error)) error {
	p, err := g.BikePaths(bike)
	if err != nil {
		return err
	}
	change := func(old []byte) ([]byte, error) {
		if old == nil {
			return nil, &Error{Path: p.Card, Problem: "is gone", Err: fs.ErrNotExist}
		}
		c, b, err := parseBike(p.Card, old)
		if err != nil {
			return nil, err
		}
		todo, err := ops(c, &b)
		switch {
		case err != nil:
			return nil, store.AsError(p.Card, err)
		case todo == nil:
			return nil, nil
		}
		return edited(p.Card, c, bikeOf, todo)
	}
	// A look before a lock is made: often there is nothing to change.
	text, err := store.ReadIfThere(p.Card)
	if err == nil {
		text, err = change(text)
	}
	if err != nil || text == nil {
		return err
	}
	return g.disk.Edit(p.Card, change)
}

// ReplaceCard puts the text of a card in the place of another, if that is still as it was before, and returns the
// bike's name. An Error names the line and the field of what is wrong with the text.
func (g *Garage) ReplaceCard(path string, before, text []byte) (b Bike, err error) {
	if _, b, err = parseBike(path, text); err != nil {
		return b, err
	}
	return b, g.disk.Edit(path, func(old []byte) ([]byte, error) {
		if string(old) != string(before) {
			return nil, &Error{Path: path, Problem: "was changed meanwhile, and was left as it is"}
		}
		return text, nil
	})
}

// LastBike returns the name of the bike used last, "" if there is none or its card is gone.
func (g *Garage) LastBike() (string, error) {
	path := g.Paths().Last
	text, err := store.ReadIfThere(path)
	if text == nil || err != nil {
		return "", err
	}
	name, problem := cleanName(strings.TrimSpace(string(text)))
	if problem != "" {
		return "", &Error{Path: path, Problem: problem}
	}
	if p, err := g.BikePaths(name); err == nil {
		if text, err := store.ReadIfThere(p.Card); text == nil && err == nil {
			return "", nil
		}
	}
	return name, nil
}

// SetLastBike remembers a bike for LastBike.
func (g *Garage) SetLastBike(name string) error {
	path := g.Paths().Last
	clean, problem := cleanName(name)
	if problem != "" {
		return &Error{Field: "name", Problem: problem}
	}
	return g.disk.Replace(path, []byte(clean+"\n"))
}
