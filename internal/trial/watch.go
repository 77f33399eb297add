package trial

import (
	"fmt"
	"math"
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// effectClasses bound the classes of screws by their effect, kPa a turn; the last one is open.
var effectClasses = [...]float64{5, 9, 14, math.Inf(1)}

// Told is what was told to a mechanic, by class of screw where there are four.
type Told struct {
	// Stops counts words to stop at a screw, TurnedBack those after which the next word about a
	// screw was the other way on the same one. LedAway counts apart those that were told as the screw went away from
	// level: the other way must follow.
	Stops, TurnedBack, LedAway [len(effectClasses)]int
	// Amounts counts amounts that were told, Overshot those after which the same screw was told
	// the other way.
	Amounts, Overshot [len(effectClasses)]int
	// Weighed counts amounts of weighedTurns and more whose screw came right in the end, Large those of them that were
	// more than largeShare of what it still had to be turned.
	Weighed, Large int
	// TakenBack counts directions, told as known, that were taken back without a word to stop.
	TakenBack int
	// AfterDone is whether another word came after "done", Loose how many lock nuts were open then.
	AfterDone bool
	Loose     int
	// Misfires counts advice that a cylinder misfires.
	Misfires int
	// Words counts the large words on the screen while the engine runs, but "STOP", "OTHER WAY" and the one that asks
	// to start it, Short those that stood for less than wordS, Cut those of them that gave way to the first two.
	Words, Short, Cut int
	// Seconds is for how long each was told, by kind and reason.
	Seconds map[string]float64
}

// ToldReport adds up what was told on many bikes.
type ToldReport struct {
	Stops      [len(effectClasses)]int `json:"stops"`
	TurnedBack [len(effectClasses)]int `json:"stops_turned_back"`
	LedAway    [len(effectClasses)]int `json:"stops_led_away"`
	Amounts    [len(effectClasses)]int `json:"amounts"`
	Overshot   [len(effectClasses)]int `json:"amounts_overshot"`
	Weighed    int                     `json:"amounts_weighed"`
	Large      int                     `json:"amounts_large"`
	TakenBack  int                     `json:"directions_taken_back"`
	AfterDone  int                     `json:"bikes_with_words_after_done"`
	Loose      int                     `json:"bikes_with_loose_nuts_at_done"`
	Misfires   int                     `json:"misfires_told"`
	Words      int                     `json:"large_words"`
	Short      int                     `json:"large_words_short"`
	Cut        int                     `json:"large_words_cut_by_stop"`
	// Seconds is for how long each kind and reason was told, a bike's mean.
	Seconds map[string]float64 `json:"seconds_mean"`
	bikes   float64
}

// add takes a bike's outcome.
func (r *ToldReport) add(o *Outcome) {
	t := &o.Told
	for i := range effectClasses {
		r.Stops[i] += t.Stops[i]
		r.TurnedBack[i] += t.TurnedBack[i]
		r.LedAway[i] += t.LedAway[i]
		r.Amounts[i] += t.Amounts[i]
		r.Overshot[i] += t.Overshot[i]
	}
	if t.AfterDone {
		r.AfterDone++
	}
	if t.Loose > 0 {
		r.Loose++
	}
	r.Weighed += t.Weighed
	r.Large += t.Large
	r.TakenBack += t.TakenBack
	r.Misfires += t.Misfires
	r.Words += t.Words
	r.Short += t.Short
	r.Cut += t.Cut
	if r.Seconds == nil {
		r.Seconds = map[string]float64{}
	}
	r.bikes++
	for k := range r.Seconds {
		r.Seconds[k] *= (r.bikes - 1) / r.bikes
	}
	for k, s := range t.Seconds {
		r.Seconds[k] += s / r.bikes
	}
}

// wordS is for how long a large word must stand. Chosen: a glance.
const wordS = 1.2

// watch notes what is told.
type watch struct {
	Told
	engine *engine.Engine
	chain  *session.Chain
	last   advice.Advice
	lastAt float64
	// stopped and turned are the last word to stop, and to turn, since then.
	stopped, turned advice.Advice
	done            bool
	view            view.View
	big             string
	bigAt           float64
	before          string // the word while the engine last stood, until another comes
	trace           func(line string)
	moves           func() bool // the hand does
	amounts         []amount    // since the lock nut before
}

// amount is one that was told, when its screw stood there, both in turns, clockwise positive.
type amount struct {
	screw       int
	turns, from float64
}

// An amount of weighedTurns or more is large where it is more than largeShare of what its screw still had to be turned,
// and weighedDoubt turns. Chosen: hands make a third more.
const weighedTurns, largeShare, weighedDoubt = 3.0 / 16, 1.5, 1.0 / 16

// weigh holds the amounts that were told of a screw against how far it was turned, its lock nut being next.
func (w *watch) weigh(screw int) {
	for _, a := range w.amounts {
		if a.screw == screw {
			w.Weighed++
			need := (w.engine.Truth().ScrewTurns[screw] - a.from) * math.Copysign(1, a.turns)
			if math.Abs(a.turns) > largeShare*need+weighedDoubt {
				w.Large++
			}
		}
	}
	w.amounts = w.amounts[:0]
}

func classOf(e *engine.Engine, screw int) int {
	effect := math.Abs(float64(e.Truth().ScrewEffect[screw]))
	for i, most := range effectClasses {
		if effect < most {
			return i
		}
	}
	return len(effectClasses) - 1
}

// push takes a reading.
func (w *watch) push(r *balance.Reading) {
	a := &r.Advice
	if w.Seconds == nil {
		w.Seconds = map[string]float64{}
		w.lastAt = r.Time
		w.view = view.View{Unit: pressure.Kilopascal, Aim: balance.DefaultAim, Limit: balance.DefaultLimit,
			Flow: view.Flow{Off: true}}
	}
	if !w.done && w.engine.Truth().Running {
		w.Seconds[string(w.last.Kind)+" "+string(w.last.Why)] += r.Time - w.lastAt
	}
	w.lastAt = r.Time
	w.show(r)
	if a.Same(&w.last) {
		return
	}
	if w.trace != nil {
		t := w.engine.Truth()
		w.note("%-8s %-12s %-4s %-14s %6.3f  turns made %+.3f true spread %5.2f hand moves %v", a.Kind, a.Why,
			a.ScrewName, a.Direction, a.Turns, t.ScrewTurns, float64(t.Spread), w.moves())
	}
	w.count(a)
	w.last = *a
}

// note tells who follows the bike, with how long its engine has idled.
func (w *watch) note(format string, values ...any) {
	if w.trace != nil {
		w.trace(fmt.Sprintf("%7.2f ", w.engine.Truth().IdlingS) + fmt.Sprintf(format, values...))
	}
}

// count takes an advice that is new.
func (w *watch) count(a *advice.Advice) {
	switch {
	case w.done && a.Kind != advice.Done:
		w.AfterDone = true
	case a.Kind == advice.Done:
		w.done = true
	case a.Kind == advice.Stop && a.Part == advice.SyncScrew && a.Why == advice.WhyAway:
		w.LedAway[classOf(w.engine, a.Screw)]++
		w.stopped, w.turned = advice.Advice{}, advice.Advice{}
	case a.Kind == advice.Stop && a.Part == advice.SyncScrew:
		w.Stops[classOf(w.engine, a.Screw)]++
		w.stopped, w.turned = *a, advice.Advice{}
	case a.ToTurn(advice.SyncScrew):
		w.turn(a)
		w.turned, w.stopped = *a, advice.Advice{}
	case a.Why == advice.WhyNuts: // which may shift it either way
		w.weigh(a.Screw)
		w.turned, w.stopped = advice.Advice{}, advice.Advice{}
	case a.Kind == advice.Fault && (a.Why == advice.WhyMisfires || a.Why == advice.WhyLean):
		w.Misfires++
	}
}

// turn takes an advice to turn a screw.
func (w *watch) turn(a *advice.Advice) {
	class := classOf(w.engine, a.Screw)
	back := func(o *advice.Advice) bool {
		unknown := o.Direction == advice.UnknownWay || a.Direction == advice.UnknownWay
		return o.Kind != "" && o.Screw == a.Screw && (o.Direction != a.Direction && !unknown ||
			a.Why == advice.WhyTurnBack)
	}
	if back(&w.stopped) {
		w.TurnedBack[class]++
	}
	goesOn := a.Why == advice.WhyKeepOn || w.turned.Screw == a.Screw && w.turned.Direction == a.Direction &&
		a.Why == w.turned.Why
	if !math.IsNaN(a.Turns) && !goesOn && a.Why != advice.WhyTry {
		w.Amounts[class]++
		if a.Turns >= weighedTurns && a.Direction != advice.UnknownWay {
			w.amounts = append(w.amounts, amount{a.Screw, a.SignedTurns(), w.engine.Truth().ScrewTurns[a.Screw]})
		}
	}
	if !back(&w.turned) {
		return
	}
	switch {
	case w.turned.Kind == advice.Turn && w.turned.Why == advice.WhyTry:
	case !math.IsNaN(w.turned.Turns): // it was made, and the hand is at rest
		w.Overshot[class]++
	default:
		w.TakenBack++
	}
}

// urgent reports whether a large word, with its amount, comes at once.
func urgent(big string) bool { return big == view.BigStop || strings.HasPrefix(big, view.BigOtherWay) }

// show follows the large word on the screen.
func (w *watch) show(r *balance.Reading) {
	at := time.Unix(0, 0).Add(time.Duration(r.Time * float64(time.Second)))
	w.view = view.Update(w.view, view.Tick{Now: at, Snap: &session.Snapshot{Phase: session.Running, LastFrame: at,
		Reading: r, Bank: w.chain.Bank(), Config: w.chain.Config(), Zero: w.chain.ZeroState()}})
	p := w.view.Picture()
	w.word(r.Time, strings.TrimSpace(p.Big+" "+p.Amount), w.engine.Truth().Running)
}

// goOn presses the key that goes past a fault on the screen, too: what stands there because of it is done.
func (w *watch) goOn() { w.view = view.Update(w.view, view.KeyPress{Key: "g"}) }

// word takes the large word that stands now.
func (w *watch) word(now float64, big string, runs bool) {
	switch {
	case !runs:
		w.before = big
	case big != "" && big == w.before:
		return // it goes by the engine's start
	default:
		w.before = ""
	}
	if big == w.big {
		return
	}
	stood := now - w.bigAt
	if w.big != "" && !urgent(w.big) {
		w.Words++
		switch short := stood < wordS-0.05; { // it is looked at once a cycle here
		case short && urgent(big):
			w.Cut++
		case short:
			w.Short++
			w.note("the word %q stood for %.2f s, until %q", w.big, stood, big)
		}
	}
	w.big, w.bigAt = big, now
	if !runs {
		w.big = ""
	}
}
