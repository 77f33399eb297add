package hardwarenotes

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

// A line of udev(7): keys, an operator each, and a value in quotes; what is
// compared comes before what is set.
var (
	udevPair = regexp.MustCompile(`^([A-Z]+(?:\{[A-Za-z_]+\})?)(==|!=|\+=|=)"([^"]*)"$`)
	udevKeys = map[string]string{"ACTION": "==", "SUBSYSTEM": "== !=", "KERNEL": "== !=", "SUBSYSTEMS": "==",
		"ATTRS{idVendor}": "==", "ATTRS{idProduct}": "==",
		"GOTO": "=", "LABEL": "=", "GROUP": "=", "MODE": "=", "TAG": "+=", "ENV{ID_MM_DEVICE_IGNORE}": "=",
		"ENV{ID_MM_PORT_IGNORE}": "="}
	usbNumber = regexp.MustCompile(`^[0-9a-f]{4}$`)
)

func TestUdevRule(t *testing.T) {
	const name = "70-evendraw.rules"
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	labels, jumps := map[string]bool{}, map[string]bool{}
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		for _, pair := range strings.Split(line, ", ") {
			m := udevPair.FindStringSubmatch(pair)
			if m == nil || !strings.Contains(" "+udevKeys[m[1]]+" ", " "+m[2]+" ") {
				t.Errorf("%q in %q", pair, line)
				continue
			}
			switch {
			case m[1] == "LABEL":
				labels[m[3]] = true
			case m[1] == "GOTO":
				jumps[m[3]] = true
			case strings.HasPrefix(m[1], "ATTRS"):
				for _, n := range strings.Split(m[3], "|") {
					if !usbNumber.MatchString(n) {
						t.Errorf("%q is no USB number", n)
					}
				}
			}
		}
	}
	for l := range jumps {
		if !labels[l] {
			t.Errorf("no label %s", l)
		}
	}
	page, err := os.ReadFile("linux-port.md")
	if err != nil || !strings.Contains(string(page), name) {
		t.Errorf("the page does not name the rule: %v", err)
	}
	// A newer udev judges it too; older ones have no such command.
	if exec.Command("udevadm", "verify", "--help").Run() != nil {
		return
	}
	if out, err := exec.Command("udevadm", "verify", "--resolve-names=never", name).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
