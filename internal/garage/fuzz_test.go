package garage

import (
	"bytes"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// plainError fails the test unless err is an Error without control characters.
func plainError(t *testing.T, err error) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) || strings.ContainsFunc(err.Error(), plain.Steers) || e.Line < 0 {
		t.Errorf("got %q", err)
	}
}

// A card either is refused, or what it says can be written and read again, and
// an effect can be changed in it or is refused.
func FuzzBikeCard(f *testing.F) {
	b := fullBike()
	f.Add(bikeText(&b))
	f.Add([]byte(handEdited))
	f.Add([]byte("format = 1\nname = 'x'\ncylinders = 2\nscrew = [{name = '1-2', moves = [2]}]"))
	f.Add([]byte("format = 1\nname = \"\\u0041\"\ncylinders = 2\n[[screw]]\nname.x = 1\n[screw.y]\nz = [[{}], [{a.b " +
		"= 1}]]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, b, err := parseBike("card", text)
		if err != nil {
			plainError(t, err)
			return
		}
		known := b
		known.Unknown = nil // they are kept in the text, and not written anew
		if _, again, err := parseBike("card", bikeText(&b)); err != nil || !reflect.DeepEqual(again, known) {
			t.Errorf("read again: %+v, %v; want %+v", again, err, known)
		}
		screw := b.Bank.Screws[0]
		effect := math.Copysign(12.345, -screw.EffectKPaPerTurn)
		ops, err := effectOps(c, b.Bank.Screws, map[string]float64{screw.Name: effect})
		if err != nil {
			plainError(t, store.AsError("card", err))
			return
		}
		changed, err := edited("card", c, bikeOf, ops)
		if err != nil {
			plainError(t, err)
			return
		}
		_, after, err := parseBike("card", changed)
		b.Bank.Screws[0].EffectKPaPerTurn = effect
		if err != nil || !reflect.DeepEqual(after, b) {
			t.Errorf("changed: %+v, %v; want %+v", after, err, b)
		}
	})
}

// The same for a board's card and its zero pass.
func FuzzBoardCard(f *testing.F) {
	b := Board{Serial: "S1", Model: "m", Sensors: []string{"KIND"}, SupplyMV: 5000, Zero: someZero(1)}
	f.Add(boardText(&b))
	f.Add([]byte(handEditedBoard))
	f.Add([]byte("format = 1\nserial = 'B'\nhoses = [1, 0]\n[match]\ntime = 2026-01-01T00:00:00Z\nambient_kpa = " +
		"99\ngains = [1, 1.02]\n"))
	f.Add([]byte("format = 1\nserial = 'B'\nzero = {time = 2026-01-01T00:00:00Z, ambient_kpa = 100, offsets_kpa = " +
		"[1]}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		_, b, err := parseBoard("card", text)
		if err != nil {
			plainError(t, err)
			return
		}
		written := boardText(&b)
		_, again, err := parseBoard("card", written)
		if err != nil || !bytes.Equal(boardText(&again), written) {
			t.Errorf("read again: %+v, %v; want %+v", again, err, b)
		}
		again.Zero, again.PreviousZeros, again.Match, again.PreviousMatches = // whose figures were rounded
			b.Zero, b.PreviousZeros, b.Match, b.PreviousMatches
		b.Unknown = nil // a card that is made anew has none
		if !reflect.DeepEqual(again, b) {
			t.Errorf("read again: %+v; want %+v", again, b)
		}
		changed, err := editBoard("card", text, zeroPasses.put(someZero(2)))
		if err != nil {
			plainError(t, err)
			return
		}
		if _, after, err := parseBoard("card", changed); err != nil || !reflect.DeepEqual(after.Zero, someZero(2)) {
			t.Errorf("changed: %+v, %v", after, err)
		}
	})
}

// A record either is refused, or is the same when written and read again. The
// body is sealed with its checksum, so that the fuzzer gets past it.
func FuzzSyncRecord(f *testing.F) {
	for _, r := range []*SyncRecord{someRecord(), {}} {
		r.Format = newestFormat
		text, err := syncText(r)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text[:len(text)-store.SealLength])
	}
	f.Add([]byte(`{"format": 1, "before": {"cylinders": [{}, null]}, "steps": null, "zero": {"time": "x"}}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		if _, err := parseSync(body); err == nil {
			t.Errorf("a record without its checksum was read")
		} else {
			plainError(t, err)
		}
		r, err := parseSync(store.Seal(bytes.Clone(body)))
		if err != nil {
			plainError(t, err)
			return
		}
		text, err := syncText(&r)
		if err != nil {
			return // such as a year above 9999
		}
		again, err := parseSync(text)
		if err != nil || !sameRecord(&r, &again) {
			t.Errorf("read again: %+v, %v; want %+v", again, err, r)
		}
	})
}

// A sealed file of any content is refused with a plain error or read, and nothing read can do
// harm to a terminal.
func FuzzSealed(f *testing.F) {
	full, err := syncText(fullRecord())
	if err != nil {
		f.Fatal(err)
	}
	f.Add(full[:len(full)-store.SealLength])
	f.Add([]byte("{\n  \"format\": 1,\n  \"time\": \"2026-03-01T08:11:12Z\",\n  \"before\": {\n    \"spread_kpa\": " +
		"1e999\n  },\n  \"verdict\": \"x\\u001b\"\n}\n"))
	f.Add([]byte(`{"format": 1, "moment": "apart", "carburettors": [{"pilot_turns_out": null}]}`))
	f.Add([]byte(`{"format": 1, "ticks": [{"id": "\u009b", "time": "2026-03-01T08:11:12Z"}]}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		text := store.Seal(bytes.Clone(body))
		var s BenchCard
		var c checksFile
		for _, v := range []sealed{&s, &c} {
			if _, err := parseSealed(text, v); err != nil {
				plainError(t, store.AsError("x", err))
			}
		}
		harmful := func(s string) bool {
			return strings.ContainsFunc(s, func(c rune) bool { return plain.Steers(c) && c != '\n' && c != '\t' })
		}
		r, err := parseSync(text)
		if err != nil {
			plainError(t, store.AsError("x", err))
			return
		}
		if harmful(r.Note + r.Verdict + r.Bike + r.Capture + r.Corrects) {
			t.Errorf("a control character in %+v", r)
		}
	})
}
