package session_test

import (
	"context"
	"fmt"
	"io"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/session"
)

// A session reads whatever gives a board's bytes: here the practice engine, for
// ten seconds of its own time.
func ExampleSession() {
	e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 3, Running: true, NoSensorErrors: true})
	last := &balance.Reading{}
	s := session.New(session.Config{Zeroed: true, Ambient: engine.DefaultAmbient},
		session.Options{Until: 10, OnReading: func(r *balance.Reading, _ *session.Chain) { last = r }})
	if err := s.Run(context.Background(), io.Reader(e)); err != nil {
		fmt.Println(err)
	}
	fmt.Println(len(last.Cylinders), "cylinders, steady:", last.Steady)
	fmt.Println("the advice is to", last.Advice.Kind)
	// Output:
	// 4 cylinders, steady: true
	// the advice is to turn
}
