package page

import (
	"crypto/rand"
	"crypto/subtle"
	"net/http"
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

// ServeHTTP answers a request, if it comes by a name of ours (a foreign name may have been
// pointed at this machine by a page that wants to read here), only reads, and has the token.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	http.NewResponseController(w).SetWriteDeadline(time.Now().Add(mostAnswer))
	h := w.Header()
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Referrer-Policy", "no-referrer") // the token stands in the address
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	origin := r.Header.Get("Origin")
	token, rest, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	switch {
	// A request for a whole address has a name of its own beside Host.
	case r.URL.Host != "" || r.URL.Scheme != "" || !s.reached().allows(r.Host),
		len(r.Header.Values("Origin")) > 1 || origin != "" && origin != "http://"+r.Host:
		http.Error(w, "not by this name", http.StatusMisdirectedRequest)
	case r.Method != http.MethodGet && r.Method != http.MethodHead:
		h.Set("Allow", "GET, HEAD")
		http.Error(w, "it can only be read", http.StatusMethodNotAllowed)
	case r.ContentLength != 0:
		h.Set("Connection", "close")
		http.Error(w, "it takes nothing", http.StatusRequestEntityTooLarge)
	case subtle.ConstantTimeCompare([]byte(strings.ToUpper(token)), []byte(s.token)) != 1:
		http.Error(w, "not here", http.StatusNotFound)
	case rest == "":
		h.Set("Content-Type", "text/html; charset=utf-8")
		w.Write(pageText)
	case rest == "live":
		s.live(w, r)
	case rest == "seen":
		s.seen(w, r)
	default:
		http.Error(w, "not here", http.StatusNotFound)
	}
}
