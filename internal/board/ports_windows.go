package board

import (
	"evendraw/internal/plain"

	"go.bug.st/serial"
)

// list reads the registry by way of the library, which opens no port here.
func list() ([]Port, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, &Error{Kind: Failed, Err: err}
	}
	ports := make([]Port, len(names))
	for i, name := range names {
		ports[i] = Port{Path: plain.Text(name)}
	}
	return byName(ports), nil
}
