//go:build !unix

package garage

import "os"

// runs reports whether there is a process of that number: on Windows it can't be
// found otherwise.
func runs(process int) bool {
	p, err := os.FindProcess(process)
	if err != nil {
		return false
	}
	p.Release()
	return true
}
