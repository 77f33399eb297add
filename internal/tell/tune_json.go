package tell

import (
	"evendraw/internal/advice"
	"evendraw/internal/airleak"
	"evendraw/internal/heat"
	"evendraw/internal/mixture"
	"evendraw/internal/probe"
	"evendraw/internal/raised"
	"evendraw/internal/session"
)

// TrimJSON returns a trim's state as one JSON object without a newline: time_s, rpm, step, cylinder, advice, left_s,
// lambda, afr, pilots, points, apart_turns, idling_s, heat. Turns are counted out from lightly seated, unknown is null.
func TrimJSON(t *session.Tune, h *heat.State, now float64) []byte {
	s := t.Trim
	o := &object{b: []byte{'{'}}
	o.figure("time_s", now)
	o.figure("rpm", s.RPM)
	o.token("step", string(s.Step))
	o.cylinderOrNull("cylinder", s.Cylinder)
	o.mixtureAdvice(&s.Advice)
	if s.RicherKnown {
		o.yes("richer", s.Richer)
	} else {
		o.null("richer")
	}
	o.figure("left_s", s.LeftS)
	o.figure("goal_turns", s.Goal)
	o.probe(t.Lambda)
	o.open("pilots", '[')
	for i := range s.Cylinders {
		o.pilot(&s.Pilots[i])
	}
	o.close(']')
	o.open("points", '[')
	for _, p := range s.Points[:s.NPoints] {
		o.item()
		o.figure("moved_turns", p.Moved)
		o.figure("rpm", p.RPM)
		o.figure("uncertainty_rpm", p.UncertaintyRPM)
		o.figure("lambda", p.Lambda)
		o.close('}')
	}
	o.close(']')
	o.figure("apart_turns", s.Apart)
	o.figure("idling_s", s.IdlingS)
	o.figure("stop_effect_rpm_per_turn", t.Idle.EffectRPMPerTurn)
	o.heat(h)
	o.close('}')
	return o.b
}

func (o *object) cylinderOrNull(name string, cylinder int) {
	if cylinder == 0 {
		o.null(name)
		return
	}
	o.count(name, uint64(cylinder))
}

// mixtureAdvice writes an advice: with question it is no order, but asks whether the turn is made that it names.
func (o *object) mixtureAdvice(a *advice.Advice) {
	o.open("advice", '{')
	o.token("kind", string(a.Kind))
	o.word("part", string(a.Part))
	o.cylinderOrNull("cylinder", a.Cylinder)
	o.word("direction", string(a.Direction))
	o.figure("turns", a.Turns)
	o.word("why", string(a.Why))
	o.yes("question", a.Why == advice.WhyTurned)
	o.close('}')
}

func (o *object) probe(p *probe.State) {
	if p == nil {
		o.null("lambda")
		o.null("afr")
		return
	}
	o.figure("lambda", p.Lambda)
	o.figure("afr", p.AFR)
}

func (o *object) pilot(p *mixture.Pilot) {
	o.item()
	o.count("cylinder", uint64(p.Cylinder))
	o.word("found", string(p.Found))
	o.figure("start_turns_out", p.StartOut)
	o.figure("turns_out", p.Out)
	o.figure("moved_turns", p.Moved)
	o.figure("open_turns", p.Open)
	o.figure("best_moved_turns", p.Best)
	o.figure("uncertainty_turns", p.Uncertainty)
	o.figure("gain_rpm", p.GainRPM)
	o.figure("lambda", p.Lambda)
	o.count("settings", uint64(p.Visits))
	o.figure("seconds", p.Seconds)
	o.close('}')
}

// RaisedJSON returns the state of a look at the raised speed as one JSON object without a newline: time_s, rpm,
// target_rpm, held_s, limit_kpa, idle_limit_kpa, advice, done, pattern, cylinder, screw, causes, idle, raised.
func RaisedJSON(s *raised.State, h *heat.State, now float64, screws []string) []byte {
	o := &object{b: []byte{'{'}}
	o.figure("time_s", now)
	o.figure("rpm", s.RPM)
	o.figure("target_rpm", s.TargetRPM)
	o.figure("held_s", s.HeldS)
	o.figure("limit_kpa", float64(s.Limit))
	o.figure("idle_limit_kpa", float64(s.IdleLimit))
	o.mixtureAdvice(&s.Advice)
	o.yes("done", s.Done)
	o.word("pattern", string(s.Pattern))
	o.cylinderOrNull("cylinder", s.Cylinder)
	screw := ""
	if s.Screw >= 0 && s.Screw < len(screws) {
		screw = screws[s.Screw]
	}
	o.word("screw", screw)
	o.open("causes", '[')
	for _, c := range s.Causes {
		o.comma()
		o.b = append(o.b, '"')
		o.b = append(o.b, c...)
		o.b = append(o.b, '"')
	}
	o.close(']')
	for _, l := range []struct {
		name string
		at   *raised.Level
	}{{"idle", &s.Idle}, {"raised", &s.Raised}} {
		if !s.Done {
			o.null(l.name)
			continue
		}
		o.levelAt(l.name, l.at, s.Cylinders)
	}
	o.heat(h)
	o.close('}')
	return o.b
}

func (o *object) levelAt(name string, l *raised.Level, n int) {
	o.open(name, '{')
	o.figure("rpm", l.RPM)
	o.count("cycles", uint64(l.Cycles))
	o.figure("spread_kpa", float64(l.Spread))
	o.open("cylinders", '[')
	for i := range n {
		o.item()
		o.count("cylinder", uint64(i+1))
		o.figure("draw_kpa", float64(l.Draw[i]))
		o.figure("off_mean_kpa", float64(l.Off[i]))
		o.figure("uncertainty_kpa", float64(l.Uncertainty[i]))
		o.close('}')
	}
	o.close(']')
	o.close('}')
}

// AirJSON returns what a watch for air leaks says as one JSON object without a newline: time_s, phase, cylinder,
// why, share, seconds, last_cylinder, last_seconds, ago_s, heat.
func AirJSON(s *airleak.State, h *heat.State, now float64) []byte {
	o := &object{b: []byte{'{'}}
	o.figure("time_s", now)
	o.token("phase", string(s.Phase))
	o.cylinderOrNull("cylinder", s.Cylinder)
	o.word("why", string(s.Why))
	o.figure("share", s.Share)
	o.figure("seconds", s.Seconds)
	o.cylinderOrNull("last_cylinder", s.Last)
	if s.Last == 0 {
		o.null("last_seconds")
		o.null("ago_s")
	} else {
		o.figure("last_seconds", s.LastSeconds)
		o.figure("ago_s", s.Ago)
	}
	o.heat(h)
	o.close('}')
	return o.b
}

// heat writes the budget of idling: idling_s, limit_s, state (ok, near, engine-off, cooling) and, while
// it cools, how long it takes yet with what is known of a fan.
func (o *object) heat(h *heat.State) {
	o.open("heat", '{')
	o.figure("idling_s", h.Seconds)
	o.figure("limit_s", h.LimitS())
	switch {
	case h.Hot && h.Turning:
		o.token("state", "engine-off")
	case h.Hot:
		o.token("state", "cooling")
	case h.Near():
		o.token("state", "near")
	default:
		o.token("state", "ok")
	}
	o.yes("fan", h.Fan)
	if h.Hot {
		o.figure("cooling_s", h.CoolS(h.Fan))
	} else {
		o.null("cooling_s")
	}
	o.close('}')
}
