package cli

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// endWithin is how long a program that was asked to end may take for it, on a machine however busy: each
// verb ends by itself within a second on a quiet one. Chosen.
const endWithin = 10 * time.Second

// Main is the program of that version: it does what its arguments say, and exits. Interrupt, TERM and HUP
// end what it does.
func Main(version string) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	context.AfterFunc(ctx, func() {
		time.Sleep(endWithin)
		os.Exit(exitInterrupted)
	})
	os.Exit(Run(ctx, version, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
