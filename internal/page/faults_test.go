package page_test

import (
	"errors"
	"net"
	"net/http"
	"strings"
	"testing"

	"evendraw/internal/page"
	"evendraw/internal/page/pagetest"
)

// broken is a listener whose first connections panic when they are written to.
type broken struct {
	net.Listener
	left int
}

type panicking struct{ net.Conn }

func (panicking) Write([]byte) (int, error) { panic("invented") }

func (b *broken) Accept() (net.Conn, error) {
	c, err := b.Listener.Accept()
	if err == nil && b.left > 0 {
		b.left--
		c = panicking{c}
	}
	return c, err
}

// Where the usual port is in use, the page is on another, and knows it.
func TestATakenPortIsMovedFrom(t *testing.T) {
	t.Parallel()
	for _, taken := range []bool{false, true} {
		n := pagetest.NewNetwork()
		s, err := page.Open(page.Options{Token: token, Listen: func(network, addr string) (net.Listener, error) {
			if taken && strings.HasSuffix(addr, ":7204") {
				return nil, errors.New("in use")
			}
			return n.Listen(network, addr)
		}})
		if err != nil {
			t.Fatal(err)
		}
		if s.Moved() != taken {
			t.Errorf("the port taken %v, moved %v", taken, s.Moved())
		}
		s.Close()
	}
}

// What breaks the program's own rules ends its connection alone, and is told.
func TestAPanicIsTold(t *testing.T) {
	t.Parallel()
	n := pagetest.NewNetwork()
	s, err := page.Open(page.Options{Token: token, Listen: func(network, addr string) (net.Listener, error) {
		l, err := n.Listen(network, addr)
		return &broken{l, 2}, err
	}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Fault(); err != nil {
		t.Error(err)
	}
	const request = "GET /" + token + " HTTP/1.1\r\nHost: " + pagetest.Addr + "\r\n\r\n"
	for _, want := range []string{"ended a phone's connection: invented", "ended 2 connections"} {
		if a := ask(t, n, request); a != nil {
			t.Errorf("answered: %v", a)
		}
		if err := s.Fault(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("told %v, wants %q", err, want)
		}
	}
	if a := ask(t, n, request); a == nil || a.StatusCode != http.StatusOK {
		t.Errorf("the next gets %v", a)
	}
}
