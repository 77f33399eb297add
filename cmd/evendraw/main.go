// Command evendraw helps to bring a bank of motorcycle carburettors in tune: it
// reads a board with a pressure sensor per cylinder, and says which screw to
// turn, which way, and when to stop.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"evendraw/internal/cli"
)

// version of the program; a release stamps it.
var version = "0.1.0"

// endWithin is how long a program that was asked to end may take for it, on a machine however busy: each
// verb ends by itself within a second on a quiet one. Chosen.
const endWithin = 10 * time.Second

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	context.AfterFunc(ctx, func() {
		time.Sleep(endWithin)
		os.Exit(130) // interrupted
	})
	os.Exit(cli.Run(ctx, version, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
