package learned

import "math"

// Constants of the amounts that are told.
const (
	// LeastTurns is the smallest amount that is asked for, 6 degrees; leastEffect is what an
	// amount must do at least, kPa. Chosen: what a screwdriver's handle shows.
	LeastTurns  = 1.0 / 64
	leastEffect = 0.12
	// Amounts are told in steps: of fineSteps a turn up to FineTurns, of middleSteps up to
	// middleTurns, above of coarseSteps.
	FineTurns, middleTurns              = 1.0 / 16, 0.25
	fineSteps, middleSteps, coarseSteps = 64.0, 16.0, 8.0
	// MostTurns is the largest amount asked for at once. Common practice, no source: a quarter to half a turn, and
	// another look, as effects are not linear.
	MostTurns = 0.5
	// amountSigmas is by how many standard deviations an amount is told short of what is wanted.
	// Chosen: one in ten then goes too far.
	amountSigmas = 1.0
)

// A hand that was told the other way may have turned back a slip where it has moved the screw by UndoneMost times as
// much as before at most, and has done so where that is less than UndoneShare of what it was told. Chosen: hands are
// off by up to 30 %.
const UndoneMost, UndoneShare = 1.4, 0.6

// Countable rounds an amount of turns of a screw with such an effect, kPa a turn, to what a hand can count.
func Countable(turns, size float64) float64 {
	steps := coarseSteps
	switch {
	case turns < FineTurns:
		steps = fineSteps
	case turns < middleTurns:
		steps = middleSteps
	}
	least := LeastTurns
	for least*size < leastEffect && least < FineTurns {
		least *= 2
	}
	return min(max(math.Floor(turns*steps+0.25)/steps, least), MostTurns)
}

// Surely returns an amount for a wanted change, kPa, told short by what is in doubt of it, but for what is within near
// of level.
func (k *Screw) Surely(amount, wanted, near float64) float64 {
	if math.Abs(wanted) <= near {
		return amount
	}
	sure := math.Exp(-amountSigmas * k.AmountSpread())
	return amount * (sure + (1-sure)*near/math.Abs(wanted))
}

// Onwards is how far a hand is told to go on for a wanted change, kPa, the way that it has turned last.
func (k *Screw) Onwards(wanted, near float64) float64 {
	return Countable(k.Surely(math.Abs(wanted)/k.Size(), wanted, near), k.Size())
}
