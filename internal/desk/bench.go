package desk

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"evendraw/internal/benchform"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
	"evendraw/internal/view"
)

// CutShort is in the remark of a card whose form was closed in the middle.
const CutShort = "(the form was cut short)"

// FillBench lets the user fill in a bench card on the screen; save is false when it is left. One that is cut short,
// by the terminal's end, is to be saved too where something was filled in; the error says so.
func FillBench(ctx context.Context, s *settings.Settings, o screen.Options,
	card garage.BenchCard) (filled garage.BenchCard, save bool, err error) {
	form := benchform.New(s.Bike.Name, card)
	if before, _ := s.Garage.ListBench(s.Bike.Name); len(before) > 0 {
		form.Before = &before[len(before)-1].Kept
	}
	t, err := s.World.OpenDisplay(o)
	if err != nil {
		return card, false, err
	}
	defer t.Close()
	cutShort := func(why error) (garage.BenchCard, bool, error) {
		if form.Editing && !form.Offered {
			form = form.Update(view.KeyTab) // takes what was typed
		}
		card, save := form.Card, form.Changed && !form.Card.Empty()
		card.Note = strings.TrimSpace(card.Note + " " + CutShort)
		return card, save, why
	}
	for !form.Done {
		t.Show(func(c *screen.Canvas) { screen.DrawBenchForm(c, &form) })
		select {
		case <-ctx.Done():
			return cutShort(context.Cause(ctx))
		case <-t.Gone():
			return cutShort(fmt.Errorf("the terminal is gone"))
		case <-t.Resized():
		case key := <-t.Keys():
			switch key {
			case view.KeyCtrlZ:
				if err := t.Suspend(); err != nil {
					return card, false, err
				}
			default:
				form = form.Update(key)
			}
		}
	}
	if form.Interrupted {
		err = context.Canceled
	}
	return form.Card, form.Save, err
}

// tickAnswers are what a check is answered with: the keys of the screen, Enter being no text.
var tickAnswers = map[string]string{"": garage.TickDone, "=": garage.TickDone, "-": garage.TickNotNeeded,
	"!": garage.TickLeft}

// AskChecks asks one after the other, and again where an answer means nothing.
func AskChecks(ctx context.Context, checks []garage.Check, ticks []garage.Tick, in io.Reader,
	out io.Writer) ([]garage.Tick, error) {
	d := typing.NewDialogue(ctx, in, out)
	sure := false
	for i, c := range checks {
		_, answered := garage.TickOf(ticks, c.ID)
		if !answered {
			d.Say(append([]string{""}, tell.CheckQuestion(c, i+1, len(checks))...)...)
		}
		for !answered {
			answer, err := d.Ask(ctx, "  Enter seen, - not on this bike, ! leave undone, = all seen, n later, q stop:")
			answer = strings.ToLower(answer)
			kind, known := tickAnswers[answer]
			answered = known && (sure || answer != "=") || answer == "n"
			switch {
			case errors.Is(err, typing.ErrStopped):
				return ticks, nil
			case err != nil:
				return ticks, err
			case answer == "q":
				d.Say("")
				return ticks, nil
			case answer == "=" && !sure:
				sure = true
				d.Say("  That says that you saw to the rest, unread here. = once more if so; or answer this one.")
			case answer == "=":
				ticks = garage.WithAnswers(ticks, checks[i:], time.Now().UTC(), kind)
			case known:
				ticks = garage.WithAnswers(ticks, checks[i:i+1], time.Now().UTC(), kind)
			case answer != "n":
				d.Say(fmt.Sprintf("  %q is none of the answers: Enter alone, or one sign or letter of these.",
					plain.Text(answer)))
			}
		}
	}
	d.Say("")
	return ticks, nil
}
