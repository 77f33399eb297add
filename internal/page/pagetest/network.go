// Package pagetest is for tests of the page: a network inside the process, which works in virtual time; a looker that
// takes the page's events as a browser does; an ear that hears what the page says; and real browsers, by WebDriver.
package pagetest

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
	"time"
)

// Network joins clients and one listener by pipes.
type Network struct {
	// Anywhere has the listener say that it is bound to all addresses.
	Anywhere bool

	calls  chan net.Conn
	closed chan struct{}
	once   sync.Once

	mu   sync.Mutex // guards open
	open int
}

// NewNetwork returns a network on which nobody listens yet.
func NewNetwork() *Network { return &Network{calls: make(chan net.Conn), closed: make(chan struct{})} }

// Addr is where its listener listens, whatever it was asked for, unless it is Anywhere.
const Addr = "127.0.0.1:7204"

// Listen listens.
func (n *Network) Listen(string, string) (net.Listener, error) { return n, nil }

// Accept waits for a client.
func (n *Network) Accept() (net.Conn, error) {
	select {
	case c := <-n.calls:
		n.mu.Lock()
		n.open++
		n.mu.Unlock()
		return &counted{Conn: c, of: n}, nil
	case <-n.closed:
		return nil, net.ErrClosed
	}
}

// Close ends listening.
func (n *Network) Close() error {
	n.once.Do(func() { close(n.closed) })
	return nil
}

// Addr returns where it listens.
func (n *Network) Addr() net.Addr {
	if n.Anywhere {
		return pipeAddr("[::]:7204")
	}
	return pipeAddr(Addr)
}

// Open is how many connections the listener's side has open.
func (n *Network) Open() int {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.open
}

// Dial calls the listener. A pipe holds nothing: what is sent waits to be read.
func (n *Network) Dial() (net.Conn, error) {
	near, far := net.Pipe()
	select {
	case n.calls <- far:
		return near, nil
	case <-n.closed:
		return nil, errors.New("nobody listens")
	}
}

// Client returns a client on the network.
func (n *Network) Client() *http.Client {
	return &http.Client{Transport: &http.Transport{IdleConnTimeout: time.Second,
		DialContext: func(context.Context, string, string) (net.Conn, error) { return n.Dial() }}}
}

// counted is a connection that is counted while it is open.
type counted struct {
	net.Conn
	of   *Network
	once sync.Once
}

func (c *counted) Close() error {
	c.once.Do(func() {
		c.of.mu.Lock()
		c.of.open--
		c.of.mu.Unlock()
	})
	return c.Conn.Close()
}

type pipeAddr string

// Network is the kind of address.
func (a pipeAddr) Network() string { return "tcp" }
func (a pipeAddr) String() string  { return string(a) }
