package page

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"strings"
	"sync"
	"time"
)

// What the page needs of HTTP/1.1 (RFC 9110, RFC 9112), and no more: requests without a body, answers of known
// length, and one that ends with its connection. The standard library's server brings TLS along, a fifth of the
// program; here nothing is encrypted. Whatever does not follow the grammar by letter is refused.

// Statuses of answers (RFC 9110, 15).
const (
	statusOK            = "200 OK"
	statusNoContent     = "204 No Content"
	statusBad           = "400 Bad Request"
	statusNotFound      = "404 Not Found"
	statusNotAllowed    = "405 Method Not Allowed"
	statusTooLarge      = "413 Content Too Large"
	statusMisdirected   = "421 Misdirected Request"
	statusHeadTooLarge  = "431 Request Header Fields Too Large"
	statusUnavailable   = "503 Service Unavailable"
	contentPlain        = "text/plain; charset=utf-8"
	contentPage         = "text/html; charset=utf-8"
	contentEvents       = "text/event-stream"
	httpDate            = "Mon, 02 Jan 2006 15:04:05 GMT" // of RFC 9110, 5.6.7
	tokenLetters        = "!#$%&'*+-.^_`|~"               // of RFC 9110, 5.6.2, beside letters and digits
	methodGet           = "GET"
	methodHead          = "HEAD"
	headerHost          = "host"
	headerOrigin        = "origin"
	headerConnection    = "connection"
	headerContentLength = "content-length"
	headerEncoding      = "transfer-encoding"
)

// request is the head of a request.
type request struct {
	method, target string
	old            bool // HTTP/1.0
	headers        map[string][]string
}

// path is what of the target comes before the query; ok is false where that is no path on this server.
func (r *request) path() (path, query string, ok bool) {
	path, query, _ = strings.Cut(r.target, "?")
	return path, query, strings.HasPrefix(path, "/")
}

// host is the name that the request is for, "" where there is none.
func (r *request) host() string { return strings.Join(r.headers[headerHost], ",") }

// hasBody reports whether something comes behind the head.
func (r *request) hasBody() bool {
	length := r.headers[headerContentLength]
	return len(r.headers[headerEncoding]) > 0 || len(length) > 0 && !(len(length) == 1 && length[0] == "0")
}

// stays reports whether the connection stays open for another request.
func (r *request) stays() bool {
	return !r.old && !strings.Contains(strings.ToLower(strings.Join(r.headers[headerConnection], ",")), "close")
}

var errHead = errors.New("the request's head is not of HTTP/1.1")
var errLongHead = errors.New("the request's head is too long")

// readRequest reads the head of a request of at most mostHead bytes.
func readRequest(in *bufio.Reader) (*request, error) {
	left := mostHead
	line := func() (string, error) {
		text, err := in.ReadSlice('\n')
		if left -= len(text); left < 0 || errors.Is(err, bufio.ErrBufferFull) {
			return "", errLongHead
		}
		if err != nil {
			return "", err
		}
		return strings.TrimSuffix(strings.TrimSuffix(string(text), "\n"), "\r"), nil
	}
	first, err := line()
	if err != nil {
		return nil, err
	}
	parts := strings.Split(first, " ")
	if len(parts) != 3 || !isToken(parts[0]) || !isPlain(parts[1]) ||
		parts[2] != "HTTP/1.1" && parts[2] != "HTTP/1.0" {
		return nil, errHead
	}
	r := &request{method: parts[0], target: parts[1], old: parts[2] == "HTTP/1.0", headers: map[string][]string{}}
	for {
		text, err := line()
		if err != nil {
			return nil, err
		}
		if text == "" {
			break
		}
		name, value, ok := strings.Cut(text, ":")
		if value = strings.Trim(value, " \t"); !ok || !isToken(name) || strings.ContainsFunc(value, isControl) {
			return nil, errHead
		}
		name = strings.ToLower(name)
		r.headers[name] = append(r.headers[name], value)
	}
	if hosts := len(r.headers[headerHost]); hosts > 1 || hosts == 0 && !r.old {
		return nil, errHead
	}
	return r, nil
}

// isToken reports whether a text is a token (RFC 9110, 5.6.2).
func isToken(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(r rune) bool {
		return !(r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' ||
			strings.ContainsRune(tokenLetters, r))
	})
}

