package view

import (
	"fmt"

	"evendraw/internal/plain"
)

// Phone is what is known of the page that phones look at.
type Phone struct {
	// Addresses are the URLs under which it is reached, the likeliest first; they are secret.
	Addresses []string
	// Code is the first of them as a square to scan, rows of half blocks for black ink on white; nil without one.
	Code []string
	// Looking is how many look, and Most how many may.
	Looking, Most int
	// Words are what stands beside the addresses; Picture fills them in.
	Words []string
}

const (
	LaptopLost = "no word from the laptop" // said by a phone that hears nothing from this program
	// NoCodeRoom and NoCodeSigns say why there is no code to scan.
	NoCodeRoom  = "A larger window shows a code to scan too."
	NoCodeSigns = "A code to scan takes more than plain ASCII."
	// PhoneWords stand above the addresses of the page.
	PhoneWords = "The page for a phone or tablet on the same network, the likeliest address first:"
)

// phone returns the page as it is shown.
func (v *View) phone() *Phone {
	p := *v.Phone
	p.Words = []string{
		"Only for eyes and ears: nothing can be changed from there. Anyone with this address " +
			"can look: show it to nobody else.",
		fmt.Sprintf("%s looking now; up to %d can.", plain.Count(p.Looking, "phone"), p.Most),
		"It does not open there? Phone and laptop must be in the same network, not a guest one. Does this " +
			"laptop's firewall ask? Allow it.",
	}
	return &p
}
