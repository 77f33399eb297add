package page

import (
	"crypto/rand"
	"crypto/subtle"
	"strings"
	"time"
)

// tokenLength is the letters of a token, five bits each: 60 bits, which nobody guesses over a
// network in the hours that a page lives.
const tokenLength = 12

// NewToken returns an unguessable token, of capitals and figures that are not taken for one
// another (RFC 4648, base 32: no 0, 1, 8, 9).
func NewToken() string { return rand.Text()[:tokenLength] }

// GoodToken reports whether a text has the form of a token.
func GoodToken(s string) bool {
	return len(s) == tokenLength && strings.Trim(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567") == ""
}

// mostAnswer is how long a browser may take for its request's answer, pictures apart. Chosen.
const mostAnswer = 5 * time.Second

// fixedHeaders are in every answer.
var fixedHeaders = []string{
	"Cache-Control: no-store",
	"Content-Security-Policy: " + contentPolicy,
	"Cross-Origin-Resource-Policy: same-origin",
	"Referrer-Policy: no-referrer", // the token stands in the address
	"X-Content-Type-Options: nosniff",
	"X-Frame-Options: DENY",
}

// serve answers a request, if it comes by a name of ours (a foreign name may have been
// pointed at this machine by a page that wants to read here), only reads, and has the token.
func (s *Server) serve(a *answer) {
	path, query, ours := a.path()
	origins := a.headers[headerOrigin]
	token, rest, _ := strings.Cut(strings.TrimPrefix(path, "/"), "/")
	a.close = a.close || a.hasBody() // what follows is no request
	switch {
	// A request for a whole address has a name of its own beside Host.
	case !ours || !s.finder.newest().allows(a.host()), len(origins) > 1,
		len(origins) == 1 && origins[0] != "http://"+a.host():
		a.refuse(statusMisdirected, "not by this name")
	case a.method != methodGet && a.method != methodHead:
		a.refuse(statusNotAllowed, "it can only be read", "Allow: GET, HEAD")
	case a.hasBody():
		a.refuse(statusTooLarge, "it takes nothing")
	case subtle.ConstantTimeCompare([]byte(strings.ToUpper(token)), []byte(s.token)) != 1:
		a.refuse(statusNotFound, "not here")
	case rest == "":
		a.send(statusOK, contentPage, pageText)
	case rest == "live":
		s.live(a)
	case rest == "seen":
		s.seen(query)
		a.send(statusNoContent, "", nil)
	default:
		a.refuse(statusNotFound, "not here")
	}
}
