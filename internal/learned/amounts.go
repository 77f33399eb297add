package learned

import "math"

// How well the turns are known that are reckoned from what a screw has moved. Nobody counts them: a hand makes what it
// is told more or less, in one go or in steps, and turns at a pace of its own until it is told to stop, of which
// nothing is known that would tell turns. Standard deviations of the logarithm.
const (
	// habitSpread is that of a hand's habit, which more amounts don't make surer. Chosen: eighths are seen well.
	habitSpread = 0.15
	// agreeSpread is by how much amounts are taken to disagree before they are seen, agreeWeight how many amounts that
	// counts for. Chosen: some four that agree make turns known.
	agreeSpread, agreeWeight = 0.3, 1.0
	// keptVariance is that of an effect's logarithm up to which amounts tell it. Chosen: three amounts of a lazy screw,
	// 2 kPa a turn, agree well enough; of a lively one that is turned by a third of what is told none do.
	keptVariance = 0.15
)

// Amounts is what tells how far a screw was turned, by what it moved: a card, and the amounts that were told and
// made. It is apart from Screw, which takes an amount that was made in part for a lazy screw, for good reason:
// that errs towards the next amount being too small.
type Amounts struct {
	n, sum, squares float64 // of the logarithms of what amounts did, kPa a turn; n counts small ones less
}

// Push takes an amount that was told, in turns, and what was moved when the hand came to rest.
func (t *Amounts) Push(change, turns float64) {
	if change = math.Abs(change); change == 0 || !(turns > 0) {
		return
	}
	play := usualPlay / turns
	weight := ToldSpread * ToldSpread / (ToldSpread*ToldSpread + play*play)
	z := math.Log(change / turns)
	t.n += weight
	t.sum += weight * z
	t.squares += weight * z * z
}

// Effect returns the logarithm of a screw's effect, kPa a turn, and its variance, card being its effect by the card, 0
// for none. What a card and the amounts disagree by is not known, whichever is wrong.
func (t *Amounts) Effect(card float64) (log, variance float64) {
	log, variance = math.Log(usualEffect), usualSpread*usualSpread
	if card != 0 {
		log, variance = math.Log(math.Abs(card)), cardSpread*cardSpread
	}
	if t.n == 0 {
		return log, variance
	}
	mean := t.sum / t.n
	apart := max(t.squares-t.sum*mean, 0)
	told := habitSpread*habitSpread + (apart+agreeWeight*agreeSpread*agreeSpread)/(t.n+agreeWeight)
	off := (mean - log) * (mean - log) / (variance + told)
	log += variance / (variance + told) * (mean - log)
	return log, variance * told / (variance + told) * max(off, 1)
}

// Doubtful reports whether amounts were made that don't tell what the screw does, as some may have been made in part.
func (t *Amounts) Doubtful(card float64) bool {
	_, variance := t.Effect(card)
	return t.n > 0 && variance > keptVariance
}
