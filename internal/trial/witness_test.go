package trial

import (
	"fmt"
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// witness writes down what the screen says while a story is told: a line whenever it says something else.
type witness struct {
	view   view.View
	before string
	lines  []string
}

// newWitness returns one that has seen nothing of a story.
func newWitness(s *story) *witness {
	w := &witness{view: view.View{Unit: pressure.Kilopascal, Aim: balance.DefaultAim, Limit: balance.DefaultLimit,
		Bike: "story", Flow: view.Flow{Off: true}}}
	if s.warms {
		w.view = w.view.StartAt(view.StepWarm)
	}
	return w
}

// levelling reports whether the screen says what to do about the screws.
func (w *witness) levelling() bool { return w.view.Flow.Off || w.view.Flow.At >= view.StepLevel }

// look takes a reading.
func (w *witness) look(r *balance.Reading, c *session.Chain) {
	at := time.Unix(0, 0).Add(time.Duration(r.Time * float64(time.Second)))
	snap := &session.Snapshot{Phase: session.Running, LastFrame: at, Reading: r, Heat: r.Heat, HeatAt: at,
		Bank: c.Bank(), Config: c.Config(), Zero: c.ZeroState(), Tune: c.Tune()}
	w.view = view.Update(w.view, view.Tick{Now: at, Snap: snap})
	for _, want := range w.view.Wants {
		if want.Kind == view.LookLevel && !w.view.Flow.Off {
			c.AskAnew()
			return // the next reading knows of it
		}
	}
	p := w.view.Picture()
	word, first := strings.TrimRight(p.Big, "0123456789% "), ""
	if w.view.Flow.Off && len(p.Say) > 0 { // also what goes on under one large word, but for its figures
		first = strings.Map(func(r rune) rune {
			if strings.ContainsRune("0123456789/.", r) {
				return -1
			}
			return r
		}, p.Say[0])
	}
	says := fmt.Sprint(w.view.Flow.At, word, p.Screw, p.Arrow, first, !w.levelling() && r.Advice.Why == advice.WhyCold)
	if says != w.before {
		w.before = says
		w.lines = append(w.lines, w.view.Line())
	}
}
