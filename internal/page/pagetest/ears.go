package pagetest

import "time"

// ears are put into a page before its first tap: they keep what is sounded and what is spoken, and
// when, and stand for the browser's voice, which takes as long as Ear's.
const ears = `
window.ears = { sounded: [], spoken: [], heard: [] };
const make = BaseAudioContext.prototype.createOscillator;
BaseAudioContext.prototype.createOscillator = function () {
  const o = make.call(this), start = o.start;
  o.start = function (at) { ears.sounded.push([o.frequency.value, Date.now()]); return start.call(o, at) };
  return o;
};
window.SpeechSynthesisUtterance = function (text) { this.text = text };
let now = null;
Object.defineProperty(window, "speechSynthesis", { configurable: true, value: {
  speak(u) {
    if (!u.text) return;
    ears.spoken.push([u.text, Date.now(), u.pitch]);
    now = u;
    if (WORD) setTimeout(() => finish(u), TONE + WORD * u.text.split(/\s+/).length);
  },
  cancel() { now = null },
} });
const finish = u => { if (now && now === u) { now = null; ears.heard.push(u.text); u.onend() } };
ears.finish = () => finish(now);
`

// Listen puts ears into a page, and taps it so that it may sound. The voice takes that share of the
// time that an Ear's takes; 0 has it speak on until it is cut off, or Finish is called.
func (b *Browser) Listen(share float64) {
	b.t.Helper()
	b.Run(nil, "const TONE = arguments[0], WORD = arguments[1];"+ears, share*float64(toneTime.Milliseconds()),
		share*float64(wordTime.Milliseconds()))
	b.Tap("#start")
	b.Await("sound after a tap", "return !document.body.classList.contains('mute')")
}

// Finish has the voice come to the end of what it speaks.
func (b *Browser) Finish() {
	b.t.Helper()
	b.Run(nil, "ears.finish()")
}

// Spoken is an utterance that was begun, and when.
type Spoken struct {
	Text  string
	At    time.Time
	Pitch float64
}

// Sounds returns what was sounded and spoken since it was asked last.
func (b *Browser) Sounds() (tones []float64, tonesAt []time.Time, spoken []Spoken) {
	b.t.Helper()
	var got struct {
		Tones  [][2]float64
		Spoken [][3]any
	}
	b.Run(&got, "return {tones: ears.sounded.splice(0), spoken: ears.spoken.splice(0)}")
	at := func(ms float64) time.Time { return time.UnixMilli(int64(ms)) }
	for _, tone := range got.Tones {
		tones, tonesAt = append(tones, tone[0]), append(tonesAt, at(tone[1]))
	}
	for _, s := range got.Spoken {
		pitch, _ := s[2].(float64)
		spoken = append(spoken, Spoken{s[0].(string), at(s[1].(float64)), pitch})
	}
	return tones, tonesAt, spoken
}

// Heard returns the utterances that were said to their end since it was asked last.
func (b *Browser) Heard() (texts []string) {
	b.t.Helper()
	b.Run(&texts, "return ears.heard.splice(0)")
	return texts
}
