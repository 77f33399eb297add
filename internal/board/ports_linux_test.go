package board

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// write makes a file with all its directories.
func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func link(t *testing.T, target, path string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(target, path); err != nil {
		t.Fatal(err)
	}
}

// usbTTY adds a USB serial port to the tree at root.
func usbTTY(t *testing.T, root, name, slot, maker, product string) {
	t.Helper()
	device := filepath.Join(root, "sys/devices/usb1", slot)
	write(t, filepath.Join(device, "idVendor"), "1a86\n")
	if maker != "" {
		write(t, filepath.Join(device, "manufacturer"), maker+"\n")
	}
	write(t, filepath.Join(device, "product"), product+"\n")
	write(t, filepath.Join(device, slot+":1.0", name, "tty", name, "dev"), "188:0\n")
	tty := filepath.Join("../../devices/usb1", slot, slot+":1.0", name, "tty", name)
	link(t, tty, filepath.Join(root, "sys/class/tty", name))
	link(t, "../..", filepath.Join(device, slot+":1.0", name, "tty", name, "device"))
	write(t, filepath.Join(root, "dev", name), "")
}

func TestListReadsSysfs(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	usbTTY(t, root, "ttyUSB10", "1-1", "", "\x1b[31mSerial\x07")
	usbTTY(t, root, "ttyUSB2", "1-2", "Maker & Co.", "Bridge")
	usbTTY(t, root, "ttyACM0", "1-3", "Other", "Board")
	usbTTY(t, root, "ttyUSB3", "1-4", "", "no node")
	os.Remove(filepath.Join(root, "dev/ttyUSB3"))
	write(t, filepath.Join(root, "sys/devices/platform/serial/tty/ttyS0/dev"), "4:64\n")
	link(t, "../../devices/platform/serial/tty/ttyS0", filepath.Join(root, "sys/class/tty/ttyS0"))
	write(t, filepath.Join(root, "sys/devices/virtual/tty/ttyUSB7/dev"), "188:7\n")
	link(t, "../../devices/virtual/tty/ttyUSB7", filepath.Join(root, "sys/class/tty/ttyUSB7"))
	write(t, filepath.Join(root, "dev/ttyUSB7"), "")

	got, err := listIn(root)
	if err != nil {
		t.Fatal(err)
	}
	dev := filepath.Join(root, "dev")
	want := []Port{
		{dev + "/ttyACM0", "Other", "Board"},
		{dev + "/ttyUSB2", "Maker & Co.", "Bridge"},
		{dev + "/ttyUSB10", "", ".[31mSerial."},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

func TestListWithoutPortsIsNoError(t *testing.T) {
	t.Parallel()
	if ports, err := listIn(t.TempDir()); len(ports) != 0 || err != nil {
		t.Errorf("got %v, %v", ports, err)
	}
	if _, err := List(); err != nil {
		t.Errorf("on this system: %v", err)
	}
}

func TestCallout(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]bool{
		"cu.usbserial-1410": true, "cu.usbmodem14201": true, "cu.wchusbserial1410": true, "cu.SLAB_USBtoUART": true,
		"tty.usbserial-1410": false, "cu.Bluetooth-Incoming-Port": false, "cu.debug-console": false, "null": false,
	} {
		t.Run(name, func(t *testing.T) {
			if callout(name) != want {
				t.Errorf("got %v", !want)
			}
		})
	}
}
