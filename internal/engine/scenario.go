package engine

import (
	"math"
	"math/rand/v2"

	"evendraw/internal/bank"
	"evendraw/internal/pressure"
)

// Scenario is an invented bike with a story, to practise on.
type Scenario struct {
	// Name is short, lower case with hyphens.
	Name string
	// Story is the one sentence that the bike's owner would say.
	Story string
	// Truth is what was the matter, and what it teaches: told at the end.
	Truth  string
	bank   func() bank.Bank
	change func(c *Config, random *rand.Rand)
}

// scenarios of the invented garage; all numbers in it are chosen.
var scenarios = []Scenario{
	{"healthy-four", "The red four was cleaned over the winter and only wants levelling.",
		"Nothing was wrong with this four: its screws alone stood off.", four, nil},
	{"lumpy-twin", "The old twin with the wild camshafts has never idled evenly and never will.",
		"Nothing was wrong with this twin: wild camshafts idle unevenly, and level is what the mean says.", twin,
		func(c *Config, _ *rand.Rand) { c.Lumpy = true }},
	{"perished-hose", "A small rubber hose on the third runner of the blue four has cracked with age.",
		"A small hose at cylinder 3 was cracked. Levelling can hide such a leak: feel for one, the engine off " +
			"and cold, before you level.", four,
		func(c *Config, _ *rand.Rand) { c.Defects = []Defect{2: {LeakMM2: 0.9, AtHose: true}} }},
	{"stiff-screw", "One screw of the barn-find four moves its butterfly in jerks, the others have play.",
		"One screw moved its butterfly in jerks, and all had play: small turns and a wait after each level it.",
		four,
		func(c *Config, random *rand.Rand) {
			for i := range c.Screws {
				c.Screws[i].Play = 0.1
			}
			c.Screws[random.IntN(3)].Jerk = 0.12
		}},
	{"reversed-screw", "Somebody fitted a bracket upside down: one screw now works against what the card says.",
		"One bracket was fitted upside down: its screw works the other way round, as the first turn showed.", four,
		func(c *Config, random *rand.Rand) {
			s := &c.Bank.Screws[random.IntN(3)]
			s.EffectKPaPerTurn = -s.EffectKPaPerTurn
		}},
	{"exchanged-hoses", "In a hurry the hoses of cylinders 2 and 3 went onto each other's ports.",
		"The sensors' hoses of cylinders 2 and 3 were on each other's ports: each showed the other's vacuum.", four,
		func(c *Config, _ *rand.Rand) { c.Hoses = []Hose{1: {On: 3}, 2: {On: 2}} }},
	{"leaking-boot", "The boot of cylinder 1 was forced on dry and has a tear that hisses.",
		"The boot of cylinder 1 was torn. Levelling against it shuts a butterfly until a cylinder misfires: no " +
			"screw cures a leak.", four,
		func(c *Config, _ *rand.Rand) { c.Defects = []Defect{0: {LeakMM2: 1.8}} }},
	{"thin-air", "The four came up the pass on a hot day and is levelled at 2300 m, jetted for the coast.",
		"Nothing was wrong with this four: thin air makes all four rich alike, and level stays level.",
		four,
		func(c *Config, _ *rand.Rand) { c.Ambient, c.AirC = pressure.StandardAtmosphere(2300), 35 }},
	{"tired-cylinder", "Cylinder 2 of the courier's four has worn rings and a tight valve and pulls little vacuum " +
		"whatever its screw does.",
		"Cylinder 2 has a tight valve and worn rings, which no carburettor screw cures: set the valve. " +
			"Compression still low? If oil in the cylinder raises it, the rings.", four,
		func(c *Config, _ *rand.Rand) {
			c.Defects = []Defect{1: {Valve: 0.5, RingsMM2: 1.5, Retained: 30}}
		}},
	{"misfiring", "A plug cap on cylinder 4 lets one spark in twelve go astray.",
		"The plug cap of cylinder 4 let one spark in twelve go astray: no screw cures that.", four,
		func(c *Config, _ *rand.Rand) { c.Defects = []Defect{3: {Misfire: 1.0 / 12}} }},
	{"restricted-hoses", "Restrictors of different bore sit in the hoses and swallow most of the pulse.",
		"Restrictors of different bore sat in the sensors' hoses: the mean of a cycle passes them all alike.", four,
		func(c *Config, _ *rand.Rand) {
			c.Hoses = []Hose{{LagS: 0.05}, {LagS: 0.12}, {LagS: 0.08}, {LagS: 0.2}}
		}},
	{"unseated-linkage", "The forgetful owner's four went together with the arm of carburettor 4 beside its spring: " +
		"screw 3-4 turns and nothing follows.",
		"Arm 4 stood beside its spring: screw 3-4 moved nothing. Don't wind such a screw further: it bends the " +
			"arm, or comes right out.", four,
		func(c *Config, _ *rand.Rand) {
			c.Screws[1].Play = unseatedPlay
			apart(c, 3, 4)
		}},
	{"triple", "The outer carburettors of the choir master's triple follow the middle one, each by its screw.",
		"Nothing was wrong with this triple: its screws alone stood off.", triple,
		nil},
	{"vee-four", "The vee four fires unevenly and every carburettor but one has its own screw.",
		"Nothing was wrong with this four: it fires unevenly by its making, and its screws alone stood off.",
		veeFour, nil},
	{"offset-twin", "The parallel twin with the crank throws a quarter turn apart beats like a vee.",
		"Nothing was wrong with this twin: it fires unevenly by its making, and its screw alone stood off.",
		offsetTwin, nil},
	{"cold-start", "The neighbour is waiting, so the four is levelled straight after a cold start.",
		"The engine was cold at first. Levelled cold, a bank does not stay level.", four,
		func(c *Config, _ *rand.Rand) { c.Cold, c.AirC, c.Drift = true, 12, 0.6 }},
	{"sparks", "Bare copper leads without suppressors put every spark on every sensor line.",
		"Bare leads put every spark on every sensor line: suppressors belong in caps or leads.", four,
		func(c *Config, _ *rand.Rand) { c.Sparks = true }},
	{"pilots-adrift", "The pilot screws of the commuter twin were put back by guess, and a lambda probe is fitted.",
		"The pilot screws stood up to a turn off their best.",
		twin, func(c *Config, _ *rand.Rand) { c.PilotsOff, c.Lambda = 1, true }},
	{"joined-runners", "Thin passages join the runners of the tourer's four to one pipe and even them out a little.",
		"Thin passages join the runners: each screw moves its neighbours' figures a little, too.",
		four, func(c *Config, _ *rand.Rand) { c.PassageMM2 = 2 }},
}

