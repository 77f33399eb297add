package garage

import (
	"cmp"
	"math"

	"evendraw/internal/card"
)

// Ways of levelling.
const (
	LevelByDraw    = "draw"
	LevelByOpening = "opening"
)

// Kinds of pilot screws.
const (
	FuelScrews = "fuel" // downstream of the butterfly: out is richer
	AirScrews  = "air"  // upstream: out is leaner
)

// Tune is what a bike card says of idling, pilot screws and the raised speed.
type Tune struct {
	// IdlingLimitMin is how many minutes the engine may idle before it is to cool down; default DefaultIdlingLimitMin.
	IdlingLimitMin float64
	// LevelBy is what is made alike: LevelByDraw, the default, or LevelByOpening.
	LevelBy string
	// StopEffectRPMPerTurn is what the throttle stop does per clockwise turn;
	// 0 while unknown. It is learned.
	StopEffectRPMPerTurn float64
	// PilotScrews is FuelScrews, AirScrews or "" while unknown.
	PilotScrews string
	// HandLateS is for how long the user's hand turns on after the word to stop, s, and HandRunOnTurns how
	// far then; 0 while unknown. They are learned.
	HandLateS, HandRunOnTurns float64
	// RaisedRPM is the speed at which the bank is looked at again; default DefaultRaisedRPM.
	RaisedRPM float64
	// LambdaTarget is the owner's choice for the idle, 0 without one.
	LambdaTarget float64
	// StoichAFR is the fuel's stoichiometric air/fuel ratio; default DefaultStoichAFR.
	StoichAFR float64
}

// Defaults of a card's Tune.
const (
	// DefaultIdlingLimitMin is for an engine without a fan. Invented: the bike's manual may give a figure.
	DefaultIdlingLimitMin = 5
	// DefaultRaisedRPM is common practice, no source.
	DefaultRaisedRPM = 3000
	// DefaultStoichAFR is that of petrol without ethanol, as most sources give
	// it; others give 14.5, and for petrol with 10 % of ethanol 13.9 to 14.1.
	DefaultStoichAFR = 14.7
)

// Bounds of a Tune. Chosen, as those of the rest of the card.
const (
	MinIdlingLimit, MaxIdlingLimit = 0.5, 120
	minRaised, maxRaised           = 1000, 8000
	minLambda, maxLambda           = 0.5, 1.5
	minStoich, maxStoich           = 5, 20
	maxStopEffect                  = 20_000
	maxHandLate, maxHandRunOn      = 5, 1
)

func defaultTune() Tune {
	return Tune{IdlingLimitMin: DefaultIdlingLimitMin, LevelBy: LevelByDraw, RaisedRPM: DefaultRaisedRPM,
		StoichAFR: DefaultStoichAFR}
}

func (u Tune) withDefaults() Tune {
	d := defaultTune()
	u.IdlingLimitMin, u.RaisedRPM = cmp.Or(u.IdlingLimitMin, d.IdlingLimitMin), cmp.Or(u.RaisedRPM, d.RaisedRPM)
	u.StoichAFR, u.LevelBy = cmp.Or(u.StoichAFR, d.StoichAFR), cmp.Or(u.LevelBy, d.LevelBy)
	return u
}

// Keys of the hand.
const (
	handLateKey  = "hand_late_s"
	handRunOnKey = "hand_run_on_turns"
)

// SaveHand writes to a bike's card what was learned of the user's hand, rounded to 0.01.
func (g *Garage) SaveHand(bike string, lateS, runOnTurns float64) error {
	round := func(v, most float64) float64 { return math.Round(100*min(max(v, 0), most)) / 100 }
	late, runOn := round(lateS, maxHandLate), round(runOnTurns, maxHandRunOn)
	return g.changeBike(bike, func(_ *card.Card, b *Bike) ([]card.Op, error) {
		if late == b.HandLateS && runOn == b.HandRunOnTurns {
			return nil, nil
		}
		return []card.Op{card.Set("", handLateKey, card.Number(late)),
			card.SetAfter(handLateKey, handRunOnKey, card.Number(runOn))}, nil
	})
}

// SaveIdle writes the idle speed to a bike's card, which has none.
func (g *Garage) SaveIdle(bike string, low, high float64) error {
	return g.changeBike(bike, func(*card.Card, *Bike) ([]card.Op, error) {
		return []card.Op{card.Set("", "idle_rpm_low", card.Number(low)),
			card.Set("", "idle_rpm_high", card.Number(high))}, nil
	})
}

// SavePilotScrews writes the kind of the pilot screws to a bike's card, which has none.
func (g *Garage) SavePilotScrews(bike, kind string) error {
	return g.changeBike(bike, func(*card.Card, *Bike) ([]card.Op, error) {
		return []card.Op{card.Set("", "pilot_screws", card.Text(kind))}, nil
	})
}

// readTune reads what a card says, over what is there.
func readTune(t card.Table, u *Tune) {
	u.IdlingLimitMin = t.Number("idling_limit_min", MinIdlingLimit, MaxIdlingLimit, u.IdlingLimitMin)
	u.StopEffectRPMPerTurn = t.Number("stop_effect_rpm_per_turn", -maxStopEffect, maxStopEffect, 0)
	u.HandLateS = t.Number(handLateKey, 0, maxHandLate, 0)
	u.HandRunOnTurns = t.Number(handRunOnKey, 0, maxHandRunOn, 0)
	u.RaisedRPM = t.Number("raised_rpm", minRaised, maxRaised, u.RaisedRPM)
	u.LambdaTarget = t.Number("lambda_target", minLambda, maxLambda, 0)
	u.StoichAFR = t.Number("stoichiometric_afr", minStoich, maxStoich, u.StoichAFR)
	u.LevelBy = t.OneOf("level_by", u.LevelBy, LevelByDraw, LevelByOpening)
	u.PilotScrews = t.OneOf("pilot_screws", "", FuelScrews, AirScrews)
}

// LambdaCard is the controller of a wide-band lambda probe: linear between two
// points. There is no standard for them; its maker gives them.
type LambdaCard struct {
	Channel               int
	LowV, HighV           float64 // volts at the converter
	LowLambda, HighLambda float64 // what they mean
}

const (
	maxLambdaV    = 10
	maxLambdaCard = 10 // lambda; controllers say 1.5 to 2 at most
)

// readLambda reads the [lambda] table of a board card.
func readLambda(t card.Table) *LambdaCard {
	l, ok := t.Inner("lambda")
	if !ok {
		return nil
	}
	for _, key := range []string{"channel", "low_v", "high_v", "low_lambda", "high_lambda"} {
		if !l.Has(key) {
			l.Fail(key, "is missing")
		}
	}
	c := &LambdaCard{l.Whole("channel", 0), l.Number("low_v", 0, maxLambdaV, 0), l.Number("high_v", 0, maxLambdaV, 0),
		l.Number("low_lambda", 0, maxLambdaCard, 0), l.Number("high_lambda", 0, maxLambdaCard, 0)}
	switch {
	case c.Channel < 0 || c.Channel >= maxChannels:
		l.Fail("channel", "there is no channel %d", c.Channel)
	case c.LowV >= c.HighV:
		l.Fail("low_v", "%g is not below high_v, %g", c.LowV, c.HighV)
	case c.LowLambda == c.HighLambda:
		l.Fail("low_lambda", "is the same as high_lambda")
	}
	return c
}
