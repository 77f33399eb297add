package board

import (
	"errors"
	"evendraw/internal/plain"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

func list() ([]Port, error) { return listIn("/") }

// listIn lists the USB serial ports of the system whose root directory is root:
// sysfs says which ones are USB and what they are.
func listIn(root string) ([]Port, error) {
	class := filepath.Join(root, "sys/class/tty")
	entries, err := os.ReadDir(class)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, &Error{Kind: Failed, Port: class, Err: err}
	}
	var ports []Port
	for _, entry := range entries {
		name := entry.Name()
		if !strings.HasPrefix(name, "ttyUSB") && !strings.HasPrefix(name, "ttyACM") {
			continue
		}
		device := usbDevice(filepath.Join(class, name, "device"))
		path := filepath.Join(root, "dev", name)
		if _, err := os.Stat(path); err != nil || device == "" {
			continue
		}
		ports = append(ports, Port{
			Path:    path,
			Maker:   attribute(device, "manufacturer"),
			Product: attribute(device, "product"),
		})
	}
	return byName(ports), nil
}

// usbDevice returns the directory of the USB device that a tty belongs to: the
// nearest one above that has a vendor number. It is empty for other ttys.
func usbDevice(link string) string {
	dir, err := filepath.EvalSymlinks(link)
	if err != nil {
		return ""
	}
	for dir != filepath.Dir(dir) {
		if attribute(dir, "idVendor") != "" {
			return dir
		}
		dir = filepath.Dir(dir)
	}
	return ""
}

// attribute returns a sysfs attribute, empty if it can't be read.
func attribute(dir, name string) string {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return plain.Text(strings.TrimSpace(string(b)))
}
