package garage

import "fmt"

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
	// IdlingLimitMin is how many minutes the engine may idle before it is to
	// cool down; default DefaultIdlingLimitMin.
	IdlingLimitMin float64
	// LevelBy is what is made alike: LevelByDraw, the default, or
	// LevelByOpening.
	LevelBy string
	// StopEffectRPMPerTurn is what the throttle stop does per clockwise turn;
	// 0 while unknown. It is learned.
	StopEffectRPMPerTurn float64
	// PilotScrews is FuelScrews, AirScrews or "" while unknown.
	PilotScrews string
	// RaisedRPM is the speed at which the bank is looked at again; default
	// DefaultRaisedRPM.
	RaisedRPM float64
	// LambdaTarget is the owner's choice for the idle, 0 without one.
	LambdaTarget float64
	// StoichAFR is the fuel's stoichiometric air/fuel ratio; default
	// DefaultStoichAFR.
	StoichAFR float64
}

// Defaults of a card's Tune.
const (
	// DefaultIdlingLimitMin is for an engine without a fan. Invented: the
	// bike's manual may give a figure.
	DefaultIdlingLimitMin = 5
	// DefaultRaisedRPM is common practice, no source.
	DefaultRaisedRPM = 3000
	// DefaultStoichAFR is that of petrol without ethanol, as most sources give
	// it; others give 14.5, and for petrol with 10 % of ethanol 13.9 to 14.1.
	DefaultStoichAFR = 14.7
)

// Bounds of a Tune. Chosen, as those of the rest of the card.
const (
	minIdlingLimit, maxIdlingLimit = 0.5, 120
	minRaised, maxRaised           = 1000, 8000
	minLambda, maxLambda           = 0.5, 1.5
	minStoich, maxStoich           = 5, 20
	maxStopEffect                  = 20_000
)

func defaultTune() Tune {
	return Tune{IdlingLimitMin: DefaultIdlingLimitMin, LevelBy: LevelByDraw, RaisedRPM: DefaultRaisedRPM, StoichAFR: DefaultStoichAFR}
}

func (u Tune) withDefaults() Tune {
	d := defaultTune()
	for _, f := range []struct{ v, usual *float64 }{{&u.IdlingLimitMin, &d.IdlingLimitMin}, {&u.RaisedRPM, &d.RaisedRPM}, {&u.StoichAFR, &d.StoichAFR}} {
		if *f.v == 0 {
			*f.v = *f.usual
		}
	}
	if u.LevelBy == "" {
		u.LevelBy = d.LevelBy
	}
	return u
}

// readTune reads what a card says, over what is there.
func readTune(t table, u *Tune) {
	u.IdlingLimitMin = t.number("idling_limit_min", minIdlingLimit, maxIdlingLimit, u.IdlingLimitMin)
	u.StopEffectRPMPerTurn = t.number("stop_effect_rpm_per_turn", -maxStopEffect, maxStopEffect, 0)
	u.RaisedRPM = t.number("raised_rpm", minRaised, maxRaised, u.RaisedRPM)
	u.LambdaTarget = t.number("lambda_target", minLambda, maxLambda, 0)
	u.StoichAFR = t.number("stoichiometric_afr", minStoich, maxStoich, u.StoichAFR)
	if t.has("level_by") {
		u.LevelBy = t.oneOf("level_by", LevelByDraw, LevelByOpening)
	}
	if t.has("pilot_screws") {
		u.PilotScrews = t.oneOf("pilot_screws", FuelScrews, AirScrews)
	}
}

// oneOf reads a word that must be one of two.
func (t table) oneOf(key, one, other string) string {
	word := t.text(key, maxTextBytes)
	if word != one && word != other {
		t.fail(key, "%q is neither %q nor %q", word, one, other)
	}
	return word
}

