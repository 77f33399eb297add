package pagetest

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// Engine is a browser engine, and how its driver is begun.
type Engine struct {
	Name         string
	driver, pack string // its driver, and the Debian package of that
	capabilities map[string]any
	// display is set where the browser needs one to draw on.
	display bool
}

// Engines are those that Debian packages with a driver. They are looked for when asked for: the test binary is also
// the program that tests start again and again.
func Engines() []*Engine {
	chrome := map[string]any{"browserName": "chrome", "goog:chromeOptions": map[string]any{
		"binary": "/usr/bin/chromium",
		"args": []string{"--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
			"--disable-background-networking", "--disable-component-update", "--force-device-scale-factor=1"}}}
	webkit := map[string]any{"browserName": "MiniBrowser", "webkitgtk:browserOptions": map[string]any{
		"binary": found("/usr/lib/*/webkit2gtk-4.1/MiniBrowser"),
		"args":   []string{"--automation"}}}
	return []*Engine{
		{Name: "chromium", driver: "chromedriver", pack: "chromium-driver", capabilities: chrome},
		{Name: "webkit", driver: "WebKitWebDriver", pack: "webkit2gtk-driver", display: true, capabilities: webkit},
	}
}

// found is a file whose folder is named after the machine, "" where there is none.
func found(pattern string) string {
	if files, _ := filepath.Glob(pattern); len(files) > 0 {
		return files[0]
	}
	return ""
}

// Browser is a browser that is driven (W3C WebDriver).
type Browser struct {
	Engine *Engine
	t      testing.TB
	base   string // URL of the session
}

// Open begins a browser, which ends with the test. Without one, the test is skipped, and fails in a full run.
func (e *Engine) Open(t testing.TB) *Browser {
	t.Helper()
	effort.Need(t, e.driver, e.pack)
	environment := os.Environ()
	if e.display {
		effort.Need(t, "Xvfb", "xvfb")
		environment = append(environment, "DISPLAY="+beginDisplay(t), "XDG_CONFIG_HOME="+smallBars(t),
			"GDK_BACKEND=x11",
			"WEBKIT_DISABLE_COMPOSITING_MODE=1", "WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS=1", "NO_AT_BRIDGE=1")
	}
	port := freePort(t)
	driver := exec.Command(e.driver, "--port="+port)
	driver.Env = environment
	begin(t, driver)
	b := &Browser{Engine: e, t: t, base: "http://127.0.0.1:" + port}
	for late := time.Now().Add(effort.Hang); ; time.Sleep(20 * time.Millisecond) {
		if _, err := b.call(http.MethodGet, "/status", nil); err == nil {
			break
		} else if time.Now().After(late) {
			t.Fatalf("%s does not answer: %v", e.driver, err)
		}
	}
	var session struct {
		SessionID string `json:"sessionId"`
	}
	b.do(http.MethodPost, "/session", map[string]any{"capabilities": map[string]any{"alwaysMatch": e.capabilities}},
		&session)
	b.base += "/session/" + session.SessionID
	t.Cleanup(func() { b.call(http.MethodDelete, "", nil) })
	return b
}

// For returns the browser for a part of the test.
func (b *Browser) For(t testing.TB) *Browser {
	own := *b
	own.t = t
	return &own
}

// begin begins a process, which ends with the test.
func begin(t testing.TB, cmd *exec.Cmd) {
	t.Helper()
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
}

// beginDisplay begins a display that nobody sees, and returns its name.
func beginDisplay(t testing.TB) string {
	t.Helper()
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	cmd := exec.Command("Xvfb", "-displayfd", "3", "-screen", "0", "1400x1400x24", "-nolisten", "tcp")
	cmd.ExtraFiles = []*os.File{write}
	begin(t, cmd)
	write.Close()
	number, err := bufio.NewReader(read).ReadString('\n')
	if err != nil {
		t.Fatalf("Xvfb: %v", err)
	}
	return ":" + strings.TrimSpace(number)
}

