package board

import (
	"os"
	"path/filepath"
)

func list() ([]Port, error) { return listIn("/") }

// listIn lists the call-out ports of the system whose root directory is root. A
// tty.* port would wait for a carrier that boards don't have.
func listIn(root string) ([]Port, error) {
	dev := filepath.Join(root, "dev")
	entries, err := os.ReadDir(dev)
	if err != nil {
		return nil, &Error{Kind: Failed, Port: dev, Err: err}
	}
	var ports []Port
	for _, entry := range entries {
		if callout(entry.Name()) {
			ports = append(ports, Port{Path: filepath.Join(dev, entry.Name())})
		}
	}
	return byName(ports), nil
}