// tune writes what a card says of idling, pilot screws and the raised speed.
func (c *card) tune(u *Tune) {
	c.remark("How many minutes the engine may idle before it is to cool down. The 5 of a new\n" +
		"card is for an engine without a fan, and invented: the bike's manual may say more.")
	c.set("idling_limit_min", tomlNumber(u.IdlingLimitMin))
	c.remark(`What is to be made alike: "draw", the vacuum, or "opening", the butterflies.`)
	c.set("level_by", tomlText(u.LevelBy))
	c.remark("What a clockwise turn of the throttle stop does to the idle speed. The program\n" +
		"learns it and writes it here.")
	c.optional("stop_effect_rpm_per_turn", u.StopEffectRPMPerTurn != 0, u.StopEffectRPMPerTurn, 300)
	c.remark(`Pilot screws: "fuel", which give a richer mixture outwards, or "air", leaner.`)
	if u.PilotScrews == "" {
		c.WriteString("# ")
	}
	c.set("pilot_screws", tomlText(u.pilotScrewsOr(FuelScrews)))
	c.remark("The speed at which the bank is looked at again, in revolutions a minute.")
	c.set("raised_rpm", tomlNumber(u.RaisedRPM))
	c.remark("With a lambda probe: the lambda that you want at idle. There is no default: the\n" +
		"maker's figure and the law come first. And how many kg of air 1 kg of your fuel\n" +
		"needs: sources give 14.5 to 14.7 for petrol, 13.9 to 14.1 with 10 % of ethanol.")
	c.optional("lambda_target", u.LambdaTarget != 0, u.LambdaTarget, 0.95)
	c.set("stoichiometric_afr", tomlNumber(u.StoichAFR))
}

func (u *Tune) pilotScrewsOr(usual string) string {
	if u.PilotScrews == "" {
		return usual
	}
	return u.PilotScrews
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
func readLambda(t table) *LambdaCard {
	v, ok := t.values["lambda"].(map[string]any)
	if _, known := t.doc.places["lambda"]; !ok || !known {
		t.fail("lambda", "is to be written as a [lambda] table")
		return nil
	}
	l := table{t.doc, "lambda", " of lambda", v}
	for _, key := range []string{"channel", "low_v", "high_v", "low_lambda", "high_lambda"} {
		if !l.has(key) {
			l.fail(key, "is missing")
		}
	}
	c := &LambdaCard{Channel: l.whole("channel"), LowV: l.number("low_v", 0, maxLambdaV, 0), HighV: l.number("high_v", 0, maxLambdaV, 0),
		LowLambda: l.number("low_lambda", 0, maxLambdaCard, 0), HighLambda: l.number("high_lambda", 0, maxLambdaCard, 0)}
	switch {
	case c.Channel < 0 || c.Channel >= maxChannels:
		l.fail("channel", "there is no channel %d", c.Channel)
	case c.LowV >= c.HighV:
		l.fail("low_v", "%g is not below high_v, %g", c.LowV, c.HighV)
	case c.LowLambda == c.HighLambda:
		l.fail("low_lambda", "is the same as high_lambda")
	}
	return c
}

// lambda writes the controller of a probe, or how it would be written.
func (c *card) lambda(l *LambdaCard) {
	c.remark("The controller of a wide-band lambda probe: its channel, and two points of its\n" +
		"straight line from volts to lambda, as its maker gives them. (Where the maker\n" +
		"gives air/fuel ratios, divide them by the stoichiometric ratio that goes with them.)")
	mark := ""
	if l == nil {
		mark = "# "
		l = &LambdaCard{Channel: 4, HighV: 5, LowLambda: 0.68, HighLambda: 1.36}
	}
	fmt.Fprintf(c, "%s[lambda]\n%schannel = %d\n%slow_v = %s\n%shigh_v = %s\n%slow_lambda = %s\n%shigh_lambda = %s\n", mark, mark, l.Channel,
		mark, tomlNumber(l.LowV), mark, tomlNumber(l.HighV), mark, tomlNumber(l.LowLambda), mark, tomlNumber(l.HighLambda))
}
