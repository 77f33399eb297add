package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// Bike is what a bike card says.
type Bike struct {
	Name string
	Bank bank.Bank
	// Reference is the cylinder compared against, from 1; default 1.
	Reference int
	// Unit is the name of the unit to show pressures in; default kPa.
	Unit string
	// LimitKPa is the spread at which the bank passes, AimKPa the one to
	// work towards, in kPa; defaults as in package balance.
	LimitKPa, AimKPa pressure.KPa
	// IdleRPMLow and IdleRPMHigh bound the idle speed; both 0 when unknown.
	IdleRPMLow, IdleRPMHigh float64
	Tune
	// AltitudeM is that of the place above sea level in metres, nil when
	// unknown.
	AltitudeM *float64
	// Note is any text; it may have several lines.
	Note string
	// Unknown are keys on the card that mean nothing to this program: a slip of
	// the finger, or a later program's. They are kept.
	Unknown []string
}

// bikeKeys are the keys of a bike card.
var bikeKeys = []string{"format", "name", "cylinders", "channels", "firing_order", "firing_angles", "root", "screw", "reference",
	"unit", "limit_kpa", "aim_kpa", "idle_rpm_low", "idle_rpm_high", "idling_limit_min", "level_by", "stop_effect_rpm_per_turn",
	"pilot_screws", "raised_rpm", "lambda_target", "stoichiometric_afr", "altitude_m", "note"}

// unknown lists the keys of the table that are not among those known.
func (t table) unknown(known []string) (list []string) {
	for key := range t.values {
		if !slices.Contains(known, key) {
			list = append(list, fmt.Sprintf("%q", key))
		}
	}
	slices.Sort(list)
	return list
}

// Bounds of a card's figures. Chosen: wide enough for any engine, and narrow enough to
// catch a slip of the finger.
const (
	maxSpreadKPa   = 50
	minIdle        = 300
	maxIdle        = 5000
	maxNoteBytes   = 10_000
	maxScrews      = 10
	maxListEntries = 8
)

// DefaultBike returns a bike with the usual bank of that many cylinders (see
// bank.Default) and the defaults of all else.
func DefaultBike(name string, cylinders int) Bike {
	return Bike{Name: name, Bank: bank.Default(cylinders), Reference: 1, Unit: pressure.Kilopascal.Name,
		LimitKPa: balance.DefaultLimit, AimKPa: balance.DefaultAim, Tune: defaultTune()}
}

// withDefaults returns b with what was left at 0 filled in, and its name
// cleaned.
func (b *Bike) withDefaults() Bike {
	c, d := *b, DefaultBike(b.Name, 1)
	c.Name, _ = cleanName(b.Name)
	if c.Reference == 0 {
		c.Reference = d.Reference
	}
	if c.Unit == "" {
		c.Unit = d.Unit
	}
	if c.LimitKPa == 0 {
		c.LimitKPa = d.LimitKPa
	}
	if c.AimKPa == 0 {
		c.AimKPa = min(d.AimKPa, c.LimitKPa)
	}
	c.Tune = c.Tune.withDefaults()
	return c
}

// LoadBike returns the bike of that name. An Error names the file, the line
// and the field of what is wrong; it is fs.ErrNotExist when there is no such
// bike. What a card doesn't say has its default; keys that this program
// doesn't know are left alone.
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

// ListBikes returns the bikes of all cards, sorted by folder, and apart the
// errors of those that can't be read.
func (g *Garage) ListBikes() (bikes []Bike, damaged []*Error) {
	folders, err := g.bikeFolders()
	if err != nil {
		damaged = append(damaged, asError(g.Paths().Bikes, err))
	}
	for _, folder := range folders {
		path := g.bikePaths(folder).Card
		b, err := readBike(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			damaged = append(damaged, asError(path, err))
		default:
			bikes = append(bikes, b)
		}
	}
	return bikes, damaged
}

func readBike(path string) (Bike, error) {
	text, err := readFile(path)
	if err != nil {
		return Bike{}, err
	}
	_, b, err := parseBike(path, text)
	return b, err
}

// parseBike reads the text of a card.
func parseBike(path string, text []byte) (*doc, Bike, error) {
	d, err := parseDoc(path, text)
	if err != nil {
		return nil, Bike{}, err
	}
	t := d.root()
	t.format()
	if d.err != nil { // of a newer format nothing else is sure
		return nil, Bike{}, d.err
	}
	name, problem := cleanName(t.text("name", 4*maxNameRunes))
	if problem != "" {
		t.fail("name", "%s", problem)
	}
	n := t.whole("cylinders")
	if n < bank.MinCylinders || n > bank.MaxCylinders {
		t.fail("cylinders", "%d is not from %d to %d", n, bank.MinCylinders, bank.MaxCylinders)
		return nil, Bike{}, d.err
	}
	b := DefaultBike(name, n)
	readBank(t, &b.Bank)
	readRest(t, &b)
	if d.err != nil {
		return nil, Bike{}, d.err
	}
	b.Unknown = t.unknown(bikeKeys)
	return d, b, nil
}

