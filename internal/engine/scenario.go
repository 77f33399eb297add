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
	Story  string
	bank   func() bank.Bank
	change func(c *Config, random *rand.Rand)
}

// scenarios of the invented garage; all numbers in it are chosen.
var scenarios = []Scenario{
	{"healthy-four", "The red four was cleaned over the winter and only wants levelling.", four, nil},
	{"lumpy-twin", "The old twin with the wild camshafts has never idled evenly and never will.", twin,
		func(c *Config, _ *rand.Rand) { c.Lumpy = true }},
	{"perished-hose", "A small rubber hose on the third runner of the blue four has cracked with age.", four,
		func(c *Config, _ *rand.Rand) { c.Defects = []Defect{2: {LeakMM2: 0.9}} }},
	{"stiff-screw", "One screw of the barn-find four moves its butterfly in jerks, the others have play.", four,
		func(c *Config, random *rand.Rand) {
			for i := range c.Screws {
				c.Screws[i].Play = 0.1
			}
			c.Screws[random.IntN(3)].Jerk = 0.12
		}},
	{"reversed-screw", "Somebody fitted a bracket upside down: one screw now works against what the card says.", four,
		func(c *Config, random *rand.Rand) {
			s := &c.Bank.Screws[random.IntN(3)]
			s.EffectKPaPerTurn = -s.EffectKPaPerTurn
		}},
	{"exchanged-hoses", "In a hurry the hoses of cylinders 2 and 3 went onto each other's ports.", four,
		func(c *Config, _ *rand.Rand) { c.Hoses = []Hose{1: {On: 3}, 2: {On: 2}} }},
	{"leaking-boot", "The boot of cylinder 1 was forced on dry and has a tear that hisses.", four,
		func(c *Config, _ *rand.Rand) { c.Defects = []Defect{0: {LeakMM2: 1.8}} }},
	{"thin-air", "The four came up the pass on a hot day and is levelled at 2300 m, jetted for the coast.", four,
		func(c *Config, _ *rand.Rand) { c.Ambient, c.AirC = pressure.StandardAtmosphere(2300), 35 }},
	{"tired-cylinder", "Cylinder 2 of the courier's four has worn rings and a tight valve and pulls little vacuum " +
		"whatever its screw does.", four,
		func(c *Config, _ *rand.Rand) {
			c.Defects = []Defect{1: {Valve: 0.5, RingsMM2: 1.5, Retained: 30}}
		}},
	{"misfiring", "A plug cap on cylinder 4 lets one spark in twelve go astray.", four,
		func(c *Config, _ *rand.Rand) { c.Defects = []Defect{3: {Misfire: 1.0 / 12}} }},
	{"restricted-hoses", "Restrictors of different bore sit in the hoses and swallow most of the pulse.", four,
		func(c *Config, _ *rand.Rand) {
			c.Hoses = []Hose{{LagS: 0.05}, {LagS: 0.12}, {LagS: 0.08}, {LagS: 0.2}}
		}},
	{"unseated-linkage", "The forgetful owner's four went together with the arm of carburettor 4 beside its spring: " +
		"screw 3-4 turns and nothing follows.", four,
		func(c *Config, _ *rand.Rand) { c.Screws[1].Play = unseatedPlay }},
	{"triple", "The outer carburettors of the choir master's triple follow the middle one, each by its screw.", triple,
		nil},
	{"vee-four", "The vee four fires unevenly and every carburettor but one has its own screw.", veeFour, nil},
	{"offset-twin", "The parallel twin with the crank throws a quarter turn apart beats like a vee.", offsetTwin, nil},
	{"cold-start", "The neighbour is waiting, so the four is levelled straight after a cold start.", four,
		func(c *Config, _ *rand.Rand) { c.Cold, c.AirC, c.Drift = true, 12, 0.6 }},
	{"sparks", "Bare copper leads without suppressors put every spark on every sensor line.", four,
		func(c *Config, _ *rand.Rand) { c.Sparks = true }},
	{"pilots-adrift", "The pilot screws of the commuter twin were put back by guess, and a lambda probe is fitted.",
		twin, func(c *Config, _ *rand.Rand) { c.PilotsOff, c.Lambda = 1, true }},
	{"joined-runners", "Thin passages join the runners of the tourer's four to one pipe and even them out a little.",
		four, func(c *Config, _ *rand.Rand) { c.PassageMM2 = 2 }},
}

// unseatedPlay is how far a screw turns that moves nothing, more than anybody turns it.
const unseatedPlay = 10

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
