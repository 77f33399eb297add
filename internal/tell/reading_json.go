package tell

import (
	"encoding/json"
	"math"
	"strconv"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/session"
)

// object writes a JSON object by hand: a reading a cycle is too many for reflection, which takes ten times as long.
type object struct{ b []byte }

// comma parts what comes from what stands there, unless that opens an object or a list.
func (o *object) comma() {
	if last := o.b[len(o.b)-1]; last != '{' && last != '[' {
		o.b = append(o.b, ',')
	}
}

// item opens an object in a list.
func (o *object) item() {
	o.comma()
	o.b = append(o.b, '{')
}

func (o *object) key(name string) *object {
	o.comma()
	o.b = append(o.b, '"')
	o.b = append(o.b, name...)
	o.b = append(o.b, '"', ':')
	return o
}

// figure writes a number in full, or null where it is not known.
func (o *object) figure(name string, v float64) {
	o.key(name).number(v)
}

func (o *object) number(v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		o.b = append(o.b, "null"...)
		return
	}
	o.b = strconv.AppendFloat(o.b, v, 'g', -1, 64)
}

func (o *object) count(name string, v uint64) { o.b = strconv.AppendUint(o.key(name).b, v, 10) }

func (o *object) yes(name string, v bool) { o.b = strconv.AppendBool(o.key(name).b, v) }

// word writes a text, or null where there is none.
func (o *object) word(name, v string) {
	if v == "" {
		o.null(name)
		return
	}
	o.text(name, v)
}

func (o *object) null(name string) { o.b = append(o.key(name).b, "null"...) }

func (o *object) text(name, v string) {
	text, _ := json.Marshal(v) // which can't fail of a text
	o.b = append(o.key(name).b, text...)
}

// token writes a word of ours, which needs no escapes.
func (o *object) token(name, v string) {
	o.key(name)
	o.b = append(o.b, '"')
	o.b = append(o.b, v...)
	o.b = append(o.b, '"')
}

func (o *object) open(name string, bracket byte) { o.b = append(o.key(name).b, bracket) }
func (o *object) close(bracket byte)             { o.b = append(o.b, bracket) }

// figures writes a list of numbers.
func figures[T ~int | ~float64](o *object, name string, list []T) {
	o.open(name, '[')
	for _, v := range list {
		o.comma()
		o.number(float64(v))
	}
	o.close(']')
}

// ReadingJSON returns a reading as one line of JSON without its line end. withCycle adds the last cycle's own figures.
func ReadingJSON(r *balance.Reading, link session.Link, cfg *session.Config, withCycle bool) []byte {
	return AppendReading(make([]byte, 0, 2048), r, link, cfg, withCycle)
}

// AppendReading is ReadingJSON appended to dst.
func AppendReading(dst []byte, r *balance.Reading, link session.Link, cfg *session.Config, withCycle bool) []byte {
	o := &object{append(dst, '{')}
	o.figure("time_s", r.Time)
	o.figure("rpm", r.RPM)
	o.yes("steady", r.Steady)
	o.count("reference", uint64(r.Reference))
	o.figure("spread_kpa", float64(r.Spread))
	figures(o, "spread_without", r.LeftOut())
	o.open("cylinders", '[')
	for i := range r.Cylinders {
		o.cylinder(&r.Cylinders[i], r.Span.NoOpening[i])
	}
	o.close(']')
	o.advice(&r.Advice)
	o.doubts(r)
	o.link(&link)
	o.yes("zeroed", cfg.Zeroed)
	o.figure("ambient_kpa", float64(cfg.Ambient))
	o.token("ambient_from", string(cfg.AmbientFrom))
	o.heat(&r.Heat)
	if r.HosesAside {
		o.yes("hoses_aside", true)
	}
	if withCycle && !r.Span.Cycle {
		o.null("cycle")
	}
	if withCycle && r.Span.Cycle {
		o.open("cycle", '{')
		o.figure("start_s", r.Span.Start)
		o.figure("period_s", r.Span.Period)
		figures(o, "mean_absolute_kpa", r.Span.Mean[:r.Span.N])
		o.close('}')
	}
	o.close('}')
	return o.b
}

// doubts lists what speaks against a bank that reads level; nothing where nothing does.
func (o *object) doubts(r *balance.Reading) {
	began := false
	doubt := func(why string, cylinder int) {
		if !began {
			o.open("doubts", '[')
			began = true
		}
		o.item()
		if cylinder > 0 {
			o.count("cylinder", uint64(cylinder))
		}
		o.token("why", why)
		o.close('}')
	}
	for i := range r.Cylinders {
		if c := &r.Cylinders[i]; c.Doubt != "" {
			doubt(string(c.Doubt), c.Cylinder)
		}
	}
	if r.Halts.Far != 0 {
		doubt(string(advice.WhyFar), 0)
	}
	if r.Halts.IdleFell {
		doubt(string(advice.WhyIdleFell), 0)
	}
	if r.Halts.LowDraw {
		doubt(lowDraw, 0)
	}
	if r.Halts.Play > 0 {
		doubt(play, 0)
	}
	if began {
		o.close(']')
	}
}

// lowDraw is the doubt of an engine that draws very little for an idle.
const lowDraw = "low-draw"

// play is the doubt of a bank that each blip moves.
const play = "play"

func (o *object) cylinder(c *balance.Cylinder, noOpening cycle.NoOpening) {
	o.item()
	o.count("cylinder", uint64(c.Cylinder))
	o.count("channel", uint64(c.Channel))
	o.figure("draw_kpa", float64(c.Draw))
	o.figure("difference_kpa", float64(c.Difference))
	o.figure("uncertainty_kpa", float64(c.Uncertainty))
	o.figure("opening_ratio", c.Opening)
	o.figure("opening_uncertainty", c.OpeningUncertainty)
	if math.IsNaN(c.Opening) && noOpening != "" {
		o.token("no_opening_why", string(noOpening))
	}
	o.figure("ripple_kpa", float64(c.Ripple))
	o.token("state", string(c.State))
	o.close('}')
}

func (o *object) advice(a *advice.Advice) {
	kind, why := string(a.Kind), string(a.Why)
	if a.Part == advice.ThrottleStop {
		kind, why = stopWords(a)
	}
	o.open("advice", '{')
	o.token("kind", kind)
	o.word("screw", a.ScrewName)
	o.word("direction", string(a.Direction))
	o.figure("turns", a.Turns)
	if a.Cylinder > 0 {
		o.count("cylinder", uint64(a.Cylinder))
	}
	o.token("why", why)
	o.close('}')
}

// stopWords returns the kind and the reason that a reading's line gives an advice about the throttle
// stop. They are coarser than the constants, which TrimJSON shows.
func stopWords(a *advice.Advice) (kind, why string) {
	switch {
	case a.ToTurn(advice.ThrottleStop):
		return "set-idle", "idle-speed"
	case a.Kind == advice.Stop:
		return string(a.Kind), string(advice.WhyReached)
	}
	return string(a.Kind), string(advice.WhyFewCycles)
}

// link writes what was counted on the way; overflows are what the board itself missed.
func (o *object) link(l *session.Link) {
	o.open("link", '{')
	o.count("frames", l.Frames)
	o.count("lost", l.Lost)
	o.count("damaged", l.Damaged)
	o.count("overflows", l.Overflows)
	o.count("duplicates", l.Duplicates)
	o.count("restarts", l.Restarts)
	o.close('}')
}