// smallBars returns a folder with settings that make the browser's own bars small: else its window
// can't be as narrow as a phone.
func smallBars(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	css := "* { min-width: 0; min-height: 0; padding: 0; margin: 0; font-size: 1px; " +
		"border: none; -gtk-icon-transform: scale(0.1) }"
	if err := os.Mkdir(filepath.Join(dir, "gtk-3.0"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "gtk-3.0", "gtk.css"), []byte(css), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}

func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, port, _ := net.SplitHostPort(l.Addr().String())
	return port
}

// call makes one call, and returns the value of its answer.
func (b *Browser) call(method, path string, body any) (json.RawMessage, error) {
	var text []byte
	if method == http.MethodPost {
		text, _ = json.Marshal(body)
	}
	r, err := http.NewRequest(method, b.base+path, bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil, err
	}
	defer answer.Body.Close()
	var a struct {
		Value json.RawMessage `json:"value"`
	}
	if err := json.NewDecoder(answer.Body).Decode(&a); err != nil {
		return nil, err
	}
	if answer.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%s %s: %s", method, path, a.Value)
	}
	return a.Value, nil
}

// do makes one call that must succeed, into to unless that is nil.
func (b *Browser) do(method, path string, body, to any) {
	b.t.Helper()
	value, err := b.call(method, path, body)
	if err == nil && to != nil {
		err = json.Unmarshal(value, to)
	}
	if err != nil {
		b.t.Fatalf("%s: %.600v", b.Engine.Name, err)
	}
}

// Go opens a URL.
func (b *Browser) Go(url string) {
	b.t.Helper()
	b.do(http.MethodPost, "/url", map[string]any{"url": url}, nil)
}

// Run runs a script, the body of a function, and reads what it returns into to, unless that is nil.
func (b *Browser) Run(to any, script string, args ...any) {
	b.t.Helper()
	if args == nil {
		args = []any{}
	}
	b.do(http.MethodPost, "/execute/sync", map[string]any{"script": script, "args": args}, to)
}

// Await runs a script until it returns true.
func (b *Browser) Await(what, script string, args ...any) {
	b.t.Helper()
	for late := time.Now().Add(effort.Hang); ; time.Sleep(20 * time.Millisecond) {
		var ok bool
		if b.Run(&ok, script, args...); ok {
			return
		}
		if time.Now().After(late) {
			var text string
			b.Run(&text, "return document.body.innerText")
			b.t.Fatalf("%s: %s did not come; the page says %q", b.Engine.Name, what, text)
		}
	}
}

// Tap taps what a selector finds, as a finger does.
func (b *Browser) Tap(selector string) {
	b.t.Helper()
	var element map[string]string
	b.do(http.MethodPost, "/element", map[string]any{"using": "css selector", "value": selector}, &element)
	for _, id := range element {
		b.do(http.MethodPost, "/element/"+id+"/click", map[string]any{}, nil)
	}
}

// Size gives the page's own area a size in pixels.
func (b *Browser) Size(width, height int) {
	b.t.Helper()
	if b.Engine.Name == "chromium" { // whose window can't be as narrow as a phone
		b.do(http.MethodPost, "/goog/cdp/execute", map[string]any{"cmd": "Emulation.setDeviceMetricsOverride",
			"params": map[string]any{"width": width, "height": height, "deviceScaleFactor": 1, "mobile": true}}, nil)
	} else {
		var around [2]int
		b.Run(&around, "return [outerWidth-innerWidth, outerHeight-innerHeight]")
		b.do(http.MethodPost, "/window/rect", map[string]any{"x": 0, "y": 0, "width": width + around[0],
			"height": height + around[1]}, nil)
	}
	b.Await(fmt.Sprintf("a page of %d x %d", width, height), "return innerWidth === arguments[0] && "+
		"Math.abs(innerHeight - arguments[1]) < 2", width, height)
}

// Screenshot returns a PNG of what the page shows.
func (b *Browser) Screenshot() []byte {
	b.t.Helper()
	var text string
	b.do(http.MethodGet, "/screenshot", nil, &text)
	png, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		b.t.Fatal(err)
	}
	return png
}
