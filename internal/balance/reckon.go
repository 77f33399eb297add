package balance

import (
	"math"

	"evendraw/internal/learned"
)

// sureSigmas is by how many standard deviations turns are surely that many, likelySigmas that they may well be. Chosen.
const sureSigmas, likelySigmas = 2.0, 1.0

// turned returns the net turns of screw s, as reckoned, clockwise positive; known is false where they are not known
// well enough to be told, or where more may have been made unseen.
func (a *advisor) turned(s int) (turns float64, known bool) {
	turns, spread := a.turnsOf(s, a.halts.moved[s])
	return turns, spread*spread < learned.KnownVariance && !a.halts.turnedUnseen(s) && a.screws[s].Odds != 0 &&
		!a.screws[s].Torn
}

// turnsOf returns by how many turns screw s has moved its cylinders by so many kPa, clockwise positive, and the
// standard deviation of their logarithm; which way is not known while its direction isn't.
func (a *advisor) turnsOf(s int, moved float64) (turns, spread float64) {
	log, variance := a.halts.reckoned[s].Effect(a.bank.Screws[s].EffectKPaPerTurn)
	return moved / math.Exp(log) * sign(a.screws[s].Odds), math.Sqrt(variance)
}

// leastTurned returns how many turns, at least, screw s has been turned that moved its cylinders by so many kPa, in so
// many standard deviations.
func (a *advisor) leastTurned(s int, moved, sigmas float64) float64 {
	turns, spread := a.turnsOf(s, moved)
	return math.Abs(turns) * math.Exp(-sigmas*spread)
}

// shareEffect lets the screws of which nothing was seen be like the one that was.
func (a *advisor) shareEffect(from int) {
	k := &a.screws[from]
	for s := range a.bank.Screws {
		if o := &a.screws[s]; !o.Seen {
			o.BeLike(k)
		}
	}
}

// sharePlay lets the screws of which none was seen have the play of the one in hand.
func (a *advisor) sharePlay() {
	for s := range a.bank.Screws {
		a.screws[s].PlayLike(&a.screws[a.screw])
	}
}

// partVariance is that of the logarithm of a screw's effect up to which what a hand has made is known well enough.
// Chosen.
const partVariance = 0.15

// mayGoOn reports whether a hand at rest has made its amount in part, and is waited for to go on.
func (a *advisor) mayGoOn(w *window) bool {
	k, now := &a.screws[a.screw], w.stateOver(max(w.first, w.next-max(a.rested, recentCycles)), w.next)
	if a.trying || a.untold || k.Variance > partVariance || math.Abs(a.left(&now)) < a.leftOver() {
		return false
	}
	x := now.wanted[a.screw]
	return a.parts.Wait(w.now(), x, math.Abs(a.rest.wanted[a.screw]-x)/k.Size(), a.amount)
}

// Effects returns what is known of the screws, by index: kPa of draw per clockwise turn, 0 where unknown. What was
// learned of a screw while its cylinder misfired doesn't count, nor what amounts say that may have been made in part.
func (b *Balance) Effects() []float64 {
	effects := make([]float64, len(b.cfg.Bank.Screws))
	for s := range effects {
		if k := b.advisor.known(s); !b.advisor.halts.reckoned[s].Doubtful(b.cfg.Bank.Screws[s].EffectKPaPerTurn) {
			effects[s] = k.Effect()
		}
	}
	return effects
}

// EffectFactors returns by which factor either way each of Effects may be off, by 95 %, by index; NaN where the effect
// is unknown. Nobody counts turns: they are what was told, of which a hand makes a share of its own, the same each
// time.
func (b *Balance) EffectFactors() []float64 {
	factors := b.Effects()
	for s, e := range factors {
		if factors[s] = math.NaN(); e != 0 {
			factors[s] = math.Exp(1.96 * math.Hypot(math.Sqrt(b.advisor.known(s).Variance), shareSpread))
		}
	}
	return factors
}

// shareSpread is the standard deviation of the logarithm of the share that a hand makes of what it is told. Simulated:
// of hands that turn at half the usual pace 124 of 127 intervals hold with it, of such as make 0.7 of each amount 144
// of 160, of usual ones 404 of 404; of both 98 effects were off by more than 30 %, and nothing told it.
const shareSpread = 0.25

// Hand is what is known of a user's hand.
type Hand = learned.Hand

// Hand returns what is known of the user's hand.
func (b *Balance) Hand() Hand { return b.advisor.hand }
