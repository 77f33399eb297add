package learned

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

// OnceOdds are the odds, as a logarithm, by one movement that was seen.
var OnceOdds = math.Log((1 - handDoubt) / handDoubt)

// How well the turns that were made are known: standard deviations of their logarithm.
const (
	// ToldSpread is that of an amount that was told. Derived: hands are off by up to 25 % either way.
	ToldSpread = 0.145
	// SlowSpread is that of a hand that turns slowly until told to stop, at SlowPace turns a second. Chosen.
	SlowSpread = 0.4
	SlowPace   = 1.0 / 8
	// usualPlay is how far a screw turns before its plates follow when it changes direction, in turns, and playDoubt
	// the standard deviation of that; playScatter is how far off an amount is seen to end. Chosen.
	usualPlay, playDoubt, playScatter = 0.025, 0.015, 0.01
	// moreThanTaken is how many times what was taken up in vain a screw's play is held to be. Chosen.
	moreThanTaken = 2.0
	// Where less than pausedShare of what an amount of more than onePart should have done is seen, the hand may have
	// stopped early: pausedSpread is added then, and no less than its square counts. Chosen.
	pausedShare  = 0.5
	pausedSpread = 0.6
	// What does more than is expected by mostSigmas standard deviations was not known, nor what does so much less where
	// onePart was to be turned at most, which a hand makes at once. No less than pausedShare is believed of it then, as
	// play, or a hand that has hardly begun, leaves next to nothing of so little. Chosen.
	mostSigmas = 2
)

// KnownVariance is that of the logarithm of an effect that counts as known. Chosen.
const KnownVariance = 0.06

// Screw is what is known of a screw, learned turn by turn: the direction, as the odds that a clockwise turn raises
// the draw, and the size of its effect, whose logarithm is taken as normally distributed.
type Screw struct {
	Odds     float64 // logarithm; 0 is unknown
	LogSize  float64 // logarithm of the effect's size, kPa a turn
	Variance float64 // of LogSize
	Seen     bool    // a turn was seen, or a card tells the effect
	WaySeen  bool    // and not a card alone tells the direction
	Torn     bool    // movements contradict each other: one was not as told, and which is not known
	led      float64 // the way told of the last movement, where that led away
	Play     float64 // turns, and the variance of that
	playVar  float64
	playSeen bool
	TakenUp  float64 // turns made back since it last moved, that moved nothing
	Passed   bool    // a hand that was told to stop has passed level: it is told amounts from then on
	LastWay  float64 // of the last movement, +1 clockwise, -1 anticlockwise; 0 is none
}

// NewScrew begins with the effect from a bike card, kPa per clockwise turn; 0 is unknown.
func NewScrew(effect float64) Screw {
	k := Screw{LogSize: math.Log(usualEffect), Variance: usualSpread * usualSpread, Play: usualPlay,
		playVar: playDoubt * playDoubt}
	if effect != 0 {
		k.LogSize, k.Variance, k.Seen = math.Log(math.Abs(effect)), cardSpread*cardSpread, true
		k.Odds = sign(effect) * math.Log((1-cardDoubt)/cardDoubt)
	}
	return k
}

// ForgetSize goes back to the effect that a card tells, kPa a turn, 0 for none; the direction stays.
func (k *Screw) ForgetSize(effect float64) {
	fresh := NewScrew(effect)
	k.LogSize, k.Variance, k.Seen = fresh.LogSize, fresh.Variance, fresh.Seen
}

// DirectionKnown reports whether the direction counts as known.
func (k *Screw) DirectionKnown() bool { return math.Abs(k.Odds) >= sureOdds }

// Effect is the best guess, kPa per clockwise turn; 0 while the direction is unknown.
func (k *Screw) Effect() float64 {
	if !k.Seen || k.Odds == 0 {
		return 0
	}
	return sign(k.Odds) * k.Size()
}

// Size is the effect's size, kPa a turn.
func (k *Screw) Size() float64 { return math.Exp(k.LogSize) }

// ObserveDirection learns from a movement that was seen: told is +1 where clockwise was told, else -1; raised is set
// where the draw rose, helped where it led towards level. Where that speaks against a direction that one movement alone
// supports none is known: the older may have been nobody's, or a slip, and so may the newer. Nor is there where one
// movement led away that was told the other way than one before that led away, too.
func (k *Screw) ObserveDirection(told float64, raised, helped bool) {
	way := told
	if !raised {
		way = -told
	}
	against := k.Odds*way < 0 && k.DirectionKnown() && k.SeenOnce()
	k.Torn = against || !helped && k.led == -told
	if k.led = told; helped || k.Torn {
		k.led = 0
	}
	if k.Odds = min(max(k.Odds+way*OnceOdds, -2*OnceOdds), 2*OnceOdds); against {
		k.Odds = 0
	}
	k.Seen, k.WaySeen, k.LastWay = true, true, told
	if k.Torn {
		k.LastWay = 0
	}
}

