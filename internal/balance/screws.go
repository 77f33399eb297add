package balance

import (
	"math"

	"evendraw/internal/bank"
)

// What is taken of a screw before it is known.
const (
	// usualEffect is what a screw is taken to do, kPa a turn, and usualSpread the
	// standard deviation of its logarithm. Chosen: a lazy screw does 2, a lively
	// one 6 (common practice, no source).
	usualEffect = 4.0
	usualSpread = 0.35
	// cardSpread is that of an effect from the bike card. Measured on the practice
	// engine: beside other settings of the bank a turn does 0.7 to 1.6 times its
	// nominal effect.
	cardSpread = 0.2
	// driftSpread is what an effect may change from one turn to the next. Chosen.
	driftSpread = 0.08
	// cardDoubt is how probable it is that a card has the direction wrong, and
	// handDoubt that a hand turns the wrong way. Chosen.
	cardDoubt = 0.05
	handDoubt = 0.03
	// sureOdds is the logarithm of the odds from which a direction counts as
	// known. Chosen: one card or one turn seen is enough, both against each other
	// are not.
	sureOdds = 1.5
)

// What a turn that was seen tells of the effect: standard deviations of the
// logarithm of the turns made.
const (
	// toldSpread is that of an amount that was told. Derived: amounts off by up to
	// 25 % either way.
	toldSpread = 0.145
	// slowSpread is that of turning slowly until told to stop, at slowPace turns a
	// second. Chosen.
	slowSpread = 0.4
	slowPace   = 1.0 / 8
	// usualPlay is how far a screw turns back before its plates follow, in turns.
	// Chosen.
	usualPlay = 0.025
	// pausedShare of what an amount should have done is below what a hand that
	// paused is thought to have made less of it. Chosen.
	pausedShare  = 0.5
	pausedSpread = 0.6
)

// knowledge is what is known of a screw: a recursive estimate of the direction,
// as the odds that a clockwise turn raises the draw, and of the size of its effect,
// whose logarithm is normally distributed.
type knowledge struct {
	odds     float64 // logarithm; 0 is unknown
	log      float64 // of kPa a turn
	variance float64 // of log
	seen     bool    // a turn was seen, or a card says
	last     float64 // direction of the last movement, 0 is none
}

// know begins with a card's effect, 0 being unknown.
func know(effect float64) knowledge {
	k := knowledge{log: math.Log(usualEffect), variance: usualSpread * usualSpread}
	if effect != 0 {
		k.log, k.variance, k.seen = math.Log(math.Abs(effect)), cardSpread*cardSpread, true
		k.odds = sign(effect) * math.Log((1-cardDoubt)/cardDoubt)
	}
	return k
}

// known reports whether the direction is.
func (k *knowledge) known() bool { return math.Abs(k.odds) >= sureOdds }

// effect is the best guess, kPa per clockwise turn; 0 while the direction is
// unknown.
func (k *knowledge) effect() float64 {
	if !k.seen || k.odds == 0 {
		return 0
	}
	return sign(k.odds) * k.size()
}

// size is the effect's size, kPa a turn.
func (k *knowledge) size() float64 { return math.Exp(k.log) }

// went takes the direction of a movement that was seen into account: told is +1
// for clockwise, raised whether the draw rose.
func (k *knowledge) went(told float64, raised bool) {
	way := told
	if !raised {
		way = -told
	}
	most := 2 * math.Log((1-handDoubt)/handDoubt)
	k.odds = min(max(k.odds+way*most/2, -most), most)
	k.seen, k.last = true, told
}

// did takes into account that so many turns, told with that spread, changed the
// draw by so many kPa.
func (k *knowledge) did(change, turns, spread float64) {
	change, turns = math.Abs(change), math.Abs(turns)
	if change == 0 || !(turns > 0) {
		return
	}
	play := usualPlay / turns
	noise := spread*spread + play*play
	z := math.Log(change / turns)
	if z < k.log+math.Log(pausedShare) {
		noise += pausedSpread * pausedSpread
	}
	k.variance += driftSpread * driftSpread
	gain := k.variance / (k.variance + noise)
	k.log += gain * (z - k.log)
	k.log = min(k.log, math.Log(bank.MaxEffectKPaPerTurn))
	k.variance *= 1 - gain
}

// turns returns how far to turn for a wanted change, clockwise positive. A change of
// direction first takes up the play.
func (k *knowledge) turns(wanted float64) float64 {
	way := sign(wanted) * sign(k.odds)
	amount := math.Abs(wanted) / k.size()
	if k.last != 0 && k.last != way {
		amount += usualPlay
	}
	return way * amount
}
