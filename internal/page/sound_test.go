package page_test

import (
	"fmt"
	"math"
	"net/http"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/page/pagetest"
)

// What browsers sound and speak, and what they do when the laptop is not heard of.

// said is a change of advice, and what is to be heard of it.
type said struct {
	name   string
	advice advice.Advice
	tones  []float64 // Hz
	text   string
	cut    bool
}

var changes = []said{
	{"stop", other(advice.Stop, advice.WhyReached), []float64{1700, 1700, 1700}, "stop", true},
	{"try", turn(math.NaN()), []float64{990, 660}, "one-two, anticlockwise", false},
	{"away", other(advice.Reverse, advice.WhyAway), []float64{1200, 500, 1200, 500}, "other way, anticlockwise", true},
	{"slower", other(advice.Turn, advice.WhySlower), []float64{990, 660}, "slower, anticlockwise", false},
	{"wait", advice.New(advice.Wait, advice.NoPart, advice.WhyMeasuring), nil, "wait", false},
	{"hoses", advice.New(advice.Fault, advice.NoPart, advice.WhyHoses), []float64{330, 330}, "look at the hoses", true},
	{"blip", advice.New(advice.Recheck, advice.NoPart, advice.WhyBlip), []float64{880}, "blip the throttle", false},
	{"level", advice.New(advice.Done, advice.NoPart, advice.WhyLevel), []float64{523, 784, 1046}, "level", false},
}

// first is what is told before the changes.
var first = said{tones: []float64{990, 660}, text: "one-two, anticlockwise, three eighths"}

// previous is what was told before a change.
func previous(i int) said {
	if i == 0 {
		return first
	}
	return changes[i-1]
}

// hears waits for an utterance, and returns all that was sounded and spoken until then.
func hears(b *pagetest.Browser, text string) (tones []float64, at []time.Time, spoken []pagetest.Spoken) {
	b.Await(fmt.Sprintf("%q", text), "return ears.spoken.some(s => s[0] === arguments[0])", text)
	return b.Sounds()
}

// Each change of advice has its tone and its utterance, STOP at once.
func soundsAndSpeaks(t *testing.T, b *pagetest.Browser) {
	g := newStage(t)
	b.Go(g.url)
	b.Await("the advice", "return document.querySelector('#big span') !== null")
	var silent bool
	if b.Run(&silent, "return document.querySelector('#start').getClientRects().length === 1 && "+
		"document.body.classList.contains('mute')"); !silent {
		t.Error("it does not say that it is mute")
	}
	b.Listen(0)
	if _, _, spoken := hears(b, first.text); spoken[0].Pitch >= 1 {
		t.Errorf("anticlockwise is spoken at the pitch %v", spoken[0].Pitch)
	}
	var told []string // to its end
	for i, c := range changes {
		if !c.cut {
			told = append(told, previous(i).text)
			b.Finish()
		}
		g.advise(c.advice)
		tones, at, spoken := hears(b, c.text)
		for p := previous(i); len(spoken) > 1 && spoken[0].Text == p.text; spoken = spoken[1:] {
			tones = tones[len(p.tones):] // it stood so long that it was told again
		}
		if fmt.Sprint(tones) != fmt.Sprint(c.tones) || len(spoken) != 1 {
			t.Errorf("%s: tones %v, spoken %v", c.name, tones, spoken)
		}
		if c.name == "stop" {
			t.Logf("STOP sounds %v and speaks %v after the screen's picture", at[0].Sub(g.shownAt()),
				spoken[0].At.Sub(g.shownAt()))
		}
	}
	if heard := b.Heard(); fmt.Sprint(heard) != fmt.Sprint(told) {
		t.Errorf("heard to the end: %q, wants %q: what is urgent cuts off the rest", heard, told)
	}
	b.Tap("#voice")
	b.Await("no voice", "return document.querySelector('#voice').getAttribute('aria-pressed') === 'false'")
	g.advise(changes[0].advice)
	b.Await("the tone alone", "return ears.sounded.length === 3")
	if _, _, spoken := b.Sounds(); len(spoken) != 0 {
		t.Errorf("switched off, it speaks %v", spoken)
	}
	b.Go(g.url)
	b.Await("the voice still off",
		"return document.querySelector('#voice').getAttribute('aria-pressed') === 'false'")
}

// watch measures how long after the last event the page greys its figures, and says that it hears
// nothing, in ms.
const watch = `window.grey = window.gone = 0; let last = performance.now();
new MutationObserver(() => {
  const c = document.body.classList, now = performance.now();
  if (c.contains("old") && !grey) grey = now - last;
  if (c.contains("gone") && !gone) gone = now - last;
}).observe(document.body, { attributes: true });
const json = JSON.parse; JSON.parse = s => {
  if (s.includes('"voice"')) { last = performance.now(); grey = gone = 0 }
  return json(s) }`

// Without a word from the laptop the page says so, goes on saying it, and comes back by itself: a
// server that ends and begins anew, and a laptop that sleeps for 20 s.
func saysThatItHearsNothing(t *testing.T, b *pagetest.Browser) {
	g := newStage(t)
	b.Go(g.url)
	b.Await("the advice", "return document.querySelector('#big span') !== null")
	b.Listen(0.5)
	hears(b, "one-two, anticlockwise, three eighths")
	b.Run(nil, watch)
	lost := func(why string) {
		tones, _, _ := hears(b, "no word from the laptop")
		if fmt.Sprint(tones) != "[330 330]" {
			t.Errorf("%s: tones %v", why, tones)
		}
		var after [2]float64
		b.Run(&after, "return [grey, gone]")
		t.Logf("%s: figures grey after %.0f ms, said after %.0f ms", why, after[0], after[1])
		if after[0] <= 0 || after[0] > after[1] {
			t.Errorf("%s: grey after %.0f, said after %.0f ms", why, after[0], after[1])
		}
	}
	back := func(why string) {
		b.Await("the figures after "+why, "return !document.body.classList.contains('gone') && "+
			"!document.body.classList.contains('old')")
		hears(b, "one-two, anticlockwise, three eighths")
	}
	g.sleep(true)
	lost("asleep")
	begun := time.Now()
	for time.Since(begun) < 20*time.Second {
		hears(b, "no word from the laptop") // again and again
	}
	g.sleep(false)
	back("the sleep")
	g.end()
	lost("server ended")
	g.begin()
	back("the restart")
}

// shownAt is when the newest view was shown first.
func (g *stage) shownAt() time.Time {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.shown
}

// The seventeenth browser is told why it sees nothing.
func tellsTheSeventeenth(t *testing.T, b *pagetest.Browser) {
	g := newStage(t)
	for range 16 {
		go pagetest.Look(t.Context(), http.DefaultClient, g.url, func(pagetest.Event) {})
	}
	for g.looking() < 16 {
		time.Sleep(10 * time.Millisecond)
	}
	b.Go(g.url)
	b.Await("why", "return document.querySelector('#lost').innerText.includes('Too many phones look at it')")
}
