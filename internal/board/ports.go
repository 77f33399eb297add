package board

import (
	"cmp"
	"slices"
	"strings"
)

// Port is a serial port on which a board may be.
type Port struct {
	Path    string // what to open: /dev/ttyUSB0, /dev/cu.usbserial-10, COM3
	Maker   string // of the USB device, in its own words; may be empty
	Product string // of the USB device, in its own words; may be empty
}

// List returns the ports on which a board may be, in order of their names, without opening any of them: on Linux the
// USB serial ports, on macOS the call-out ports of USB devices, on Windows the COM ports, elsewhere none. No ports is
// no error.
func List() ([]Port, error) { return list() }

// byName sorts ports by path; ports that differ in their number only, by that.
func byName(ports []Port) []Port {
	slices.SortFunc(ports, func(a, b Port) int {
		an, bn := strings.TrimRight(a.Path, digits), strings.TrimRight(b.Path, digits)
		return cmp.Or(cmp.Compare(an, bn), cmp.Compare(len(a.Path), len(b.Path)), cmp.Compare(a.Path, b.Path))
	})
	return ports
}

const digits = "0123456789"

// calloutPrefixes are how macOS drivers of USB serial chips name their ports.
var calloutPrefixes = []string{"cu.usb", "cu.wch", "cu.slab", "cu.pl2303", "cu.uc-232", "cu.repleo"}

// callout reports whether a name in macOS's /dev is that of a USB device's
// call-out port. Bluetooth and debug ports are not.
func callout(name string) bool {
	name = strings.ToLower(name)
	return slices.ContainsFunc(calloutPrefixes, func(p string) bool { return strings.HasPrefix(name, p) })
}
