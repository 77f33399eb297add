package page_test

import (
	"cmp"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/effort"
	"evendraw/internal/page"
	"evendraw/internal/page/pagetest"
	"evendraw/internal/view"
)

// The page in real browsers. What they should do is waited for, however long it takes.

// stage shows a view twenty times a second, as the screen does.
type stage struct {
	t       *testing.T
	address string // host and port
	url     string
	mu      sync.Mutex // guards what follows
	server  *page.Server
	view    view.View
	asleep  bool
	news    bool      // the view is another
	shown   time.Time // when the newest view was shown first
}

func newStage(t *testing.T) *stage {
	t.Helper()
	g := &stage{t: t, address: "127.0.0.1:0", view: levelling(turn(0.375))}
	g.begin()
	ended, end := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		for tick := time.NewTicker(50 * time.Millisecond); ; {
			select {
			case <-tick.C:
				g.tick()
			case <-end:
				return
			}
		}
	}()
	t.Cleanup(func() {
		close(end)
		<-ended
		g.end()
	})
	return g
}

// begin serves the page, under the address that it had.
func (g *stage) begin() {
	s, err := page.Open(page.Options{Addr: g.address, Token: token})
	if err != nil {
		g.t.Fatal(err)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.server, g.url = s, s.Phone().Addresses[0]
	g.address = strings.Split(g.url, "/")[2]
}

// end ends the server.
func (g *stage) end() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.server.Close()
}

func (g *stage) tick() {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.asleep {
		return
	}
	now := time.Now()
	snap := *g.view.Snap
	snap.LastFrame = now
	g.view = view.Update(g.view, view.Tick{Now: now, Snap: &snap})
	if g.news {
		g.news, g.shown = false, now
	}
	g.server.Show(g.view)
}

func (g *stage) looking() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.server.Phone().Looking
}

// advise shows another advice.
func (g *stage) advise(a advice.Advice) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.view, g.news = levelling(a), true
}

// sleep has the laptop asleep, or awake.
func (g *stage) sleep(asleep bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.asleep = asleep
}

// inBrowsers runs parts of a test in each engine, one after the other in one browser.
func inBrowsers(t *testing.T, list parts) {
	t.Parallel()
	effort.ForWhole(t, "the page in real browsers")
	for _, e := range pagetest.Engines() {
		t.Run(e.Name, func(t *testing.T) {
			t.Parallel()
			b := e.Open(t)
			for name, part := range list {
				t.Run(name, func(t *testing.T) { part(t, b.For(t)) })
			}
		})
	}
}

type parts = map[string]func(*testing.T, *pagetest.Browser)

func TestPageInBrowsers(t *testing.T) {
	inBrowsers(t, parts{"fits phones": fitsPhones, "can be read by all": canBeReadByAll,
		"sounds and speaks":     soundsAndSpeaks,
		"tells the seventeenth": tellsTheSeventeenth})
}

func TestPageInBrowsersWithoutTheLaptop(t *testing.T) {
	inBrowsers(t, parts{"says that it hears nothing": saysThatItHearsNothing})
}

// phones are two sizes of phones, in their own pixels.
var phones = [][2]int{{390, 844}, {360, 640}}

// layout says what is wrong with where things stand: the large advice is at least a third of the
// page, nothing is cut off and nothing lies on anything else.
const layout = `
const out = [], box = e => e.getBoundingClientRect(), H = innerHeight, W = innerWidth;
const rows = [...document.querySelectorAll("#big > div")].map(box);
const tall = Math.max(...rows.map(r => r.bottom)) - Math.min(...rows.map(r => r.top));
if (tall < H / 3) out.push("the advice is " + tall + " of " + H);
for (const e of document.querySelectorAll("#big span, #big svg, header span, .lane, .lane span, footer *")) {
  const r = box(e);
  if (r.width && (r.left < -1 || r.right > W + 1 || r.top < -1 || r.bottom > H + 1)) out.push(e.outerHTML.slice(0, 80) + " is cut off");
}
for (const e of document.querySelectorAll(".lane")) if (box(e).height < 24) out.push("a lane is " + box(e).height);
const parts = [...document.querySelectorAll("header, #big, #say, #lanes, footer")].map(e => [e, box(e)]);
for (const [a, r] of parts) for (const [b, s] of parts) {
  if (a !== b && r.left < s.right - 1 && s.left < r.right - 1 && r.top < s.bottom - 1 && s.top < r.bottom - 1)
    out.push((a.id || a.tagName) + " lies on " + (b.id || b.tagName));
}
return out.join("; ");`

// inLetters is a word or a name as it stands in the large letters, without blanks.
func inLetters(word string) string { return strings.ReplaceAll(view.Between(word), " ", "") }

