package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// condition is something that is special about all bikes of a trial.
type condition struct {
	Name, Text string
	set        func(b *bike, random *rand.Rand)
}

// Sizes of the conditions. Chosen.
const (
	misfireShare           = 1.0 / 12
	weakLagS               = 0.25
	leastLagS, mostLagS    = 0.05, 0.2
	slowBoardRate          = 250
	backlash               = 1.0 / 16 // turns
	cardTenths             = 10
	leastEffect, topEffect = 2.0, 6.0 // kPa a turn
	reversedShare          = 1.0 / 3
	leastLeak, mostLeak    = 0.5, 2.0 // mm2
	// A bike's screws do much the same: within screwsAlike of each other as a factor.
	leastAny, leastQuick, mostAny = 3.0, 6.0, 24.0 // kPa a turn
	screwsAlike                   = 1.25
	leastPassage, mostPassage     = 1.0, 3.0 // mm2
	nutTurns                      = 0.03
)

// conditions are those that Config.With names.
var conditions = []condition{
	{"card", "directions and effects of the screws are on the bike card, to a tenth",
		func(b *bike, random *rand.Rand) { b.card(random) }},
	{"wrong-card", "as card, and one screw in three is reversed on it", func(b *bike, random *rand.Rand) {
		b.card(random)
		for i := range b.config.Bank.Screws {
			if random.Float64() < reversedShare {
				b.config.Bank.Screws[i].EffectKPaPerTurn *= -1
			}
		}
	}},
	{"lumpy", "an engine with a wild idle", func(b *bike, _ *rand.Rand) { b.config.Lumpy = true }},
	{"misfires", "one cylinder misfires one time in twelve", func(b *bike, random *rand.Rand) {
		defects := make([]engine.Defect, b.config.Bank.Cylinders)
		defects[random.IntN(len(defects))].Misfire = misfireShare
		b.config.Defects = defects
	}},
	{"weak-channel", "the hose of one cylinder is all but blocked", func(b *bike, random *rand.Rand) {
		hoses := make([]engine.Hose, b.config.Bank.Cylinders)
		hoses[random.IntN(len(hoses))].LagS = weakLagS
		b.config.Hoses = hoses
	}},
	{"restricted-hoses", "damping jets of different bore in all hoses", func(b *bike, random *rand.Rand) {
		hoses := make([]engine.Hose, b.config.Bank.Cylinders)
		for i := range hoses {
			hoses[i].LagS = leastLagS + (mostLagS-leastLagS)*random.Float64()
		}
		b.config.Hoses = hoses
	}},
	{"exchanged-hoses", "the hoses of two cylinders are exchanged", func(b *bike, random *rand.Rand) {
		n := b.config.Bank.Cylinders
		i := random.IntN(n)
		j := (i + 1 + random.IntN(n-1)) % n
		hoses := make([]engine.Hose, n)
		hoses[i].On, hoses[j].On = j+1, i+1
		b.config.Hoses = hoses
	}},
	{"leak", "the boot of one cylinder is torn", func(b *bike, random *rand.Rand) {
		defects := make([]engine.Defect, b.config.Bank.Cylinders)
		defects[random.IntN(len(defects))].LeakMM2 = leastLeak + (mostLeak-leastLeak)*random.Float64()
		b.config.Defects = defects
	}},
	{"any-screws", "a turn of a screw does 3 to 24 kPa; lock nuts shift it by 0.03 turns at most",
		func(b *bike, random *rand.Rand) { b.effects(leastAny, random) }},
	{"quick-screws", "a turn of a screw does 6 to 24 kPa; lock nuts shift it by 0.03 turns at most",
		func(b *bike, random *rand.Rand) { b.effects(leastQuick, random) }},
	{"passages", "passages join all runners to one pipe", func(b *bike, random *rand.Rand) {
		b.config.PassageMM2 = leastPassage + (mostPassage-leastPassage)*random.Float64()
	}},
	{"backlash", "a screw turns by a sixteenth before its plates follow another way", func(b *bike, _ *rand.Rand) {
		for i := range b.config.Screws {
			b.config.Screws[i].Play = backlash
		}
	}},
	{"cold", "the engine is started cold and levelled at once", func(b *bike, _ *rand.Rand) { b.config.Cold = true }},
	{"slow-board", "250 frames a second", func(b *bike, _ *rand.Rand) { b.config.Rate = slowBoardRate }},
}

// card gives the screws effects that the card knows.
func (b *bike) card(random *rand.Rand) {
	screws := slices.Clone(b.config.Bank.Screws)
	for i := range screws {
		effect := leastEffect + (topEffect-leastEffect)*random.Float64()
		if random.Uint64()&1 == 0 {
			effect = -effect
		}
		b.config.Screws[i].Effect = pressure.KPa(effect)
		screws[i].EffectKPaPerTurn = math.Round(cardTenths*effect) / cardTenths
	}
	b.config.Bank.Screws = screws
}

// Conditions lists those that a trial can have, each with what it means.
func Conditions() (list []string) {
	for _, c := range conditions {
		list = append(list, c.Name+": "+c.Text)
	}
	return list
}

// chosenConditions returns the conditions of those names.
func chosenConditions(names []string) (list []condition, err error) {
	for _, name := range names {
		i := slices.IndexFunc(conditions, func(c condition) bool { return c.Name == name })
		if i < 0 {
			return nil, fmt.Errorf("trial: no condition %q, there are\n  %s", name, strings.Join(Conditions(), "\n  "))
		}
		list = append(list, conditions[i])
	}
	return list, nil
}

// effects gives the screws effects from least to mostAny, much the same on one bike.
func (b *bike) effects(least float64, random *rand.Rand) {
	size := least * math.Pow(mostAny/least, random.Float64())
	b.config.LockNutTurns = nutTurns
	for i := range b.config.Bank.Screws {
		effect := size * math.Pow(screwsAlike, 2*random.Float64()-1)
		if random.Uint64()&1 == 0 {
			effect = -effect
		}
		b.config.Screws[i].Effect = pressure.KPa(effect)
	}
}
