package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"

	"evendraw/internal/trial"
)

// runPilotTrial runs the mixture stage's trial.
func runPilotTrial(ctx context.Context, o *trialOptions, out, errOut io.Writer) error {
	cfg := trial.PilotConfig{Bikes: o.bikes, Seed: o.seed, Air: o.air, Most: o.most}
	if isTerminal(errOut) {
		cfg.Progress = func(done, of int) { progressBar(errOut, done, of) }
	}
	all, err := trial.RunPilots(ctx, cfg)
	if err != nil {
		return err
	}
	r := trial.CountPilots(all)
	if o.json {
		return json.NewEncoder(out).Encode(r)
	}
	fmt.Fprintf(out, `%d random fours, pilot screws up to half a turn off at the start
  all four within an eighth of a turn of the best   %5.1f %% of the bikes
  a screw within an eighth of a turn                %5.1f %% of the screws; 95 %% within %.3f turns
  stated 95 %% intervals that hold the best          %5.1f %%
  not finished                                      %d
  moves of a pilot screw, of the throttle stop      %.0f, %.0f (median); %.1f turns of pilot screws
  idling                                            %.0f s (median), 95 %% within %.0f s
`, r.Bikes, 100*r.Found, 100*r.FoundScrews, r.Off95, 100*r.Held, r.Unfinished, r.Moves, r.StopMoves, r.Turns, r.Idle, r.Idle95)
	return nil
}
