package wine

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Loader starts programs: Debian's package wine64, version 8.0.
const Loader = "/usr/lib/wine/wine64"

const server = "/usr/lib/wine/wineserver64"

// Found reports whether Wine is there.
func Found() bool {
	_, err := os.Stat(Loader)
	return err == nil
}

// Prefix is a Windows of Wine's, in a folder of its own.
type Prefix struct {
	dir string
	env []string // besides the process's
}

// Make makes a Windows in dir, which must be there, an absolute path. It takes some seconds. Close ends it.
func Make(dir string) (*Prefix, error) {
	p := &Prefix{dir: dir, env: []string{"WINEPREFIX=" + dir, "WINEDEBUG=-all", "WINEDLLOVERRIDES=mscoree,mshtml=",
		"DISPLAY="}}
	// A server that stays makes the ports that Wine sees of itself but once.
	if err := p.server("-p"); err != nil {
		return nil, err
	}
	if err := p.run("wineboot", "-i"); err != nil {
		return nil, err
	}
	return p, os.WriteFile(filepath.Join(dir, "drive_c/windows/system32/bcryptprimitives.dll"), randomDLL(), 0o644)
}

// run runs a program of Wine's own to its end. What it says goes to a file: what it leaves running keeps that open.
func (p *Prefix) run(args ...string) error {
	said, err := os.Create(filepath.Join(p.dir, "said"))
	if err != nil {
		return err
	}
	defer said.Close()
	cmd := p.Command(args[0], args[1:]...)
	cmd.Stdout, cmd.Stderr = said, said
	if err := cmd.Run(); err != nil {
		text, _ := os.ReadFile(said.Name())
		return fmt.Errorf("wine: %s: %w: %.500s", strings.Join(args, " "), err, text)
	}
	return nil
}

// Command returns what starts a Windows program, by its path here or by its name in Wine. Paths are seen below drive Z.
func (p *Prefix) Command(program string, args ...string) *exec.Cmd {
	cmd := exec.Command(Loader, append([]string{program}, args...)...)
	cmd.Env = append(os.Environ(), p.env...)
	return cmd
}

// device is the path of what plays a device of that name.
func (p *Prefix) device(name string) string {
	return filepath.Join(p.dir, "dosdevices", strings.ToLower(name))
}

// Plug makes a serial port, such as COM9, of the terminal at path.
func (p *Prefix) Plug(port, path string) error {
	os.Remove(p.device(port))
	return os.Symlink(path, p.device(port))
}

// Unplug takes a port away.
func (p *Prefix) Unplug(port string) error { return os.Remove(p.device(port)) }

// List makes these the ports on the list that Windows keeps of them.
func (p *Prefix) List(ports ...string) error {
	const key = `HKLM\HARDWARE\DEVICEMAP\SERIALCOMM`
	if err := p.run("reg", "delete", key, "/va", "/f"); err != nil {
		return err
	}
	for i, port := range ports {
		if err := p.run("reg", "add", key, "/v", fmt.Sprintf(`\Device\USBSER%d`, i), "/d", port, "/f"); err != nil {
			return err
		}
	}
	return nil
}

// Close ends all that runs in the prefix.
func (p *Prefix) Close() error { return p.server("-k") }

// server starts Wine's other half, which outlives a program, or tells it something.
func (p *Prefix) server(arg string) error {
	cmd := exec.Command(server, arg)
	cmd.Env = append(os.Environ(), p.env...)
	return cmd.Run()
}