// ForgetWay takes back what a movement told of the direction, was being what was known before it.
func (k *Screw) ForgetWay(was *Screw) {
	k.Odds, k.WaySeen, k.Torn, k.led = was.Odds, was.WaySeen, was.Torn, was.led
}

// SeenOnce reports whether one movement alone supports the direction.
func (k *Screw) SeenOnce() bool { return k.WaySeen && math.Abs(k.Odds) < 1.1*OnceOdds }

// Doubt takes a movement that may not have been as told: a direction that nothing, or one movement alone, supports is
// to be tried anew, first as this movement has it; or none is known, as ObserveDirection has it, where it led away as
// one did that was told the other way.
func (k *Screw) Doubt(told float64, raised, helped bool) {
	way := told
	if !raised {
		way = -told
	}
	if k.Torn = !helped && (k.led == -told || k.SeenOnce() && k.Odds*way < 0); k.Torn {
		k.Odds, k.LastWay, k.led = 0, 0, 0
		return
	}
	if k.led = told; helped {
		k.led = 0
	}
	if k.Odds == 0 || k.SeenOnce() && k.Odds*way < 0 {
		k.Odds, k.WaySeen = way*doubtOdds, false
	}
}

// ObserveEffect learns from turns that changed the draw by so many kPa; spread is how well the turns are known.
func (k *Screw) ObserveEffect(change, turns, spread float64) {
	change, turns = math.Abs(change), math.Abs(turns)
	if change == 0 || !(turns > 0) {
		return
	}
	play := usualPlay / turns
	noise := spread*spread + play*play
	z := math.Log(change / turns)
	if turns > onePart && z < k.LogSize+math.Log(pausedShare) {
		noise += pausedSpread * pausedSpread
		z = max(z, k.LogSize+2*math.Log(pausedShare))
	}
	k.Variance += driftSpread * driftSpread
	if d := z - k.LogSize; (turns <= onePart || d > 0) && math.Abs(d) > mostSigmas*math.Sqrt(k.Variance+noise) {
		d = max(d, min(math.Log(pausedShare), -mostSigmas*math.Sqrt(k.Variance)))
		z, k.Variance = k.LogSize+d, d*d
	}
	gain := k.Variance / (k.Variance + noise)
	k.LogSize += gain * (z - k.LogSize)
	k.LogSize = min(k.LogSize, math.Log(bank.MaxEffectKPaPerTurn))
	k.Variance *= 1 - gain
}

// ObserveBack learns the play from an amount that was turned back: what of it, and of what was turned just before and
// moved nothing, did nothing.
func (k *Screw) ObserveBack(change, turns float64) {
	turns, k.TakenUp = turns+k.TakenUp, 0
	noise := playScatter*playScatter + turns*turns*(ToldSpread*ToldSpread+k.Variance)
	gain := k.playVar / (k.playVar + noise)
	k.playSeen = true
	k.Play = max(k.Play+gain*(turns-math.Abs(change)/k.Size()-k.Play), 0)
	k.playVar *= 1 - gain
}

// ObserveNone learns the play from an amount that was turned back and moved nothing: there is as much at least as has
// been turned since, and some more.
func (k *Screw) ObserveNone(turns float64) {
	k.TakenUp += turns
	k.Play, k.playVar, k.playSeen = max(k.Play, moreThanTaken*k.TakenUp), max(k.playVar, k.TakenUp*k.TakenUp/4), true
}

// PlayLike takes the play of a screw that was not seen to be turned back to be like another's of its bank that was.
func (k *Screw) PlayLike(other *Screw) {
	if other.playSeen && !k.playSeen {
		k.Play, k.playVar = other.Play, max(k.playVar, other.playVar)
	}
}

// Turns returns how far to turn for a wanted change, clockwise positive. A change of direction first takes up the play.
func (k *Screw) Turns(wanted float64) float64 {
	way := sign(wanted) * sign(k.Odds)
	amount := math.Abs(wanted) / k.Size()
	if k.LastWay != 0 && k.LastWay != way {
		amount += max(k.Play-k.TakenUp, 0)
	}
	return way * amount
}

// AmountSpread is the standard deviation of the logarithm of what an amount does.
func (k *Screw) AmountSpread() float64 { return math.Sqrt(k.Variance + ToldSpread*ToldSpread) }

// BeLike takes a screw of which nothing was seen to be like another of its bank.
func (k *Screw) BeLike(other *Screw) {
	k.LogSize, k.Variance = other.LogSize, other.Variance+alikeSpread*alikeSpread
}

func sign(x float64) float64 { return math.Copysign(1, x) }
