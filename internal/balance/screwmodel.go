package balance

import (
	"math"

	"evendraw/internal/bank"
)

// What is assumed of a screw before it is known.
const (
	// usualEffect is the size of a screw's effect, kPa a turn, and usualSpread the standard deviation of its logarithm.
	// Chosen: a lazy screw does 2, a lively one 6, a quick one 24 (common practice, no source). alikeSpread is that of
	// a screw whose bank has another that is known. Chosen: the same thread and levers.
	alikeSpread = 0.35
	usualEffect = 6.0
	usualSpread = 0.6
	// cardSpread is that of an effect from the bike card. Measured on the practice engine: with the bank's other
	// settings a turn does 0.7 to 1.6 times its nominal effect.
	cardSpread = 0.2
	// driftSpread is what an effect may change from one turn to the next. Chosen.
	driftSpread = 0.08
	// cardDoubt is how probable it is that a card has the direction wrong, and
	// handDoubt that a hand turns the wrong way. Chosen.
	cardDoubt = 0.05
	handDoubt = 0.03
	// sureOdds is the logarithm of the odds from which a direction counts as known. Chosen: one card or one turn seen
	// is enough, both against each other are not.
	sureOdds = 1.5
	// doubtOdds are those of a direction that is to be tried first. Chosen.
	doubtOdds = 0.5
)

// onceOdds are the odds, as a logarithm, by one movement that was seen.
var onceOdds = math.Log((1 - handDoubt) / handDoubt)

// How well the turns that were made are known: standard deviations of their logarithm.
const (
	// toldSpread is that of an amount that was told. Derived: hands are off by up to 25 % either way.
	toldSpread = 0.145
	// slowSpread is that of a hand that turns slowly until told to stop, at slowPace turns a second. Chosen.
	slowSpread = 0.4
	slowPace   = 1.0 / 8
	// usualPlay is how far a screw turns before its plates follow when it changes direction, in turns, and playDoubt
	// the standard deviation of that; playScatter is how far off an amount is seen to end. Chosen.
	usualPlay, playDoubt, playScatter = 0.025, 0.015, 0.01
	// Where less than pausedShare of what an amount should have done is seen, the hand may
	// have stopped early: pausedSpread is added then, and no less than its square counts. Chosen.
	pausedShare  = 0.5
	pausedSpread = 0.6
	// What does more than is expected by mostSigmas standard deviations was not known. Chosen.
	mostSigmas = 2
)

// screwModel is what is known of a screw, learned turn by turn: the direction, as the odds that a clockwise turn raises
// the draw, and the size of its effect, whose logarithm is taken as normally distributed.
type screwModel struct {
	odds     float64 // logarithm; 0 is unknown
	logSize  float64 // logarithm of the effect's size, kPa a turn
	variance float64 // of logSize
	seen     bool    // a turn was seen, or a card tells the effect
	waySeen  bool    // and not a card alone tells the direction
	play     float64 // turns, and the variance of that
	playVar  float64
	passed   bool    // a hand that was told to stop has passed level: it is told amounts from then on
	lastWay  float64 // of the last movement, +1 clockwise, -1 anticlockwise; 0 is none
}

// newScrewModel begins with the effect from a bike card, kPa per clockwise turn; 0 is unknown.
func newScrewModel(effect float64) screwModel {
	k := screwModel{logSize: math.Log(usualEffect), variance: usualSpread * usualSpread, play: usualPlay,
		playVar: playDoubt * playDoubt}
	if effect != 0 {
		k.logSize, k.variance, k.seen = math.Log(math.Abs(effect)), cardSpread*cardSpread, true
		k.odds = sign(effect) * math.Log((1-cardDoubt)/cardDoubt)
	}
	return k
}

// forgetSize goes back to the effect that a card tells, kPa a turn, 0 for none; the direction stays.
func (k *screwModel) forgetSize(effect float64) {
	fresh := newScrewModel(effect)
	k.logSize, k.variance, k.seen = fresh.logSize, fresh.variance, fresh.seen
}

