package trial_test

import (
	"context"
	"fmt"
	"os"

	"evendraw/internal/trial"
)

// A twin is levelled by the advice, and once more by watching damped gauges.
func Example() {
	pairs, err := trial.Run(context.Background(), trial.Config{Bikes: 1, Seed: 4, Linkage: "twin"})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return
	}
	r := trial.Count(pairs)
	fmt.Println("levelled:", r.Levelled == 1, "called done wrongly:", r.FalseDone)
	fmt.Println("sooner than by damped gauges:", r.Idle < r.Rival.Idle)
	// Output:
	// levelled: true called done wrongly: 0
	// sooner than by damped gauges: true
}
