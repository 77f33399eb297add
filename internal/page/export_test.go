package page

import "net/netip"

// What tests from outside want to know.
const (
	MostUnseen = mostUnseen
	MostConns  = mostConns
)

// Order is order.
var Order = order

// Reached is under which hosts and URLs a page is reached that is bound there, on a machine with
// these addresses.
func Reached(bound netip.AddrPort, own []netip.Addr) (hosts, urls []string) {
	f := finder{bound: bound, token: "T", ask: func() []netip.Addr { return own }}
	a := f.newest()
	return a.hosts, a.shown
}