// directionKnown reports whether the direction counts as known.
func (k *screwModel) directionKnown() bool { return math.Abs(k.odds) >= sureOdds }

// effect is the best guess, kPa per clockwise turn; 0 while the direction is unknown.
func (k *screwModel) effect() float64 {
	if !k.seen || k.odds == 0 {
		return 0
	}
	return sign(k.odds) * k.size()
}

// size is the effect's size, kPa a turn.
func (k *screwModel) size() float64 { return math.Exp(k.logSize) }

// observeDirection learns from a movement that was seen: told is +1 where clockwise was told, else
// -1; raised is set where the draw rose. Where that speaks against a direction that one movement alone supports the
// newest counts: the older may have been nobody's, or a slip.
func (k *screwModel) observeDirection(told float64, raised bool) {
	way := told
	if !raised {
		way = -told
	}
	if k.odds*way < 0 && k.seenOnce() {
		k.odds = 0
	}
	k.odds = min(max(k.odds+way*onceOdds, -2*onceOdds), 2*onceOdds)
	k.seen, k.waySeen, k.lastWay = true, true, told
}

// seenOnce reports whether one movement alone supports the direction.
func (k *screwModel) seenOnce() bool { return k.waySeen && math.Abs(k.odds) < 1.1*onceOdds }

// doubt takes a movement that may not have been as told: a direction that nothing, or one movement alone, supports is
// to be tried anew, first as this movement has it.
func (k *screwModel) doubt(told float64, raised bool) {
	way := told
	if !raised {
		way = -told
	}
	if k.odds == 0 || k.seenOnce() && k.odds*way < 0 {
		k.odds, k.waySeen = way*doubtOdds, false
	}
}

// observeEffect learns from turns that changed the draw by so many kPa; spread is how well the turns are known.
func (k *screwModel) observeEffect(change, turns, spread float64) {
	change, turns = math.Abs(change), math.Abs(turns)
	if change == 0 || !(turns > 0) {
		return
	}
	play := usualPlay / turns
	noise := spread*spread + play*play
	z := math.Log(change / turns)
	if z < k.logSize+math.Log(pausedShare) {
		noise += pausedSpread * pausedSpread
		z = max(z, k.logSize+2*math.Log(pausedShare))
	}
	k.variance += driftSpread * driftSpread
	if d := z - k.logSize; d > mostSigmas*math.Sqrt(k.variance+noise) {
		k.variance = d * d
	}
	gain := k.variance / (k.variance + noise)
	k.logSize += gain * (z - k.logSize)
	k.logSize = min(k.logSize, math.Log(bank.MaxEffectKPaPerTurn))
	k.variance *= 1 - gain
}

// observeBack learns the play from an amount that was turned back: what of it did nothing.
func (k *screwModel) observeBack(change, turns float64) {
	noise := playScatter*playScatter + turns*turns*(toldSpread*toldSpread+k.variance)
	gain := k.playVar / (k.playVar + noise)
	k.play = max(k.play+gain*(turns-math.Abs(change)/k.size()-k.play), 0)
	k.playVar *= 1 - gain
}

// turns returns how far to turn for a wanted change, clockwise positive. A change of direction first takes up the play.
func (k *screwModel) turns(wanted float64) float64 {
	way := sign(wanted) * sign(k.odds)
	amount := math.Abs(wanted) / k.size()
	if k.lastWay != 0 && k.lastWay != way {
		amount += k.play
	}
	return way * amount
}

// shareEffect lets the screws of which nothing was seen be like the one that was.
func (a *advisor) shareEffect(from int) {
	k := &a.screws[from]
	for s := range a.bank.Screws {
		if o := &a.screws[s]; !o.seen {
			o.logSize, o.variance = k.logSize, k.variance+alikeSpread*alikeSpread
		}
	}
}
