//go:build unix

package screen

import (
	"os"
	"os/signal"
	"syscall"
)

// canStop is whether a program can be stopped and resumed.
const canStop = true

// stopSelf stops the program until the shell resumes it. It waits for the signal to go on, as
// the stop reaches this thread a little late.
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
