package page

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"

	"evendraw/internal/effort"
)

// head reads a request's head as the server does.
func readHead(text string) (*request, error) {
	return readRequest(bufio.NewReaderSize(strings.NewReader(text), mostHead))
}

// What does not follow the grammar of RFC 9112 is refused, and what is longer than a browser's.
func TestHeadsThatAreRefused(t *testing.T) {
	t.Parallel()
	const host = "Host: a\r\n"
	for name, c := range map[string]struct {
		text string
		want error
	}{
		"good":               {"GET / HTTP/1.1\r\n" + host + "\r\n", nil},
		"old, without host":  {"GET / HTTP/1.0\r\n\r\n", nil},
		"without host":       {"GET / HTTP/1.1\r\n\r\n", errHead},
		"two hosts":          {"GET / HTTP/1.1\r\n" + host + host + "\r\n", errHead},
		"two spaces":         {"GET  / HTTP/1.1\r\n" + host + "\r\n", errHead},
		"no version":         {"GET /\r\n" + host + "\r\n", errHead},
		"another version":    {"GET / HTTP/2.0\r\n" + host + "\r\n", errHead},
		"a space in a name":  {"GET / HTTP/1.1\r\n" + host + "X : y\r\n\r\n", errHead},
		"a folded line":      {"GET / HTTP/1.1\r\n" + host + "X: y\r\n z\r\n\r\n", errHead},
		"a control byte":     {"GET / HTTP/1.1\r\n" + host + "X: y\x00\r\n\r\n", errHead},
		"a lone CR":          {"GET / HTTP/1.1\r\n" + host + "X: y\rz\r\n\r\n", errHead},
		"letters in the way": {"GET /ü HTTP/1.1\r\n" + host + "\r\n", errHead},
		"long line":          {"GET /" + strings.Repeat("a", mostHead) + " HTTP/1.1\r\n" + host + "\r\n", errLongHead},
		"many lines": {"GET / HTTP/1.1\r\n" + host + strings.Repeat("X: y\r\n", mostHead/6) + "\r\n",
			errLongHead},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if _, err := readHead(c.text); err != c.want {
				t.Errorf("%v, want %v", err, c.want)
			}
		})
	}
}

// Of heads that are damaged at random, none is taken that the standard library's server refuses or reads otherwise:
// but for its own rules on what a host's name is, which is compared letter by letter later.
func TestHeadsAsTheStandardLibraryReadsThem(t *testing.T) {
	t.Parallel()
	const good = "GET /TOKEN/seen?you=1 HTTP/1.1\r\nHost: 192.168.7.20:7204\r\nOrigin: http://a\r\n" +
		"Content-Length: 0\r\nConnection: keep-alive\r\n\r\n"
	bits := "\r\n :/?=%\x00\x7füTab0.\t"
	rng := rand.New(rand.NewPCG(7, 2))
	taken := 0
	for range effort.Of(5_000, 200_000) {
		b := []byte(good)
		for range 1 + rng.IntN(3) {
			at := rng.IntN(len(b))
			switch letter := bits[rng.IntN(len(bits))]; rng.IntN(3) {
			case 0:
				b[at] = letter
			case 1:
				b = append(b[:at:at], append([]byte{letter}, b[at:]...)...)
			default:
				b = append(b[:at:at], b[at+1:]...)
			}
		}
		r, err := readHead(string(b))
		if err != nil {
			continue
		}
		taken++
		std, err := http.ReadRequest(bufio.NewReader(strings.NewReader(string(b))))
		if err != nil {
			if said := fmt.Sprint(err); !strings.Contains(said, "Host") && !strings.Contains(said, "URI") &&
				!strings.Contains(said, "parse") && !strings.Contains(said, "Content-Length") &&
				!strings.Contains(said, "transfer encoding") && !strings.Contains(said, "method") {
				t.Fatalf("%q is taken; the standard library: %v", b, err)
			}
			continue
		}
		if std.Method != r.method || std.RequestURI != r.target ||
			len(std.Header["Origin"]) != len(r.headers[headerOrigin]) ||
			std.URL.Host == "" && std.Host != r.host() || std.ContentLength != 0 && !r.hasBody() {
			t.Fatalf("%q is read as %+v, by the standard library as %+v", b, r, std)
		}
	}
	if taken < 100 {
		t.Errorf("only %d were taken: nothing was tried", taken)
	}
}
