package job

import (
	"time"

	"evendraw/internal/view"
)

// What is done every so often while a run goes on.
const (
	// keepEvery is how often what a crash is to leave behind is written. Chosen: a turn takes longer.
	keepEvery = 5 * time.Second
	// keepHeatEvery is how often the budget of idling is written. Chosen: what a crash loses of it is less than a
	// reaction.
	keepHeatEvery = 2 * time.Second
	// roomEvery is how often the room is looked at. Chosen: a disk is rarely filled in less by something else.
	roomEvery = 30 * time.Second
)

// upkeep is when each of these is due next.
type upkeep struct{ keep, heat, room time.Time }

// due reports whether something is due, and sets when it is next.
func due(next *time.Time, now time.Time, every time.Duration) bool {
	if now.Before(*next) {
		return false
	}
	*next = now.Add(every)
	return true
}

// keepUp writes, now and then, what a crash is to leave behind, and the budget of idling; and looks whether records can
// be kept.
func (l *live) keepUp(now time.Time) {
	if l.sess.Snapshot().Reading != nil && due(&l.next.keep, now, keepEvery) {
		l.inBackground(func() view.Event {
			if err := l.keeper.update(l.sess.Snapshot()); err != nil {
				return l.noRoom(err)
			}
			return nil
		})
	}
	l.keepHeat(now)
	if l.src.own() != recordNone && due(&l.next.room, now, roomEvery) {
		l.inBackground(l.lookAtRoom)
	}
}

// keepHeat writes the budget of idling now and then.
func (l *live) keepHeat(now time.Time) {
	if due(&l.next.heat, now, keepHeatEvery) {
		l.writing.Go(l.saveHeat)
	}
}
