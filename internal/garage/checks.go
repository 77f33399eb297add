package garage

import (
	"reflect"
	"slices"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/store"
)

// Parts that the pre-start checks fall into, in the order of the work.
const (
	PartBank   = "bank"   // on the bench, in the hand
	PartEngine = "engine" // the rest of the engine
	PartPlace  = "place"  // where it is to run
	PartFuel   = "fuel"   // once it is fitted
)

// Check is one thing to look at before the first start after a rebuild. Its words are in package view.
type Check struct {
	ID   string
	Part string
	// Screws are the names of the synchronising screws that it is about.
	Screws []string
}

// Pre-start checks. The names are kept in files and never change.
const (
	CheckFreePlay     = "free-movement"
	CheckSprings      = "linkage-springs"
	CheckLevelByEye   = "level-by-eye"
	CheckBrackets     = "brackets"
	CheckThrottleStop = "throttle-stop"
	CheckChoke        = "choke-linkage"
	CheckPilotScrews  = "pilot-screws"
	CheckFloats       = "floats"
	CheckVents        = "vents"
	CheckFuelTees     = "fuel-tees"
	CheckDrains       = "drains"
	CheckBoots        = "boots"
	CheckPorts        = "vacuum-ports"
	CheckTapHose      = "tap-hose"
	CheckCables       = "cables"
	CheckFuelFeed     = "fuel-feed"
	CheckAirFilter    = "air-filter"
	CheckValves       = "valve-clearances"
	CheckIgnition     = "ignition"
	CheckOil          = "oil-coolant"
	CheckCooling      = "cooling"
	CheckOutdoors     = "outdoors"
	CheckFire         = "fire"
	CheckClear        = "clear-of-parts"
)

// PreStartChecks returns what is to be looked at before a bank of that layout is started
// again: common practice, no source.
func PreStartChecks(b *bank.Bank) []Check {
	var all []Check
	add := func(part string, ids ...string) {
		for _, id := range ids {
			c := Check{ID: id, Part: part}
			if id == CheckSprings || id == CheckLevelByEye {
				c.Screws = b.ScrewNames(bank.AllScrews)
			}
			all = append(all, c)
		}
	}
	add(PartBank, CheckBrackets, CheckFreePlay, CheckSprings, CheckLevelByEye, CheckThrottleStop, CheckChoke,
		CheckPilotScrews, CheckFloats, CheckVents, CheckFuelTees, CheckDrains)
	add(PartEngine, CheckValves, CheckIgnition, CheckOil) // out of reach once the bank is fitted
	add(PartPlace, CheckOutdoors, CheckCooling, CheckFire, CheckClear)
	add(PartFuel, CheckBoots, CheckPorts, CheckTapHose, CheckCables, CheckFuelFeed, CheckAirFilter)
	return all
}

// Answers to a check.
const (
	TickDone      = "done"
	TickNotNeeded = "not-needed" // there is no such thing on this bike
	TickLeft      = "left-open"  // on purpose, to be done later
)

// Tick is a check that was answered.
type Tick struct {
	ID     string    `json:"id"`     // of a Check
	Time   time.Time `json:"time"`   // kept in UTC
	Answer string    `json:"answer"` // TickDone, TickNotNeeded or TickLeft
	Note   string    `json:"note"`
}

// checksFile is what stands in the file of ticked checks.
type checksFile struct {
	Format  int       `json:"format"`
	Program string    `json:"program"`
	Time    time.Time `json:"time"`
	Bike    string    `json:"bike"`
	Ticks   []Tick    `json:"ticks"`
}

func (f *checksFile) format() int { return f.Format }

func (f *checksFile) clean() {
	cleanTexts(reflect.ValueOf(f).Elem())
	f.Time = f.Time.UTC()
	for i := range f.Ticks {
		f.Ticks[i].Time = f.Ticks[i].Time.UTC()
	}
}

// SaveChecks writes all ticks of a rebuild, those made before as well, to a new file among the bike's and returns its
// path. program is the version of this program. A tick without a time gets the present one.
func (g *Garage) SaveChecks(bike, program string, ticks []Tick) (path string, err error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return "", err
	}
	f := checksFile{newestFormat, program, g.now(), g.cardName(p, bike), slices.Clone(ticks)}
	for i := range f.Ticks {
		if f.Ticks[i].Time.IsZero() {
			f.Ticks[i].Time = f.Time
		}
	}
	f.clean()
	return g.saveSealed(p.Bench, checksEnding, f.Time, 0, &f, nil)
}

// LoadChecks returns the ticks of the rebuild at hand: those of the newest file, but none made before the newest bench
// card of a bank that came apart. A file that can't be read is passed over, and its error returned beside the ticks.
func (g *Garage) LoadChecks(bike string) (ticks []Tick, err error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return nil, err
	}
	paths, err := store.Paths(p.Bench, checksEnding)
	for _, path := range slices.Backward(paths) {
		f, wrong := loadChecksFile(path)
		if wrong != nil {
			err = wrong
			continue
		}
		ticks = f.Ticks
		break
	}
	if len(ticks) > 0 {
		if apart, ok := g.lastApart(p); ok {
			ticks = slices.DeleteFunc(ticks, func(t Tick) bool { return t.Time.Before(apart) })
		}
	}
	return ticks, err
}

// LeftOpen returns the checks that were left open on purpose.
func LeftOpen(checks []Check, ticks []Tick) (left []Check) {
	for _, c := range checks {
		if t, ok := TickOf(ticks, c.ID); ok && t.Answer == TickLeft {
			left = append(left, c)
		}
	}
	return left
}

// outdoorsFor is how long a look at where the engine is to run counts: tomorrow that is elsewhere. Chosen.
const outdoorsFor = 12 * time.Hour

// FreshTicks leaves out what must be looked at each time anew.
func FreshTicks(ticks []Tick, checks []Check, now time.Time) []Tick {
	return slices.DeleteFunc(slices.Clone(ticks), func(t Tick) bool {
		i := slices.IndexFunc(checks, func(c Check) bool { return c.ID == t.ID })
		return i >= 0 && checks[i].Part == PartPlace && now.Sub(t.Time).Abs() > outdoorsFor
	})
}

// TickOf returns the last tick of a check.
func TickOf(ticks []Tick, id string) (Tick, bool) {
	for _, t := range slices.Backward(ticks) {
		if t.ID == id {
			return t, true
		}
	}
	return Tick{}, false
}

// WithTick returns the ticks with one put in the place of that check's; one without an answer is taken away.
func WithTick(ticks []Tick, t Tick) []Tick {
	ticks = slices.DeleteFunc(slices.Clone(ticks), func(x Tick) bool { return x.ID == t.ID })
	if t.Answer != "" {
		ticks = append(ticks, t)
	}
	return ticks
}

// WithAnswers gives those checks that have no tick yet an answer, as of a time.
func WithAnswers(ticks []Tick, checks []Check, at time.Time, answer string) []Tick {
	for _, c := range checks {
		if _, ok := TickOf(ticks, c.ID); !ok {
			ticks = WithTick(ticks, Tick{ID: c.ID, Time: at, Answer: answer})
		}
	}
	return ticks
}