// apartLeast is from which logarithm of the ratio of two openings on the screw between them is asked for. Chosen: some
// 1.5 kPa of draw.
const apartLeast = 0.09

// apart takes another seed until the butterflies of two cylinders stand so far apart that a story about the screw
// between them is told.
func apart(c *Config, one, other int) {
	for range 100 {
		of := New(*c).Truth().Cylinders
		if math.Abs(math.Log(of[one-1].Opening/of[other-1].Opening)) >= apartLeast {
			return
		}
		c.Seed += 1 << 32
	}
}

// unseatedPlay is the play of a screw that moves nothing however far it turns, in turns.
const unseatedPlay = 2*ScrewTravel + 1

func four() bank.Bank   { return bank.Default(4) }
func triple() bank.Bank { return bank.Default(3) }
func twin() bank.Bank   { return bank.Default(2) }

// offsetTwin fires at intervals of 270 and 450 degrees (an encyclopaedia's table).
func offsetTwin() bank.Bank {
	b := bank.Default(2)
	b.FiringAngles = []float64{0, 270}
	return b
}

// veeFour fires at intervals of 180, 270, 180 and 90 degrees (an encyclopaedia's table);
// its order is chosen.
func veeFour() bank.Bank {
	b := bank.Default(4)
	b.Root = 1
	b.FiringOrder = []int{1, 3, 2, 4}
	b.FiringAngles = []float64{0, 180, 450, 630}
	b.Screws = []bank.Screw{{Name: "2", Moves: []int{2}}, {Name: "3", Moves: []int{3}}, {Name: "4", Moves: []int{4}}}
	return b
}

// Scenarios returns the invented garage.
func Scenarios() []Scenario { return append([]Scenario(nil), scenarios...) }

// ScenarioNamed returns the scenario of that name; ok is false when there is none.
func ScenarioNamed(name string) (s Scenario, ok bool) {
	for _, s := range scenarios {
		if s.Name == name {
			return s, true
		}
	}
	return Scenario{}, false
}

// Config returns the bike, one of many with the same story by seed, standing still. Its
// Bank is what a card from last time would carry: channels as the hoses should be, and
// the screws' effects as they were noted, to a tenth, which need not be what they are.
func (s Scenario) Config(seed uint64) Config {
	random := rand.New(rand.NewPCG(seed, streamScenario))
	c := Config{Bank: s.bank(), Seed: seed}
	c.Uneven = pressure.KPa(3 + 3*random.Float64())
	for i := range c.Bank.Screws {
		effect := minEffectKPa + (maxEffectKPa-minEffectKPa)*random.Float64()
		if random.Uint64()&1 == 0 {
			effect = -effect
		}
		c.Screws = append(c.Screws, ScrewHabit{Effect: pressure.KPa(effect)})
		c.Bank.Screws[i].EffectKPaPerTurn = math.Round(effect*10) / 10
	}
	if s.change != nil {
		s.change(&c, random)
	}
	return c
}
