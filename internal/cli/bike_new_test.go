package cli

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"evendraw/internal/balance"
	"evendraw/internal/garage"
	"evendraw/internal/typing"
)

// asked returns what is asked of a bike that is being made where a terminal answers so, and what it is told.
func asked(t *testing.T, answers ...string) (o *bikeNewOptions, cmd *cobra.Command, told *bytes.Buffer) {
	told, cmd = &bytes.Buffer{}, &cobra.Command{}
	cmd.SetContext(t.Context())
	return &bikeNewOptions{unit: "kPa", aim: float64(balance.DefaultAim), limit: float64(balance.DefaultLimit),
		asks: typing.NewDialogue(t.Context(), strings.NewReader(strings.Join(answers, "\n")+"\n"), told)}, cmd, told
}

// What can't be an answer is said, and asked again; what was answered before stays.
func TestBikeNewAsksAgain(t *testing.T) {
	t.Parallel()
	answers := []string{"four", "5", "2", "2-2", "1-2", "0,a", "0,270", "9:9", "", "fast", "1100", "long", "7",
		"perhaps", "no", "brass", "air"}
	o, cmd, told := asked(t, answers...)
	b, err := o.bike(cmd, "odd twin")
	if err != nil {
		t.Fatal(err)
	}
	if b.Name != "odd twin" || b.Bank.Cylinders != 2 || !slices.Equal(b.Bank.FiringOrder, []int{1, 2}) ||
		!slices.Equal(b.Bank.FiringAngles, []float64{0, 270}) || len(b.Bank.Screws) != 1 || b.IdleRPMHigh < 1100 ||
		b.IdlingLimitMin != 7 || !b.Bank.NoLockNuts || b.PilotScrews != garage.AirScrews {
		t.Errorf("%+v\n%s", b, told)
	}
	for question, times := range map[string]int{"How many": 3, "Firing order": 2, "Degrees": 2, "screws, each": 2,
		"Idle": 2, "Minutes": 2, "lock nuts": 2, "Pilot": 2} {
		if n := strings.Count(told.String(), question); n != times {
			t.Errorf("%q asked %d times, want %d:\n%s", question, n, times, told)
		}
	}
	for _, typed := range []string{"", "3\n"} { // the terminal goes in the middle: no card
		o.asks = typing.NewDialogue(t.Context(), strings.NewReader(typed), told)
		if b, err := o.bike(cmd, "left"); !errors.Is(err, typing.ErrStopped) {
			t.Errorf("%q: %+v, %v", typed, b, err)
		}
	}
}

// < goes back to the last answer, over what flags gave, and what hung on that answer is the usual again.
func TestBikeNewGoesBack(t *testing.T) {
	t.Parallel()
	answers := []string{"<", "2", "<", "3", "1-3-2", "<", "<", "4", "", "even", "<", "0,90,360,450", "", "1100", "", "",
		""}
	o, cmd, told := asked(t, answers...)
	o.note = "kept"
	b, err := o.bike(cmd, "four")
	if err != nil || b.Bank.Cylinders != 4 || !slices.Equal(b.Bank.FiringOrder, []int{1, 2, 4, 3}) ||
		!slices.Equal(b.Bank.FiringAngles, []float64{0, 90, 360, 450}) || len(b.Bank.Screws) != 3 ||
		b.Note != "kept" || b.Name != "four" {
		t.Errorf("%+v, %v\n%s", b, err, told)
	}
	for line := range strings.SplitSeq(told.String(), "\n") {
		for ask := range strings.SplitSeq(line, "]: ") {
			if n := utf8.RuneCountInString(ask) + len("]: "); n > 76 { // of 80, room to answer
				t.Errorf("%d columns: %s", n, ask)
			}
		}
	}
}

// An answer that is gone back to is offered as it was given, while it fits.
func TestBikeNewOffersTheAnswer(t *testing.T) {
	t.Parallel()
	answers := []string{"4", "1-2-3-4", "<", "", "", "", "<", "<", "<", "<", "3", "", "", "", "1200", "<", "", "",
		"", "", ""}
	o, cmd, told := asked(t, answers...)
	b, err := o.bike(cmd, "asked again")
	if err != nil || b.Bank.Cylinders != 3 || !slices.Equal(b.Bank.FiringOrder, []int{1, 2, 3}) ||
		b.IdleRPMHigh < 1200 || !strings.Contains(told.String(), "[1-2-3-4]") ||
		!strings.Contains(told.String(), "[1200]") {
		t.Errorf("%+v, %v\n%s", b, err, told)
	}
}

// Who is asked and asks to end is let go at once.
func TestBikeNewEnds(t *testing.T) {
	t.Parallel()
	ctx, stop := context.WithCancel(t.Context())
	nobody, _ := io.Pipe() // where nothing is ever typed
	o := &bikeNewOptions{unit: "kPa", aim: float64(balance.DefaultAim), limit: float64(balance.DefaultLimit),
		asks: typing.NewDialogue(ctx, nobody, io.Discard)}
	cmd := &cobra.Command{}
	cmd.SetContext(ctx)
	stop()
	if _, err := o.bike(cmd, "left"); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}