// isPlain reports whether a target holds visible ASCII alone.
func isPlain(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(r rune) bool { return r <= ' ' || r >= 0x7f })
}

func isControl(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }

// answer is where the answer to a request goes.
type answer struct {
	*request
	conn  *conn
	close bool // the connection ends with the answer
}

// head writes the status and the headers; a length of -1 is that of a stream, which ends with the connection.
func (a *answer) head(status, kind string, length int, more ...string) []byte {
	h := fmt.Appendf(nil, "HTTP/1.1 %s\r\nDate: %s\r\n", status, time.Now().UTC().Format(httpDate))
	for _, line := range append(fixedHeaders, more...) {
		h = append(append(h, line...), "\r\n"...)
	}
	if kind != "" {
		h = fmt.Appendf(h, "Content-Type: %s\r\n", kind)
	}
	if length >= 0 && status != statusNoContent {
		h = fmt.Appendf(h, "Content-Length: %d\r\n", length)
	}
	if a.close = a.close || length < 0; a.close {
		h = append(h, "Connection: close\r\n"...)
	}
	return append(h, "\r\n"...)
}

// send writes an answer of known length; its body is left out where only the head was asked for.
func (a *answer) send(status, kind string, body []byte, more ...string) {
	text := a.head(status, kind, len(body), more...)
	if a.request == nil || a.method != methodHead {
		text = append(text, body...)
	}
	a.conn.SetWriteDeadline(time.Now().Add(mostAnswer))
	if _, err := a.conn.Write(text); err != nil {
		a.close = true
	}
}

// refuse says why nothing is given.
func (a *answer) refuse(status, why string, more ...string) {
	a.send(status, contentPlain, []byte(why+"\n"), more...)
}

// talk answers the requests of a connection until one of both ends it.
func (s *Server) talk(ctx context.Context, c *conn) {
	defer c.Close()
	defer func() { // a request that breaks the program's own rules ends its connection alone
		if p := recover(); p != nil {
			s.faults.note(p)
		}
	}()
	in := bufio.NewReaderSize(c, mostHead)
	wait := mostHeadTime // whoever calls has something to ask
	for stays := true; stays && ctx.Err() == nil; wait = mostIdle {
		c.SetReadDeadline(time.Now().Add(wait))
		if _, err := in.Peek(1); err != nil {
			return
		}
		c.SetReadDeadline(time.Now().Add(mostHeadTime))
		r, err := readRequest(in)
		a := &answer{request: r, conn: c}
		switch {
		case errors.Is(err, errLongHead):
			a.close = true
			a.refuse(statusHeadTooLarge, err.Error())
		case errors.Is(err, errHead):
			a.close = true
			a.refuse(statusBad, err.Error())
		case err != nil:
			return
		default:
			a.close = !r.stays()
			s.serve(a)
		}
		stays = !a.close
	}
}

// faults are the program's own errors that ended a connection.
type faults struct {
	mu    sync.Mutex // guards both below
	count int
	first string
}

// note counts what a connection panicked with.
func (f *faults) note(panicked any) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.count++; f.count == 1 {
		f.first = fmt.Sprint(panicked)
	}
}

// Fault tells how many connections an error of the program itself has ended, and what the first was; nil where none
// was.
func (s *Server) Fault() error {
	s.faults.mu.Lock()
	defer s.faults.mu.Unlock()
	switch n := s.faults.count; n {
	case 0:
		return nil
	case 1:
		return fmt.Errorf("internal error of the page, which ended a phone's connection: %s", s.faults.first)
	default:
		return fmt.Errorf("internal errors of the page, which ended %d connections of phones, the first: %s", n,
			s.faults.first)
	}
}

// gone is closed once the browser has ended the connection, or says more than it was asked for.
func (a *answer) gone() <-chan struct{} {
	gone := make(chan struct{})
	a.conn.SetReadDeadline(time.Time{})
	go func() {
		defer close(gone)
		io.ReadFull(a.conn, make([]byte, 1))
	}()
	return gone
}

// serveAll takes connections until the listener is closed.
func (s *Server) serveAll(ctx context.Context, l *conns) {
	for ctx.Err() == nil {
		c, err := l.accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil: // too many files are open, say
			time.Sleep(acceptWait)
		default:
			go s.talk(ctx, c)
		}
	}
}

// acceptWait is the time between two tries to take a connection. Chosen.
const acceptWait = 50 * time.Millisecond
