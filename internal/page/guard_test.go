package page_test

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/page"
	"evendraw/internal/page/pagetest"
)

// atHome serves the page on all addresses of an invented machine.
func atHome(t *testing.T) (*page.Server, *pagetest.Network) {
	t.Helper()
	n := pagetest.NewNetwork()
	n.Anywhere = true
	s, err := page.Open(page.Options{Token: token, Listen: n.Listen, Addresses: func() []netip.Addr {
		return []netip.Addr{netip.MustParseAddr("192.168.7.20"), netip.MustParseAddr("fd00::20")}
	}})
	if err != nil {
		t.Fatal(err)
	}
	closeSound(t, s)
	return s, n
}

// ask sends a request as it is written, and returns the answer, nil where there is none. An
// event stream is not read on.
func ask(t *testing.T, n *pagetest.Network, request string) *http.Response {
	t.Helper()
	c, err := n.Dial()
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	c.SetDeadline(time.Now().Add(effort.Hang))
	go io.WriteString(c, request) // a pipe waits for what is not read
	answer, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		return nil
	}
	return answer
}

// Row 29: only the addresses that are shown are let in, letter by letter, on every route.
func TestOnlyShownNamesAreLetIn(t *testing.T) {
	t.Parallel()
	_, n := atHome(t)
	const home = "192.168.7.20:7204"
	rows := 0
	for _, route := range []string{"/" + token, "/" + token + "/", "/" + token + "/live", "/" + token + "/seen?you=1"} {
		for _, host := range []string{home, "[fd00::20]:7204", "127.0.0.1:7204", "[::1]:7204", "localhost:7204"} {
			// HEAD does not stay.
			if a := ask(t, n, "HEAD "+route+" HTTP/1.1\r\nHost: "+host+"\r\n\r\n"); a == nil || a.StatusCode >= 300 {
				t.Errorf("%s at %q: %v", route, host, a)
			}
		}
		for _, headers := range []string{
			"Host: evil.example", "Host: evil.example:7204", "Host: 192.168.7.20.evil.example:7204", "Host: ",
			"Host: 192.168.7.20", "Host: 192.168.7.20:", "Host: 192.168.7.20:80", "Host: 192.168.7.20:7205",
			"Host: 192.168.7.20.:7204", "Host: localhost.:7204", "Host: LOCALHOST:7204", "Host: Localhost:7204",
			"Host: 192.168.7.21:7204", "Host: 10.0.0.1:7204", "Host: 0.0.0.0:7204", "Host: 127.0.0.2:7204",
			"Host: 127.1:7204", "Host: 2130706433:7204", "Host: 0300.0250.07.024:7204", "Host: [fd00::21]:7204",
			"Host: [FD00::20]:7204", "Host: [fd00:0::20]:7204", "Host: fd00::20:7204",
			"Host: [::ffff:192.168.7.20]:7204",
			"Host: [fe80::1%eth0]:7204", "Host: user@" + home, "Host: " + home + "\r\nHost: " + home,
			"Host: " + home + "\r\nOrigin: null", "Host: " + home + "\r\nOrigin: http://evil.example",
			"Host: " + home + "\r\nOrigin: https://" + home,
			"Host: " + home + "\r\nOrigin: http://" + home + "\r\nOrigin: http://evil.example",
			"Host: evil.example:7204\r\nOrigin: http://evil.example:7204",
			"X-Forwarded-Host: " + home + "\r\nHost: evil.example",
		} {
			rows++
			if a := ask(t, n, "GET "+route+" HTTP/1.1\r\n"+headers+"\r\n\r\n"); a == nil ||
				a.StatusCode != http.StatusMisdirectedRequest &&
					a.StatusCode != http.StatusBadRequest {
				t.Errorf("%s with %q: %v", route, headers, a)
			}
		}
		for _, request := range []string{
			"GET http://evil.example" + route + " HTTP/1.1\r\nHost: " + home,
			"GET http://" + home + route + " HTTP/1.1\r\nHost: evil.example",
			"GET http://" + home + route + " HTTP/1.1\r\nHost: " + home,
			"GET //evil.example" + route + " HTTP/1.1\r\nHost: " + home,
			"GET " + route + " HTTP/1.1", "GET " + route + " HTTP/1.0",
		} {
			rows++
			if a := ask(t, n, request+"\r\n\r\n"); a == nil || a.StatusCode < 400 {
				t.Errorf("%q: %v", request, a)
			}
		}
	}
	t.Logf("count: %d requests by names that are not shown, 0 let in", rows)
}

