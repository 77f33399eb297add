package view

import (
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/session"
)

// wordStands is how long a large word stands at least: one that is gone sooner was not said. Chosen: a
// glance a second, and the eye.
const wordStands = 1200 * time.Millisecond

// wordHold keeps the words that are shown from one tick to the next.
type wordHold struct {
	words Words
	step  Step      // in which they are told
	since time.Time // when the large word was first shown; zero is none
	short bool      // they may be of a channel that is at fault for a moment
	going bool      // a hand was on its way to the amount that they tell
	more  bool      // the amount is another than the one before, of the same size
	at    time.Time // the tick that the words are of
	acted time.Time // when a key was last pressed that answers the words
	past  Words     // those words
}

// answerTime is how long after such a key the words that it answered change at once: what was answered must not be
// read, and answered, again. Chosen: the answer's way through the session and back.
const answerTime = time.Second

// eyeTime is how long a large word must have stood for a key to be its answer: an earlier one is of the word before.
// Chosen: what the eye and the finger need at the least.
const eyeTime = 300 * time.Millisecond

// answered is the hold after a key that is pressed now; to WAIT none is an answer that the nut's or a fault's could be.
func (h *wordHold) answered(now time.Time, key string) wordHold {
	least := eyeTime
	if h.words.Big == bigWait && (key == "g" || key == KeyEnter || key == " ") {
		least = wordStands
	}
	if now.Sub(h.since) < least {
		kept := *h
		kept.past = Words{}
		return kept
	}
	return wordHold{past: h.words}
}

// Large words that come at once, whatever stood before.
const (
	BigStop      = "STOP"
	BigOtherWay  = "OTHER WAY"
	BigEngineOff = "ENGINE OFF"
	bigStart     = "START" // see mayStart
	bigWait      = "WAIT"  // which asks for nothing
	// bigNoChange asks whether a screw was turned: it is no word to a hand that has come right, as STOP is.
	bigNoChange = "NO CHANGE"
)

// urgent reports whether a large word comes at once.
func urgent(big string) bool {
	return big == BigStop || big == BigOtherWay || strings.HasPrefix(big, BigEngineOff)
}

// holdWords takes the words of a tick. A large word stands for wordStands, but before a fault other than a channel's,
// before and after an urgent one that is not of a channel, and where its reading is old; where figures are gone, the
// source has ended, a zero pass counts, or another step begins, nothing is held. An amount told anew is marked where it
// looks like the old.
func (v *View) holdWords() {
	r := v.reading()
	blank := r != nil && v.age() > blankAfter
	now := v.words(r, blank)
	if blank || r == nil || v.Snap.Phase != session.Running || v.snap().Zero.Running {
		v.hold = wordHold{acted: v.hold.acted, past: v.hold.past}
		return
	}
	h := &v.hold
	old := &h.words
	counts := now.Arrow == 0 && !r.Advice.ToTurn(advice.SyncScrew) // an amount without a way is a countdown
	same := old.sameAs(&now) && (counts || old.Amount == now.Amount)
	under := r.Advice.Why == advice.WhyKeepOn || r.Advice.Why == advice.WhySlower
	anew := same && h.going && !under && r.Advice.ToTurn(advice.SyncScrew)
	turn := h.mayChange(v, &now) // the one place that decides it
	h.going = now.Amount != "" && (under || h.going && same && !(anew && turn))
	switch {
	case same && !h.since.IsZero() && !(anew && turn):
		h.words = now
	case turn: // an amount told anew is told apart from what was just turned
		h.words, h.since, h.short, h.more = now, v.Now, r.Advice.Why == advice.WhyChannel, h.more != anew && same
	}
	h.at, h.step = v.Now, v.Flow.At
}

// mayChange reports whether the large word may give way to another now.
func (h *wordHold) mayChange(v *View, now *Words) bool {
	channel := v.reading().Advice.Why == advice.WhyChannel
	return h.since.IsZero() || v.Now.Sub(h.acted) < answerTime && h.words.sameAs(&h.past) || v.faultShown() ||
		urgent(now.Big) && !channel || urgent(h.words.Big) && !h.short || v.stale() ||
		v.Now.Sub(h.since) >= wordStands || h.step != v.Flow.At
}

// sameAs reports whether two large words are alike but for an amount.
func (w *Words) sameAs(o *Words) bool {
	return w.Big == o.Big && w.Screw == o.Screw && w.Arrow == o.Arrow
}

// orderSeconds is for how long an engine must run without a fault until what was to be looked at is done with. Chosen:
// longer than one that was switched off still turns.
const orderSeconds = 5

// keepOrder keeps the words of a fault, of a leak that is heard, or of a level bank in doubt, for the time in which the
// engine stands because of them; those of a screw that nothing answers to also while there is none but to wait, as the
// hand that turns it back disturbs the idle.
func (v *View) keepOrder() {
	v.noChange = v.noChange && v.turning() && v.reading().Advice.Kind == advice.Wait
	if !v.turning() || !v.Flow.Off && !v.Flow.At.live() {
		return
	}
	air := v.air()
	switch a := &v.reading().Advice; {
	case v.faultShown() || v.overrides(a) || v.inDoubt() || air != nil && leakHeard(air).fresh:
		v.order, v.orderAt = v.freshWords(v.reading(), false), v.Now
		if v.ordered = v.order.Big; v.ordered == v.early && v.Now.Sub(v.earlyAt) < orderSeconds*time.Second {
			v.early = ""
			v.goPast()
		}
		v.noChange = v.order.Big == bigNoChange
	case !v.noChange && v.Now.Sub(v.orderAt) > orderSeconds*time.Second:
		v.order = Words{}
	}
}

// heldWords are the words to show.
func (v *View) heldWords(r *balance.Reading, blank bool) Words {
	if h := &v.hold; !h.since.IsZero() && h.at.Equal(v.Now) && h.step == v.Flow.At {
		w := h.words
		if h.more && w.Arrow != 0 { // else the sign would look like a way
			w.Amount = "+" + strings.TrimPrefix(w.Amount, "+")
		}
		return w
	}
	return v.words(r, blank)
}
