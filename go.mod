module evendraw

go 1.26.0

require (
	github.com/creack/pty v1.1.24
	go.bug.st/serial v1.8.0
	gonum.org/v1/gonum v0.17.0
)

require golang.org/x/sys v0.50.0 // indirect
