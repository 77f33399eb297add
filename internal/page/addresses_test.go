package page_test

import (
	"fmt"
	"net/netip"
	"slices"
	"strings"
	"testing"

	"evendraw/internal/page"
)

func addrs(texts ...string) (all []netip.Addr) {
	for _, s := range texts {
		all = append(all, netip.MustParseAddr(s))
	}
	return all
}

// The likeliest address comes first, and all are there.
func TestOrder(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		out  string
		want []string
	}{
		{"172.20.0.3", []string{"172.20.0.3", "10.0.0.2", "192.168.7.20", "203.0.113.5", "169.254.3.4", "fd00::20"}},
		{"203.0.113.5", []string{"203.0.113.5", "10.0.0.2", "172.20.0.3", "192.168.7.20", "169.254.3.4", "fd00::20"}},
		{"198.51.100.1", []string{"10.0.0.2", "172.20.0.3", "192.168.7.20", "203.0.113.5", "169.254.3.4", "fd00::20"}},
	} {
		got := addrs("fd00::20", "169.254.3.4", "203.0.113.5", "10.0.0.2", "172.20.0.3", "192.168.7.20")
		page.Order(got, netip.MustParseAddr(c.out))
		if !slices.Equal(got, addrs(c.want...)) {
			t.Errorf("out by %s: %v", c.out, got)
		}
	}
}

func TestReached(t *testing.T) {
	t.Parallel()
	own := addrs("192.168.7.20", "fd00::20")
	const loops = " 127.0.0.1:7204 [::1]:7204 localhost:7204"
	for _, c := range []struct {
		bound, hosts, urls string
		own                []netip.Addr
	}{
		{"[::]:7204", "192.168.7.20:7204 [fd00::20]:7204" + loops,
			"http://192.168.7.20:7204/T http://[fd00::20]:7204/T", own},
		{"0.0.0.0:7204", strings.TrimPrefix(loops, " "), "http://127.0.0.1:7204/T", nil},
		{"127.0.0.1:7204", "127.0.0.1:7204" + loops, "http://127.0.0.1:7204/T", own},
		{"[::ffff:192.168.7.20]:7204", "192.168.7.20:7204" + loops, "http://192.168.7.20:7204/T", own},
		{"192.168.7.20:80", "192.168.7.20:80 127.0.0.1:80 [::1]:80 localhost:80 192.168.7.20 127.0.0.1 [::1] localhost",
			"http://192.168.7.20:80/T", own},
	} {
		hosts, urls := page.Reached(netip.MustParseAddrPort(c.bound), c.own)
		if fmt.Sprint(hosts) != "["+c.hosts+"]" || fmt.Sprint(urls) != "["+c.urls+"]" {
			t.Errorf("%s: %v, %v", c.bound, hosts, urls)
		}
	}
}
