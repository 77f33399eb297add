package learned

import "testing"

// A hand that rests in an amount that is hardly begun is given time, one that has made it is not; one that has gone on
// by itself is given time at each rest.
func TestAHandThatMakesPartsIsGivenTime(t *testing.T) {
	var p Parts
	if p.Wait(10, 3, 0.3, 0.375) || p.Wait(10, 3, 0.05, 0.125) {
		t.Error("an amount that is made, or small, is waited for")
	}
	if !p.Wait(10, 3, 0.125, 0.375) || p.GoOn(3.05, 0.1) || !p.Wait(13, 3, 0.125, 0.375) {
		t.Error("a third of an amount is not waited for")
	}
	if p.Wait(10.1+partSeconds, 3, 0.125, 0.375) {
		t.Error("waited for ever")
	}
	p.Begin()
	p.Wait(20, 3, 0.125, 0.375)
	if !p.GoOn(2.5, 0.1) || p.GoOn(2.4, 0.1) {
		t.Error("a hand that moves on is not seen, or twice")
	}
	if !p.Wait(23, 2, 0.25, 0.375) || p.Wait(23, 2, 0.36, 0.375) {
		t.Error("a hand that went on is given no time for the last part, or some once that is made")
	}
	if p.Wait(30, 2, 0.25, 0.375); p.Wait(31, 2, 0.2, 0.375) {
		t.Error("a hand that no longer goes on is waited for as one that does")
	}
}
