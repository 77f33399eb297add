package job

import (
	"fmt"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/keep"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/session"
	"evendraw/internal/tell"
	"evendraw/internal/view"
)

// firstView is the view before the first event, at the step where the job goes on.
func (l *live) firstView() view.View {
	v := l.newView()
	if l.src.own() != keep.None {
		v = v.StartAt(l.firstStep(&v))
	}
	text, pilots := l.keeper.Resume(v.Now)
	if pilots != nil {
		l.sess.Chain(func(c *session.Chain) { c.SetPilots(pilots) })
	}
	v.Cold = l.src.own() == keep.Bike && v.Flow.At > view.StepWarm
	if text != "" {
		v = view.Update(v, view.Told{Text: text, Role: view.Plain})
	}
	if l.cantSave != nil {
		v = view.Update(v, l.noRoom(l.cantSave))
	}
	return v
}

// firstStep is the step that is named, else the one that was left, else the first
// that is not settled by the command line.
func (l *live) firstStep(v *view.View) view.Step {
	if s, ok := view.ParseStep(l.opt.At); ok {
		return s
	}
	switch {
	case l.opt.Auto && l.practice().Engine.Truth().Warm < 1:
		return view.StepWarm
	case l.opt.Auto:
		return view.StepLevel
	case l.practice() != nil:
		return view.StepChecks
	}
	if s, _, ok := l.placeKept(v.Now); ok {
		return s
	}
	if l.set.Named {
		return view.StepChecks
	}
	return view.StepBike
}

// placeKept is the step at which a start at that time goes on, until when; ok is false where there is none.
func (l *live) placeKept(now time.Time) (s view.Step, until time.Time, ok bool) {
	p, ok := l.set.Garage.LoadPlace()
	if !ok || p.Bike != l.set.BikeName() || now.Sub(p.Time).Abs() >= keep.GoOnFor {
		return s, until, false
	}
	s, ok = view.ParseStep(p.Step)
	return s, p.Time.Add(keep.GoOnFor), ok
}

// tellPlace tells who has left a real job in the middle how it goes on.
func (l *live) tellPlace(now time.Time) {
	if s, until, ok := l.placeKept(now); ok && l.src.own() == keep.Bike && s > view.StepChecks && s < view.StepKeep {
		l.std.Warn(fmt.Sprintf("left at %q; started again by %s, evendraw goes on there", s.Name(),
			plain.Minute(until)))
	}
}

// bikeNews tells the display of the bike in use.
func (l *live) bikeNews() view.Bike {
	e := view.Bike{Name: l.set.BikeName(), Unit: l.set.Unit()}
	e.Aim, e.Limit = l.set.Limits()
	e.ByMean = l.set.Bike != nil && l.set.Bike.ByMean
	if l.src.own() != keep.Bike {
		return e
	}
	all, _ := l.set.Garage.ListBikes()
	for _, b := range all {
		if practice.HasCard(b.Name) {
			continue // no bike to level
		}
		e.All = append(e.All, b.Name)
	}
	card := garage.DefaultBike("", defaultCylinders)
	if l.set.Bike != nil {
		card = *l.set.Bike
		e.Ticks, _ = l.set.Garage.LoadChecks(card.Name) // what can't be read is looked at again
	}
	e.Checks = garage.PreStartChecks(&card.Bank)
	return e
}

// defaultCylinders is the bank that is taken for granted without a card.
const defaultCylinders = 4

// changeBike chooses another bike, or makes a card for one, while the run goes on.
func (l *live) changeBike(w view.Want) view.Event {
	var bike *garage.Bike
	failed := func(err error) view.Event { return view.Told{Text: err.Error(), Role: view.Bad} }
	if w.Kind == view.MakeBike {
		if err := l.set.Garage.NewBike(w.Card); err != nil {
			return failed(err)
		}
		w.Text = w.Card.Name
	}
	if w.Text != "" {
		card, err := l.set.Garage.LoadBike(w.Text)
		if err != nil {
			return failed(err)
		}
		bike = &card
		l.set.Garage.SetLastBike(card.Name) // only a convenience
	}
	l.saveHeat()
	l.writing.Wait() // records under way belong to the old one
	if _, err := l.keeper.End(l.sess.Snapshot()); err != nil {
		return failed(err)
	}
	if err := l.sess.Renew(func() { l.set = l.set.WithBike(bike) }); err != nil {
		return failed(err)
	}
	l.keeper.ChangeBike(l.set)
	l.takeUpHeat()
	return l.bikeNews()
}

// setIdle takes the idle speed that the user has told, and keeps it on the card of a real bike.
func (l *live) setIdle(low, high float64) view.Event {
	l.sess.Chain(func(c *session.Chain) { c.SetIdleRange(low, high) })
	if l.src.own() != keep.Bike || l.set.Bike == nil {
		return tell.IdleTaken(low, high, false)
	}
	l.set.Bike.IdleRPMLow, l.set.Bike.IdleRPMHigh = low, high
	if err := l.set.Garage.SaveIdle(l.set.Bike.Name, low, high); err != nil {
		return view.Told{Text: err.Error(), Role: view.Bad}
	}
	return tell.IdleTaken(low, high, true)
}

// inBackground runs what writes to the disk beside the display, and tells what comes of it.
func (l *live) inBackground(work func() view.Event) {
	l.writing.Go(func() {
		defer func() {
			if p := recover(); p != nil {
				l.tell(view.Told{Text: "Internal error while saving.", Role: view.Bad})
			}
		}()
		if e := work(); e != nil {
			l.tell(e)
		}
	})
}

// keepPlace remembers the step of a real job.
func (l *live) keepPlace(step string) view.Event {
	if l.src.own() != keep.Bike {
		return nil
	}
	l.set.Garage.SavePlace(l.set.BikeName(), step) // only a convenience
	return nil
}

// keepTicks keeps what was answered of the pre-start checks.
func (l *live) keepTicks(ticks []garage.Tick) view.Event {
	if l.src.own() != keep.Bike || l.set.Bike == nil {
		return nil
	}
	if _, err := l.set.SaveChecks(ticks); err != nil {
		return view.Told{Text: "The checks were not kept: " + err.Error(), Role: view.Warn}
	}
	return nil
}