func fitsPhones(t *testing.T, b *pagetest.Browser) {
	g := newStage(t)
	b.Go(g.url)
	for _, size := range phones {
		for _, size := range [][2]int{size, {size[1], size[0]}} {
			b.Size(size[0], size[1])
			for name, a := range map[string]advice.Advice{"turn": turn(0.375), "mixed": turn(1.1875),
				"try":  turn(math.NaN()),
				"stop": other(advice.Stop, advice.WhyReached), "away": other(advice.Reverse, advice.WhyAway),
				"nuts": other(advice.Recheck, advice.WhyNuts)} {
				g.advise(a)
				v := levelling(a)
				want := v.Picture()
				b.Await(name, "const t = document.querySelector('#big').innerText.replace(/\\s/g, ''); "+
					"return t.startsWith(arguments[0]) && t.includes(arguments[1]) && t.includes(arguments[2])",
					inLetters(cmp.Or(want.Screw, want.Big)), inLetters(want.Big),
					strings.ReplaceAll(want.Amount, " ", ""))
				var wrong string
				if b.Run(&wrong, layout); wrong != "" {
					t.Errorf("%s at %v: %s", name, size, wrong)
				}
			}
			g.advise(turn(0.375))
			b.Await("the turn", "return document.querySelector('#big').innerText.includes('3/8')")
			golden(t, b, "turn", size)
		}
	}
	b.Size(phones[0][0], phones[0][1])
	g.advise(other(advice.Stop, advice.WhyReached))
	b.Await("stop", "return document.querySelector('#big').innerText.includes('STOP')")
	golden(t, b, "stop", phones[0])
	g.sleep(true)
	b.Await("no word", "return document.querySelector('#lost').innerText.includes('no word')")
	golden(t, b, "lost", phones[0])
}

// contrasts says which texts stand out too little (WCAG 2.1, 1.4.3 and its formula of relative
// luminance), what has no name for a reader of the screen, and where colour stands alone.
const contrasts = `
const out = [], lum = c => { const [r, g, b] = c.match(/[\d.]+/g).map(Number).map(v => (v /= 255) <= .03928 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4); return .2126 * r + .7152 * g + .0722 * b };
const ground = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor; if (!/rgba\(.*, 0\)|transparent/.test(c)) return c } return "rgb(255, 255, 255)" };
for (const e of document.querySelectorAll("#big div, #big span, header span, #say span, .lane span, .lane b, #ends span, footer p, button, label")) {
  if (!e.innerText || !e.getClientRects().length) continue;
  const a = lum(getComputedStyle(e).color), b = lum(ground(e)), ratio = (Math.max(a, b) + .05) / (Math.min(a, b) + .05);
  if (ratio < 7) out.push(e.innerText + " stands out " + ratio.toFixed(1));
}
for (const e of document.querySelectorAll("button, input")) if (!(e.innerText || (e.labels && e.labels[0] && e.labels[0].innerText) || e.getAttribute("aria-label") || !e.getClientRects().length)) out.push(e.id + " has no name");
for (const e of document.querySelectorAll("[role=img]")) if (!e.getAttribute("aria-label")) out.push("an image without a name");
if (!document.documentElement.lang || !document.title || document.querySelectorAll("h1").length !== 1 || !document.querySelector("main") || document.querySelector("[role=alert]") === null) out.push("no language, title, heading, main part or alert");
for (const e of document.querySelectorAll(".lane")) if (!e.querySelector("span").textContent) out.push("a lane without its figure");
for (const e of document.querySelectorAll("button")) if (e.getClientRects().length && e.getBoundingClientRect().height < 36) out.push(e.id + " is too small for a glove");
return out.join("; ");`

func canBeReadByAll(t *testing.T, b *pagetest.Browser) {
	g := newStage(t)
	b.Go(g.url)
	b.Size(phones[0][0], phones[0][1])
	for _, c := range []struct {
		a    advice.Advice
		role string
	}{
		{turn(0.375), "strong"}, {other(advice.Stop, advice.WhyReached), "warn"},
		{advice.New(advice.Done, advice.NoPart, advice.WhyLevel), "good"},
		{advice.New(advice.Wait, advice.NoPart, advice.WhyMeasuring), "dim"},
		{advice.New(advice.Fault, advice.NoPart, advice.WhyHoses), "bad"},
	} {
		g.advise(c.a)
		b.Await(c.role, "return document.querySelector('#big').className === arguments[0]", c.role)
		var wrong string
		if b.Run(&wrong, contrasts); wrong != "" {
			t.Errorf("%s: %s", c.role, wrong)
		}
	}
	var hosts string
	b.Run(&hosts, "return performance.getEntriesByType('resource').map(r => new URL(r.name).host)."+
		"filter(h => h !== location.host).join(' ')")
	if hosts != "" {
		t.Errorf("it asked %s", hosts)
	}
}
