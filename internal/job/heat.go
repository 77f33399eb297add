package job

import (
	"time"

	"evendraw/internal/heat"
	"evendraw/internal/keep"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// toldShare of the limit is from where what was left of the budget is told of. Chosen.
const toldShare = 0.2

// heatOf names whose budget of idling a run goes on with, "" without a card. A practice engine is a new one each
// time, and a capture's heat is gone.
func (l *live) heatOf() (name string, ok bool) {
	if l.src.own() == keep.None || l.practice() != nil {
		return "", false
	}
	return l.set.BikeName(), true
}

// takeUpHeat has the session go on with the budget of idling that was left, and says so; "" where
// there is nothing to say.
func (l *live) takeUpHeat() string {
	name, ok := l.heatOf()
	if !ok {
		return ""
	}
	limit := 0.0
	if l.set.Bike != nil {
		limit = 60 * l.set.Bike.IdlingLimitMin
	}
	h, ok := l.set.Garage.LoadHeat(name, limit)
	l.sess.Chain(func(c *session.Chain) { c.SetHeat(h) })
	if !ok || h.Seconds < toldShare*h.LimitS() {
		return ""
	}
	return tell.HeatLeft(&h)
}

// saveHeat writes the budget of idling, if it has moved.
func (l *live) saveHeat() {
	name, ok := l.heatOf()
	if !ok || l.sess == nil {
		return
	}
	h := l.sess.Snapshot().HeatNow(time.Now())
	l.mu.Lock()
	defer l.mu.Unlock()
	if h == l.keptHeat {
		return
	}
	if l.set.Garage.SaveHeat(name, h) == nil { // a full disk is told of when a record is saved
		l.keptHeat = h
	}
}

// toggleFan takes the user's word for a fan that blows on the engine, or no longer does.
func (l *live) toggleFan() {
	var h heat.State
	l.sess.Chain(func(c *session.Chain) {
		c.SetFan(!c.Heat().Fan)
		h = c.Heat()
	})
	if p := l.practice(); p != nil {
		p.Engine.Fan(h.Fan)
	}
	l.tell(view.Told{Text: tell.Fan(h.Fan)})
}
