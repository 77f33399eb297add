// Package trial lets a clumsy virtual mechanic level practice bikes, once by the
// advice and once by watching damped gauges, and counts how both fare.
//
// Run does one trial of many bikes; Report is its outcome. Same seed, same
// outcome, on any number of cores.
package trial

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
)

// Spreads that a bank is counted level at, true draws. Chosen: what careful
// people stop at (common practice: 0.7 to 1.3 kPa), and half of it.
const (
	levelSpread pressure.KPa = 0.7
	fineSpread  pressure.KPa = 0.35
)

// Limits of a run.
const (
	// longestRun is when a mechanic gives up, s, and coldRun with an engine that is cold
	// at first.
	longestRun, coldRun = 600.0, 1200.0
	// leastUneven and mostUneven bound how unevenly a bike begins, kPa.
	leastUneven, mostUneven = 2.0, 8.0
	// warmSeconds is how long the engine settles after its start.
	warmSeconds = 6.0
	// mostPlay is the largest play of a screw, turns.
	mostPlay = 0.05
	// judgeSeconds is how long the true spread is averaged after the last turn.
	judgeSeconds = 3.0
)

// Config says what to try.
type Config struct {
	Bikes int
	Seed  uint64
	// Linkage draws only bikes whose kind of bank has that name; "" draws all.
	Linkage string
	// With names conditions that all bikes have: see Conditions.
	With []string
	// Hand names the habits of the mechanic: see Hands; "" is the clumsy one.
	Hand string
	// NoRival leaves out the mechanic with gauges.
	NoRival bool
	// Trace is called with a line for each word that the bike of that number was told, -1 being all bikes, from
	// many goroutines then, and one for how it ended; nil for none.
	Trace     func(line string)
	TraceBike int
	// Workers is how many bikes are tried at once; 0 is one a core.
	Workers int
	// Progress is called after each bike, from one goroutine at a time; nil is
	// none.
	Progress func(done, of int)
}

// linkage is a kind of bank that bikes are drawn from.
type linkage struct {
	name string
	bank bank.Bank
}

// linkages returns the kinds of banks, which are drawn in turn: paired fours more
// often, as most fours are such.
func linkages() []linkage {
	individual := bank.Default(4)
	individual.Root = 1
	individual.Screws = []bank.Screw{{Name: "1-2", Moves: []int{2}}, {Name: "2-3", Moves: []int{3}},
		{Name: "3-4", Moves: []int{4}}}
	uneven := bank.Default(2)
	uneven.FiringAngles = []float64{0, 270}
	// Degrees of crank between the firings of a V4: an encyclopaedia's table.
	vee := individual
	vee.FiringOrder, vee.FiringAngles = []int{1, 3, 2, 4}, []float64{0, 180, 450, 630}
	return []linkage{
		{"paired four", bank.Default(4)}, {"individual four", individual}, {"paired four", bank.Default(4)},
		{"twin", bank.Default(2)},
		{"paired four", bank.Default(4)}, {"triple", bank.Default(3)}, {"270 twin", uneven}, {"V4", vee},
	}
}

// Outcome is how one mechanic fared on one bike.
type Outcome struct {
	// Done is set when the mechanic was satisfied; Spread is the true one then.
	Done   bool
	Spread pressure.KPa
	// Turns is how often a screw was taken in hand: while the hand stays on it,
	// going on, slower or back, it is one turn. Moves counts each of those, every
	// start of the hand from rest. Idle is for how many seconds the engine ran.
	Turns, Moves int
	Idle         float64
	// Course is the true spread, once a second.
	Course []pressure.KPa
	// Told is what was told on the way; empty for who has no advice.
	Told Told
}

// bike is one random bike.
type bike struct {
	linkage string
	config  engine.Config
	seed    uint64
	habits  *practice.Habits // nil: a clumsy mechanic's
}

// longest is when the mechanic gives up, s.
func (b *bike) longest() float64 {
	if b.config.Cold {
		return coldRun
	}
	return longestRun
}

// hands are the mechanics' habits, by name.
var hands = map[string]*practice.Habits{"": &practice.Clumsy, "clumsy": &practice.Clumsy, "normal": &practice.Normal,
	"sloppy": &practice.Sloppy, "stepwise": &practice.Stepwise,
	"slipping": &practice.Slipping}

// chosen are the linkages of that name.
func chosen(name string) []linkage {
	return slices.DeleteFunc(linkages(), func(l linkage) bool { return name != "" && l.name != name })
}

// Linkages names the kinds of banks.
func Linkages() (names []string) {
	for _, l := range linkages() {
		if !slices.Contains(names, l.name) {
			names = append(names, l.name)
		}
	}
	return names
}

// newBike draws bike number n.
func newBike(kinds []linkage, with []condition, seed uint64, n int) bike {
	rng := rand.New(rand.NewPCG(seed, uint64(n)))
	l := kinds[n%len(kinds)]
	// Sensors as after a match pass: gain errors of 1 % would move a true spread by
	// some tenths of a kPa that no advice can see. Offsets would be zeroed away.
	cfg := engine.Config{Bank: l.bank, Seed: rng.Uint64(), NoSensorErrors: true,
		Uneven: pressure.KPa(leastUneven + (mostUneven-leastUneven)*rng.Float64())}
	for range l.bank.Screws {
		cfg.Screws = append(cfg.Screws, engine.ScrewHabit{Play: mostPlay * rng.Float64()})
	}
	b := bike{linkage: l.name, config: cfg, seed: rng.Uint64()}
	for _, c := range with {
		c.set(&b, rng)
	}
	return b
}

