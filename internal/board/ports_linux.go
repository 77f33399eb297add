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
	stable := stableNames(filepath.Join(root, "dev/serial/by-id"))
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
			Stable:  stable[name],
			Maker:   attribute(device, "manufacturer"),
			Product: attribute(device, "product"),
			ID:      attribute(device, "idVendor") + ":" + attribute(device, "idProduct"),
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

// stableNames maps the names of ttys to the links in dir that lead to them.
func stableNames(dir string) map[string]string {
	names := make(map[string]string)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return names
	}
	for _, entry := range entries {
		link := filepath.Join(dir, entry.Name())
		if target, err := os.Readlink(link); err == nil {
			names[filepath.Base(target)] = link
		}
	}
	return names
}
