package main

import (
	"context"
	"os"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/view"
)

// panicEnv has the test program show the screen over a source that panics.
const panicEnv = "EVENDRAW_TEST_PANIC"

// init takes the test program's place before any test runs.
func init() {
	if where := os.Getenv(panicEnv); where != "" {
		os.Exit(panicRun(where))
	}
}

// panicking is a source that panics.
type panicking struct {
	practice
	where string
}

func (p *panicking) dress(*view.View) {
	if p.where == "draw" {
		panic("drawing is out of order")
	}
}

func (p *panicking) meet(context.Context, func(string)) (*frame.Announcement, error) {
	time.Sleep(200 * time.Millisecond)
	panic("reading is out of order")
}

func (p *panicking) own() ownership { return practices }

// panicRun is what the test program does with panicEnv.
func panicRun(where string) int {
	r := &rig{}
	if err := r.open(); err != nil {
		return 99
	}
	p, err := newPractice(r, freshBike, false)
	if err != nil {
		return 99
	}
	l := newLive(r, &liveOptions{}, &panicking{practice: practice{rig: r, engine: p.engine, bank: p.bank}, where: where}, os.Stdout, os.Stderr)
	if err := l.run(context.Background()); err != nil {
		report(os.Stderr, err)
		return statusOf(err)
	}
	return 0
}
