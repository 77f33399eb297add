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

// watchSignals calls stop when the program is asked to suspend from outside, goneOn when it goes on
// after a stop that nobody asked it for, and quit before it is ended by the signal that prints where
// each goroutine is; the returned function ends that.
func watchSignals(stop, goneOn, quit func()) (end func()) {
	asked := make(chan os.Signal, 4)
	signal.Notify(asked, syscall.SIGTSTP, syscall.SIGCONT, syscall.SIGQUIT)
	done := make(chan struct{})
	go func() {
		for {
			select {
			case s := <-asked:
				switch s {
				case syscall.SIGTSTP:
					stop()
				case syscall.SIGCONT:
					goneOn()
				default:
					quit()
					signal.Reset(syscall.SIGQUIT)
					syscall.Kill(os.Getpid(), syscall.SIGQUIT)
				}
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
