package page

import (
	"cmp"
	"image"
	"image/color"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/boombuler/barcode/qr"
)

// addressesFor is how long the machine's addresses are taken to stay. Chosen: a laptop that
// changes its network is found again soon.
const addressesFor = 5 * time.Second

// addresses are under which the page is reached.
type addresses struct {
	hosts []string // that a request may name, with the port
	shown []string // URLs, the likeliest first
	code  []string // of the first, see view.Phone
}

// allows reports whether a request may come by that name. It must be letter by letter what is
// shown, or the machine itself.
func (a *addresses) allows(host string) bool { return slices.Contains(a.hosts, host) }

// finder looks for the addresses, and keeps what it found for a while.
type finder struct {
	bound netip.AddrPort
	token string
	ask   func() []netip.Addr

	mu    sync.Mutex // guards found and at
	found *addresses
	at    time.Time
}

// newest returns the addresses.
func (f *finder) newest() *addresses {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.found == nil || time.Since(f.at) > addressesFor {
		f.found, f.at = f.look(), time.Now()
	}
	return f.found
}

func (f *finder) look() *addresses {
	port := f.bound.Port()
	a := &addresses{}
	own := []netip.Addr{f.bound.Addr().Unmap()}
	if own[0].IsUnspecified() {
		own = f.ask()
	}
	for _, ip := range own {
		host := netip.AddrPortFrom(ip, port).String()
		a.hosts = append(a.hosts, host)
		a.shown = append(a.shown, "http://"+host+"/"+f.token)
	}
	for _, loop := range []string{"127.0.0.1", "[::1]", "localhost"} {
		a.hosts = append(a.hosts, loop+":"+netPort(port))
	}
	if port == httpPort { // which a browser leaves out
		for _, h := range a.hosts {
			a.hosts = append(a.hosts, strings.TrimSuffix(h, ":"+netPort(httpPort)))
		}
	}
	if len(a.shown) == 0 {
		a.shown = []string{"http://" + a.hosts[0] + "/" + f.token}
	}
	a.code = code(a.shown[0])
	return a
}

const httpPort = 80

// machineAddresses are the machine's own addresses that another on its network may reach, the
// likeliest first: the one that leads out, then private ones, then others. Those that only hold
// on one line of it, and can't be typed into a browser, are left out.
func machineAddresses() (all []netip.Addr) {
	list, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	for _, a := range list {
		n, ok := a.(*net.IPNet)
		if !ok {
			continue
		}
		ip, ok := netip.AddrFromSlice(n.IP)
		if ip = ip.Unmap(); ok && !ip.IsLoopback() && !(ip.Is6() && ip.IsLinkLocalUnicast()) {
			all = append(all, ip)
		}
	}
	order(all, outwards())
	return all
}

// order puts the likeliest first; out is the address that leads out.
func order(all []netip.Addr, out netip.Addr) {
	rank := func(ip netip.Addr) int {
		switch {
		case ip == out:
			return 0
		case ip.Is4() && ip.IsPrivate():
			return 1
		case ip.Is4() && !ip.IsLinkLocalUnicast():
			return 2
		case ip.Is4():
			return 3
		}
		return 4
	}
	slices.SortStableFunc(all, func(a, b netip.Addr) int { return cmp.Compare(rank(a), rank(b)) })
}

// outwards is the address from which this machine would reach a far one. Nothing is sent: the
// far one is of a block kept for documents (RFC 5737).
func outwards() netip.Addr {
	c, err := net.Dial("udp4", "192.0.2.1:9")
	if err != nil {
		return netip.Addr{}
	}
	defer c.Close()
	at, err := netip.ParseAddrPort(c.LocalAddr().String())
	if err != nil {
		return netip.Addr{}
	}
	return at.Addr()
}

// quiet is how many light modules stand around a code (ISO/IEC 18004 asks for four).
const quiet = 4

// code returns the code of a URL with its quiet zone, rows of half blocks, two modules to a letter; nil where it is too
// long for one. Capitals have the smaller code, and the address means the same in them.
func code(url string) (rows []string) {
	c, err := qr.Encode(strings.ToUpper(url), qr.L, qr.Auto)
	if err != nil {
		return nil
	}
	dark := func(x, y int) bool { return image.Pt(x, y).In(c.Bounds()) && c.At(x, y) == color.Black }
	for y := -quiet; y < c.Bounds().Dy()+quiet; y += 2 {
		var row strings.Builder
		for x := -quiet; x < c.Bounds().Dx()+quiet; x++ {
			row.WriteRune(map[[2]bool]rune{{true, true}: '█', {true, false}: '▀', {false, true}: '▄',
				{false, false}: ' '}[[2]bool{dark(x, y), dark(x, y+1)}])
		}
		rows = append(rows, row.String())
	}
	return rows
}