// Row 30: only reading, only with the token; no cookie, no leave for other sites; the page may run
// its own script alone.
func TestOnlyReading(t *testing.T) {
	t.Parallel()
	s, n := atHome(t)
	host := " HTTP/1.1\r\nHost: 192.168.7.20:7204\r\n"
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "get",
		"SETSCREW"} {
		for _, path := range []string{"/" + token, "/" + token + "/live", "/" + token + "/seen", "/", "*"} {
			a := ask(t, n, method+" "+path+host+"\r\n")
			if a == nil || a.StatusCode != http.StatusMethodNotAllowed &&
				a.StatusCode != http.StatusMisdirectedRequest &&
				a.StatusCode != http.StatusBadRequest {
				t.Errorf("%s %s: %v", method, path, a)
			}
		}
	}
	for path, want := range map[string]int{
		"/": 404, "/" + token[1:]: 404, "/" + token + "A": 404, "/ABCDEFGHJK24": 404, "//" + token: 404,
		"/" + token + "/../" + token: 404, "/" + token + "/page.html": 404, "/favicon.ico": 404,
		"/" + token: 200, "/" + strings.ToLower(token) + "/": 200, "/" + token + "/seen?you=x": 204,
	} {
		if a := ask(t, n, "GET "+path+host+"\r\n"); a == nil || a.StatusCode != want {
			t.Errorf("%s: %v, wants %d", path, a, want)
		}
	}
	a := ask(t, n, "GET /"+token+host+"\r\n")
	policy := a.Header.Get("Content-Security-Policy")
	if !strings.HasPrefix(policy, "default-src 'none'; script-src 'sha256-") || strings.Contains(policy, "unsafe") ||
		a.Header.Get("Access-Control-Allow-Origin") != "" || a.Header.Get("Set-Cookie") != "" ||
		a.Header.Get("Referrer-Policy") != "no-referrer" || a.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("headers %v", a.Header)
	}
	if a := ask(t, n, "GET /"+token+host+"Content-Length: 5\r\n\r\nhello"); a == nil || a.StatusCode < 400 {
		t.Errorf("with a body: %v", a)
	}
	if p := s.Phone(); p.Addresses[0] != "http://192.168.7.20:7204/"+token || len(p.Addresses) != 2 {
		t.Errorf("%+v", p)
	}
}

// Whatever is asked, the server goes on: no panic, and a good request is answered.
func TestRandomRequests(t *testing.T) {
	t.Parallel()
	_, n := atHome(t)
	count := effort.Of(300, 10_000)
	rng := rand.New(rand.NewPCG(21, 30))
	words := []string{"GET", "POST", "HEAD", " ", "/", token, "live", "seen", "?you=", "HTTP/1.1", "HTTP/9", "\r\n",
		"\n", "Host: ",
		"192.168.7.20:7204", "Content-Length: ", "99999999999", "Transfer-Encoding: chunked", "Expect: 100-continue",
		"%00", "%zz",
		"..", "\x00", "\xff", ":", "Connection: Upgrade", "Upgrade: websocket", "Range: bytes=0-1", "\r\n\r\n", "A"}
	for i := range count {
		var b strings.Builder
		if rng.IntN(2) == 0 {
			fmt.Fprintf(&b, "GET /%s/%s HTTP/1.1\r\nHost: 192.168.7.20:7204\r\n", token, words[rng.IntN(len(words))])
		}
		for range rng.IntN(20) {
			b.WriteString(words[rng.IntN(len(words))])
		}
		c, err := n.Dial()
		if err != nil {
			t.Fatal(err)
		}
		exchange(c, b.String()+"\r\n\r\n")
		if i%100 == 0 {
			if a := ask(t, n, "GET /"+token+" HTTP/1.1\r\nHost: 192.168.7.20:7204\r\n\r\n"); a == nil ||
				a.StatusCode != 200 {
				t.Fatalf("after %q: %v", b.String(), a)
			}
		}
	}
	t.Logf("count: %d random requests to the page, 0 panics", count)
}

// exchange sends a text, reads the first bytes of an answer, and hangs up.
func exchange(c net.Conn, text string) {
	defer c.Close()
	go io.WriteString(c, text)
	c.SetReadDeadline(time.Now().Add(20 * time.Millisecond))
	c.Read(make([]byte, 64))
}