// Pair is how both mechanics fared on a bike.
type Pair struct {
	Linkage        string
	Advised, Rival Outcome
}

// Run tries all bikes and returns how both mechanics fared, in the bikes'
// order. It ends early, with the context's error, when ctx does.
func Run(ctx context.Context, cfg Config) ([]Pair, error) {
	kinds := chosen(cfg.Linkage)
	if len(kinds) == 0 {
		return nil, fmt.Errorf("trial: no linkage %q, there are %s", cfg.Linkage, strings.Join(Linkages(), ", "))
	}
	if hands[cfg.Hand] == nil {
		return nil, fmt.Errorf("trial: no hand %q, there are clumsy, normal, slipping, sloppy, stepwise", cfg.Hand)
	}
	with, err := chosenConditions(cfg.With)
	if err != nil {
		return nil, err
	}
	pairs := make([]Pair, cfg.Bikes)
	err = spread(ctx, cfg.Bikes, cfg.Workers, cfg.Progress, func(n int) {
		b := newBike(kinds, with, cfg.Seed, n)
		b.habits = hands[cfg.Hand]
		var trace func(line string)
		switch {
		case cfg.Trace == nil:
		case cfg.TraceBike < 0:
			trace = func(line string) { cfg.Trace(fmt.Sprintf("%3d %s", n, line)) }
		case n == cfg.TraceBike:
			trace = cfg.Trace
		}
		pairs[n] = Pair{Linkage: b.linkage, Advised: byAdvice(b, trace)}
		if o := &pairs[n].Advised; trace != nil {
			trace(fmt.Sprintf("%7.2f outcome  done %v true spread %.3f turns %d moves %d loose %d", o.Idle, o.Done,
				float64(o.Spread), o.Turns, o.Moves, o.Told.Loose))
		}
		if !cfg.NoRival {
			pairs[n].Rival = byGauges(b)
		}
	})
	return pairs, err
}

// spread calls do for each number below count, on that many workers, 0 being one a
// core. It ends early, with the context's error, when ctx does.
func spread(ctx context.Context, count, workers int, progress func(done, of int), do func(n int)) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	next := make(chan int)
	var done int
	var mu sync.Mutex
	var group sync.WaitGroup
	for range workers {
		group.Go(func() {
			for n := range next {
				do(n)
				mu.Lock()
				if done++; progress != nil {
					progress(done, count)
				}
				mu.Unlock()
			}
		})
	}
	for n := range count {
		select {
		case next <- n:
		case <-ctx.Done():
		}
	}
	close(next)
	group.Wait()
	return context.Cause(ctx)
}

// Tally is the count of a set of outcomes.
type Tally struct {
	Bikes int `json:"bikes"`
	// Levelled and Fine are the shares that ended with a true spread within
	// levelSpread and fineSpread.
	Levelled float64 `json:"levelled_share"`
	Fine     float64 `json:"levelled_fine_share"`
	// Aimed is the share that ended within the aim of the advice.
	Aimed float64 `json:"levelled_aim_share"`
	// FalseDone counts the bikes that were called done beyond levelSpread.
	FalseDone int     `json:"false_done"`
	Turns     float64 `json:"turns_median"`
	Moves     float64 `json:"moves_median"`
	Idle      float64 `json:"idle_s_median"`
	Idle90    float64 `json:"idle_s_90"`
	NotDone   int     `json:"not_done"`
}

// Report is a trial's result.
type Report struct {
	Tally
	Rival     Tally            `json:"rival"`
	ByLinkage map[string]Tally `json:"by_linkage"`
	Told      ToldReport       `json:"told"`
	// Conditions are the names of those that all bikes had.
	Conditions []string `json:"conditions"`
}

// Count makes the report of a trial whose bikes had those conditions.
func Count(pairs []Pair, conditions ...string) Report {
	var ours, theirs []Outcome
	kinds := map[string][]Outcome{}
	for _, p := range pairs {
		ours = append(ours, p.Advised)
		if p.Rival.Course != nil {
			theirs = append(theirs, p.Rival)
		}
		kinds[p.Linkage] = append(kinds[p.Linkage], p.Advised)
	}
	r := Report{Tally: tally(ours), Rival: tally(theirs), ByLinkage: map[string]Tally{},
		Conditions: append([]string{}, conditions...)}
	for i := range ours {
		r.Told.add(&ours[i])
	}
	for name, o := range kinds {
		r.ByLinkage[name] = tally(o)
	}
	return r
}

func tally(outcomes []Outcome) Tally {
	t := Tally{Bikes: len(outcomes)}
	if len(outcomes) == 0 {
		return t
	}
	var turns, moves, idle []float64
	for _, o := range outcomes {
		switch level := o.Done && o.Spread <= levelSpread; {
		case level:
			t.Levelled++
		case o.Done:
			t.FalseDone++
		}
		if !o.Done {
			t.NotDone++
		}
		if o.Done && o.Spread <= balance.DefaultAim {
			t.Aimed++
		}
		if o.Done && o.Spread <= fineSpread {
			t.Fine++
		}
		turns, moves, idle = append(turns, float64(o.Turns)), append(moves, float64(o.Moves)), append(idle, o.Idle)
	}
	t.Levelled /= float64(t.Bikes)
	t.Fine /= float64(t.Bikes)
	t.Aimed /= float64(t.Bikes)
	t.Turns, t.Moves, t.Idle = median(turns), median(moves), median(idle)
	t.Idle90 = quantile(idle, 0.9)
	return t
}

// median returns the middle value, the mean of the two middle ones; NaN of none.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(v))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
