package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/mixture"
	"evendraw/internal/view"
)

// newRaisedCommand returns the verb that looks at the bank at a raised speed.
func newRaisedCommand(r *rig) *cobra.Command {
	o := &mixtureOptions{step: mixture.DefaultStep, reach: mixture.DefaultReach, handS: mixture.DefaultHandS, watchS: mixture.DefaultWatchS, delayS: mixture.DefaultProbeDelayS}
	cmd := &cobra.Command{
		Use:   "raised",
		Short: "Look at the bank at a raised speed",
		Long: `Read the bank at idle for some seconds, then at a raised speed (the card's, else 3000
rpm) that the throttle holds for four, and say what an unlike result points to: as
common practice, the likeliest first.

` + strings.Join(view.RaisedCautions, "\n") + `

With --json each line has time_s, rpm, target_rpm, held_s, advice, done, pattern, cylinder,
screw, causes, idle and raised (rpm, cycles, spread_kpa, cylinders: cylinder, draw_kpa,
off_mean_kpa, uncertainty_kpa); the last line is {"summary": …} with the same keys.`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := checkFor(cmd, o.limit); err != nil {
				return err
			}
			return runRaised(cmd.Context(), r, o, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.addFlags(r, cmd)
	cmd.Flags().Float64Var(&o.raisedRPM, "rpm", 0, "the raised speed (default: the card's, else 3000)")
	return cmd
}

func runRaised(ctx context.Context, r *rig, o *mixtureOptions, in io.Reader, out, errOut io.Writer) error {
	if o.raisedRPM != 0 && !(o.raisedRPM >= 1000 && o.raisedRPM <= 6000) {
		return usagef("--rpm %g is not from 1000 to 6000", o.raisedRPM)
	}
	t, err := newTuner(r, o, in, out, errOut)
	if err != nil {
		return err
	}
	return t.run(ctx, raising{t})
}

// raising is the look at the raised speed as a tuner runs it.
type raising struct{ *tuner }

func (t raising) begin() error {
	rpm := t.opt.raisedRPM
	if rpm == 0 && t.rig.bike != nil && t.practice == nil {
		rpm = t.rig.bike.RaisedRPM
	}
	_, limit := t.rig.limits()
	var begun error
	t.sess.Chain(func(c chain) { begun = c.StartRaised(mixture.RaisedConfig{RPM: rpm, Limit: limit}) })
	return begun
}

func (t raising) json(now float64) []byte {
	snap := t.sess.Snapshot()
	if snap.Tune.Raised == nil {
		return nil
	}
	return view.RaisedJSON(snap.Tune.Raised, now, namesOf(&snap.Bank))
}

func (t raising) words() (w view.Words, ok bool) {
	snap := t.sess.Snapshot()
	if snap.Tune.Raised == nil {
		return w, false
	}
	return view.RaisedWords(snap.Tune.Raised, namesOf(&snap.Bank)), true
}

func (t raising) done() bool {
	s := t.sess.Snapshot().Tune.Raised
	return s != nil && s.Done
}

func (t raising) close() error {
	if w, ok := t.words(); ok && !t.opt.json && t.done() {
		for _, line := range w.Say {
			fmt.Fprintln(t.out, line)
		}
	}
	return nil
}
