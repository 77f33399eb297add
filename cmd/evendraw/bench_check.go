package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/view"
)

type benchCheckOptions struct {
	done, notNeeded, undo []string
	json                  bool
}

func newBenchCheckCommand(r *rig) *cobra.Command {
	o := &benchCheckOptions{}
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Go through what is to be looked at before the first start",
		Long: `Go through what is to be looked at before a rebuilt bank is started. In a terminal
each one that is open is asked; otherwise, and with flags, the list is printed.
What was answered is kept with its time until the bank comes apart again.`,
		Example: `  evendraw bench check
  evendraw bench check --done vents,fuel-tees --not-needed tap-hose`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runBenchCheck(cmd.Context(), r, o, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&o.done, "done", nil, "names of checks that were made")
	f.StringSliceVar(&o.notNeeded, "not-needed", nil, "names of checks of what this bike doesn't have")
	f.StringSliceVar(&o.undo, "undo", nil, "names of checks to be made again")
	f.BoolVar(&o.json, "json", false, "print JSON")
	return cmd
}

func runBenchCheck(ctx context.Context, r *rig, o *benchCheckOptions, in io.Reader, out, errOut io.Writer) error {
	if err := r.theBike(); err != nil {
		return err
	}
	checks := garage.PreStartChecks(&r.bike.Bank)
	ticks, err := r.garage.LoadChecks(r.bike.Name)
	if err != nil {
		report(errOut, err)
	}
	before := slices.Clone(ticks)
	if ticks, err = o.answer(checks, ticks); err != nil {
		return err
	}
	flagged := len(o.done)+len(o.notNeeded)+len(o.undo) > 0
	var asking error
	if !flagged && !o.json && isTerminal(out) {
		ticks, asking = askChecks(ctx, checks, ticks, in, out)
	}
	if !slices.Equal(before, ticks) {
		path, err := r.garage.SaveChecks(r.bike.Name, version, ticks)
		if err != nil {
			return err
		}
		fmt.Fprintln(errOut, "saved "+path)
	}
	if asking != nil {
		return asking
	}
	if o.json {
		return tellChecksJSON(out, checks, ticks)
	}
	for _, line := range view.CheckLines(checks, ticks) {
		fmt.Fprintln(out, line)
	}
	return nil
}

// answer puts the flags' answers to the ticks.
func (o *benchCheckOptions) answer(checks []garage.Check, ticks []garage.Tick) ([]garage.Tick, error) {
	now := time.Now().UTC()
	for _, set := range []struct {
		flag, answer string
		ids          []string
	}{{"--done", garage.TickDone, o.done}, {"--not-needed", garage.TickNotNeeded, o.notNeeded}, {"--undo", "", o.undo}} {
		for _, id := range set.ids {
			if !slices.ContainsFunc(checks, func(c garage.Check) bool { return c.ID == id }) {
				return nil, &usageError{&hinted{fmt.Errorf("%s %q: there is no such check", set.flag, id), "evendraw bench check --json shows the names"}}
			}
			ticks = withTick(ticks, garage.Tick{ID: id, Time: now, Answer: set.answer})
		}
	}
	return ticks, nil
}

// withTick returns the ticks with one put in the place of that check's; one without an
// answer is taken away.
func withTick(ticks []garage.Tick, t garage.Tick) []garage.Tick {
	ticks = slices.DeleteFunc(slices.Clone(ticks), func(x garage.Tick) bool { return x.ID == t.ID })
	if t.Answer != "" {
		ticks = append(ticks, t)
	}
	return ticks
}

// askChecks asks one after the other.
func askChecks(ctx context.Context, checks []garage.Check, ticks []garage.Tick, in io.Reader, out io.Writer) ([]garage.Tick, error) {
	answers := make(chan string)
	go func() {
		defer close(answers)
		for lines := bufio.NewScanner(in); lines.Scan(); {
			select {
			case answers <- strings.TrimSpace(lines.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	for i, c := range checks {
		if _, ok := garage.TickOf(ticks, c.ID); ok {
			continue
		}
		fmt.Fprintln(out, "\n"+strings.Join(view.CheckQuestion(c, i+1, len(checks)), "\n"))
		fmt.Fprint(out, "  y done, - not on this bike, Enter later, q stop: ")
		select {
		case <-ctx.Done():
			return ticks, context.Cause(ctx)
		case answer, ok := <-answers:
			switch {
			case !ok || strings.EqualFold(answer, "q"):
				fmt.Fprintln(out)
				return ticks, nil
			case strings.EqualFold(answer, "y") || strings.EqualFold(answer, "yes"):
				ticks = withTick(ticks, garage.Tick{ID: c.ID, Time: time.Now().UTC(), Answer: garage.TickDone})
			case answer == "-":
				ticks = withTick(ticks, garage.Tick{ID: c.ID, Time: time.Now().UTC(), Answer: garage.TickNotNeeded})
			}
		}
	}
	fmt.Fprintln(out)
	return ticks, nil
}

func tellChecksJSON(out io.Writer, checks []garage.Check, ticks []garage.Tick) error {
	type line struct {
		ID     string     `json:"id"`
		Part   string     `json:"part"`
		Text   string     `json:"text"`
		Answer *string    `json:"answer"`
		Time   *time.Time `json:"time"`
	}
	list := []line{}
	for _, c := range checks {
		short, _ := view.CheckWords(c)
		l := line{ID: c.ID, Part: c.Part, Text: short}
		if t, ok := garage.TickOf(ticks, c.ID); ok {
			l.Answer, l.Time = &t.Answer, &t.Time
		}
		list = append(list, l)
	}
	return json.NewEncoder(out).Encode(list)
}