// readBank reads the linkage, and checks it.
func readBank(t table, b *bank.Bank) {
	if t.has("channels") {
		b.Channels = t.wholes("channels", maxListEntries)
	}
	if t.has("firing_order") {
		b.FiringOrder = t.wholes("firing_order", maxListEntries)
	}
	b.FiringAngles = numbers[float64](t, "firing_angles", maxListEntries, bank.CycleDegrees)
	if t.has("root") {
		b.Root = t.whole("root")
	}
	if t.has("screw") {
		b.Screws = nil
		for _, s := range t.tables("screw", maxScrews) {
			name := s.text("name", maxTextBytes)
			b.Screws = append(b.Screws, bank.Screw{Name: name, Moves: s.wholes("moves", maxListEntries),
				EffectKPaPerTurn: s.number(effectKey, -bank.MaxEffectKPaPerTurn, bank.MaxEffectKPaPerTurn, 0)})
		}
	}
	if t.doc.err != nil {
		return
	}
	var wrong *bank.FieldError
	if errors.As(b.Check(), &wrong) {
		t.failBank(b, wrong)
	}
}

const effectKey = "effect_kpa_per_turn"

// failBank keeps what the bank's check found, in the card's words.
func (t table) failBank(b *bank.Bank, wrong *bank.FieldError) {
	var i int
	if n, _ := fmt.Sscanf(wrong.Field, "screws[%d]", &i); n == 0 {
		field := wrong.Field
		if field == "screws" {
			field = "screw"
		}
		t.fail(field, "%s", wrong.Problem)
		return
	}
	screw := table{t.doc, fmt.Sprintf("screw[%d]", i), fmt.Sprintf(" of screw %q", b.Screws[i].Name), nil}
	key := "moves"
	sameName := func(s bank.Screw) bool { return s.Name == b.Screws[i].Name }
	if b.Screws[i].Name == "" || slices.ContainsFunc(b.Screws[:i], sameName) {
		key = "name"
	}
	screw.fail(key, "%s", wrong.Problem)
}

// readRest reads all but the name and the bank.
func readRest(t table, b *Bike) {
	if t.has("reference") {
		b.Reference = t.whole("reference")
	}
	if b.Reference < 1 || b.Reference > b.Bank.Cylinders {
		t.fail("reference", "there is no cylinder %d", b.Reference)
	}
	if t.has("unit") {
		unit, err := pressure.ParseUnit(t.text("unit", maxTextBytes))
		if err != nil {
			t.fail("unit", "%s", strings.TrimPrefix(err.Error(), "pressure: "))
		}
		b.Unit = unit.Name
	}
	const least = 0.01
	b.LimitKPa = pressure.KPa(t.number("limit_kpa", least, maxSpreadKPa, float64(b.LimitKPa)))
	b.AimKPa = pressure.KPa(t.number("aim_kpa", least, maxSpreadKPa, math.Min(float64(b.AimKPa), float64(b.LimitKPa))))
	if b.AimKPa > b.LimitKPa {
		t.fail("aim_kpa", "%g is above limit_kpa, %g", b.AimKPa, b.LimitKPa)
	}
	b.IdleRPMLow = t.number("idle_rpm_low", minIdle, maxIdle, 0)
	b.IdleRPMHigh = t.number("idle_rpm_high", minIdle, maxIdle, 0)
	switch low, high := b.IdleRPMLow, b.IdleRPMHigh; {
	case low == 0 && high != 0:
		t.fail("idle_rpm_high", "idle_rpm_low is missing")
	case low != 0 && high == 0:
		t.fail("idle_rpm_low", "idle_rpm_high is missing")
	case low > high:
		t.fail("idle_rpm_low", "%g is above idle_rpm_high, %g", low, high)
	}
	readTune(t, &b.Tune)
	if t.has("altitude_m") {
		m := t.number("altitude_m", pressure.LowestM, pressure.HighestM, 0)
		b.AltitudeM = &m
	}
	b.Note = t.lines("note", maxNoteBytes)
}

// NewBike writes the card of a new bike; of b, what is 0 or "" has its default. It never touches a card that is
// there: then the error is fs.ErrExist. A bike that a card could not hold is
// refused with the field named.
func (g *Garage) NewBike(b *Bike) error {
	p, err := g.BikePaths(b.Name)
	if err != nil {
		return err
	}
	c := b.withDefaults()
	text := bikeText(&c)
	if _, _, err := parseBike("", text); err != nil {
		e := *asError("", err)
		e.Line = 0 // there is no file to look at
		return &e
	}
	if err := makeDirs(g.files, p.Dir); err != nil {
		return notSaved(p.Card, err)
	}
	return g.edit(p.Card, func(old []byte) ([]byte, error) {
		if old != nil {
			return nil, &Error{Path: p.Card, Problem: "was left as it is", Err: fs.ErrExist}
		}
		return text, nil
	})
}

// LastBike returns the name of the bike used last, "" if there is none or its
// card is gone.
func (g *Garage) LastBike() (string, error) {
	path := g.Paths().Last
	text, err := readIfThere(path)
	if text == nil || err != nil {
		return "", err
	}
	name, problem := cleanName(strings.TrimSpace(string(text)))
	if problem != "" {
		return "", &Error{Path: path, Problem: problem}
	}
	if p, err := g.BikePaths(name); err == nil {
		if text, err := readIfThere(p.Card); text == nil && err == nil {
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
	if err := makeDirs(g.files, filepath.Dir(path)); err != nil {
		return notSaved(path, err)
	}
	if err := replace(g.files, path, []byte(clean+"\n"), func() error { return nil }); err != nil {
		return notSaved(path, err)
	}
	return nil
}
