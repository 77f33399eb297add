package board

import (
	"evendraw/internal/plain"

	"go.bug.st/serial"
	"go.bug.st/serial/enumerator"
)

// list reads the registry by way of the library, and the bridges' names in the device manager's words, where
// it has some. Neither opens a port here.
func list() ([]Port, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, &Error{Kind: Failed, Err: err}
	}
	bridges := make(map[string]string)
	if details, err := enumerator.GetDetailedPortsList(); err == nil { // a port without a name is a port
		for _, d := range details {
			bridges[d.Name] = d.Product
		}
	}
	ports := make([]Port, len(names))
	for i, name := range names {
		ports[i] = Port{Path: plain.Text(name), Product: plain.Text(bridges[name])}
	}
	return byName(ports), nil
}
