package engine_test

import (
	"fmt"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
)

// A practice twin runs for ten seconds of its own; then its screw is turned and
// the truth looked at.
func Example() {
	e := engine.New(engine.Config{Bank: bank.Default(2), Seed: 4, Running: true})
	buf := make([]byte, 4096)
	until := func(seconds float64) {
		for e.Truth().TimeS < seconds {
			if _, err := e.Read(buf); err != nil {
				fmt.Println(err)
				return
			}
		}
	}
	until(10)
	before := e.Truth().Cylinders[1].Opening
	e.Turn(0, 0.5)
	until(15)
	fmt.Println("its butterfly moved:", e.Truth().Cylinders[1].Opening != before)
	// Output:
	// its butterfly moved: true
}
