package page

import (
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"net"
	"net/netip"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"evendraw/internal/view"
	"evendraw/internal/voice"
)

// Port is where the page is served unless another is asked for. Chosen: 720 degrees, four cylinders.
const Port = 7204

// Bounds of a request. Chosen: a browser on a poor network keeps them.
const (
	mostHeadTime = 2 * time.Second
	mostIdle     = 15 * time.Second
	mostHead     = 8 << 10 // bytes
)

// Options choose how the page is served.
type Options struct {
	// Addr is the address and port to bind; "" is every address, at Port, or where that is taken at
	// a port that is free.
	Addr string
	// Token stands in the address; "" is a new one.
	Token string
	// Listen opens the port; nil is net.Listen.
	Listen func(network, addr string) (net.Listener, error)
	// Addresses are the machine's own, the likeliest first; nil asks the system.
	Addresses func() []netip.Addr
}

// Server serves the page.
type Server struct {
	token   string
	finder  finder
	newest  atomic.Pointer[shot] // that is shown
	voice   voice.Voice          // of Show alone
	lookers lookers
	conns   *conns
	faults  faults
	moved   bool // see Moved
	end     context.CancelFunc
	ended   chan struct{}
}

// Open begins to serve. It fails where the port can't be had.
func Open(o Options) (*Server, error) {
	if o.Listen == nil {
		o.Listen = net.Listen
	}
	if o.Addresses == nil {
		o.Addresses = machineAddresses
	}
	if o.Token == "" {
		o.Token = NewToken()
	}
	l, moved, err := listen(&o)
	if err != nil {
		return nil, fmt.Errorf("the page: %w", err)
	}
	bound, err := netip.ParseAddrPort(l.Addr().String())
	if err != nil {
		l.Close()
		return nil, fmt.Errorf("the page: %w", err)
	}
	s := &Server{token: o.Token, finder: finder{bound: bound, token: o.Token, ask: o.Addresses},
		lookers: lookers{seen: map[uint64]time.Time{}}, ended: make(chan struct{}),
		moved: moved}
	s.newest.Store(newShot(view.Picture{}, voice.Utterance{}))
	var ctx context.Context
	ctx, s.end = context.WithCancel(context.Background())
	s.conns = &conns{listener: l}
	go func() {
		defer close(s.ended)
		s.serveAll(ctx, s.conns)
	}()
	return s, nil
}

// listen binds the address that was asked for, or the usual port, or where that is not to be had another: it has moved.
func listen(o *Options) (l net.Listener, moved bool, err error) {
	if o.Addr != "" {
		l, err = o.Listen("tcp", o.Addr)
		return l, false, err
	}
	if l, err = o.Listen("tcp", ":"+netPort(Port)); err == nil {
		return l, false, nil
	}
	l, err = o.Listen("tcp", ":0")
	return l, true, err
}

func netPort(port uint16) string { return strconv.Itoa(int(port)) }

// Show makes a view the one that is looked at. It is to be called about twenty times a second,
// by one goroutine: it tells lookers that the program is alive. What the laptop's screen shows
// beside the step at hand, as help, is not shown.
func (s *Server) Show(v view.View) {
	v.Page, v.Alone = view.PageStep, false
	p := v.Picture()
	before := s.newest.Swap(newShot(p, s.voice.Push(v.Now, &p.Words)))
	close(before.next)
}

// Phone is what the screen shows of the page.
func (s *Server) Phone() view.Phone {
	a := s.finder.newest()
	return view.Phone{Addresses: a.shown, Code: a.code, Looking: s.lookers.count(), Most: mostLooking}
}

// Moved reports whether the page is on another port than Port, as that was not to be had.
func (s *Server) Moved() bool { return s.moved }

// Close ends the page at once, whoever looks.
func (s *Server) Close() error {
	s.end()
	err := s.conns.close()
	<-s.ended
	return err
}

//go:embed page.html
var pageSource string

// pageText is the page, and contentPolicy what it may do: run its own script and style, and ask
// this server. Its fixed words that are spoken come from package view.
var (
	pageText      = []byte(strings.ReplaceAll(pageSource, "{{lost}}", view.LaptopLost))
	contentPolicy = "default-src 'none'; script-src " + hashOf("script") + "; style-src " + hashOf("style") +
		"; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

// hashOf is the policy's word for what an element of the page holds (W3C Content Security Policy 3).
func hashOf(element string) string {
	_, rest, _ := strings.Cut(string(pageText), "<"+element+">")
	inner, _, _ := strings.Cut(rest, "</"+element+">")
	sum := sha256.Sum256([]byte(inner))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
