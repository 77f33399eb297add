//go:build unix

package screen

import (
	"os"
	"os/signal"
	"syscall"
)

// canStop tells that a program can be stopped and called again.
const canStop = true

// stopSelf stops the program until it is told to go on. The stop reaches this thread
// a little late: it waits to be told.
func stopSelf() {
	goOn := make(chan os.Signal, 1)
	signal.Notify(goOn, syscall.SIGCONT)
	defer signal.Stop(goOn)
	syscall.Kill(os.Getpid(), syscall.SIGSTOP)
	<-goOn
}

// watchStops calls stop when the program is asked to suspend from outside; the
// returned function ends that.
func watchStops(stop func()) (end func()) {
	asked := make(chan os.Signal, 1)
	signal.Notify(asked, syscall.SIGTSTP)
	done := make(chan struct{})
	go func() {
		for {
			select {
			case <-asked:
				stop()
			case <-done:
				return
			}
		}
	}()
	return func() {
		signal.Stop(asked)
		close(done)
	}
}
