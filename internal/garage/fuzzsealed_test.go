package garage

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// A bench card, a list of checks or an unfinished record either is refused, or is the
// same when written and read again, and holds no control characters. The body is
// sealed with its checksum, so that the fuzzer gets past it.
func FuzzSealedFiles(f *testing.F) {
	kinds := []func() sealed{
		func() sealed { return &BenchCard{} },
		func() sealed { return &checksFile{} },
		func() sealed { return &unfinishedFile{} },
	}
	f.Add(byte(0), []byte(`{"format": 1, "bike": "x", "carburettors": [`+
		`{"cylinder": 1, "pilot_turns_out": 2.5, "main_jet": "\u001b[31m"}]}`))
	f.Add(byte(1), []byte(`{"format": 1, "ticks": [{"id": "x", "done": true}, {}]}`))
	f.Add(byte(2), []byte(`{"format": 1, "host": "a\nb", "process": -1, "before": {"cylinders": [{}, null]}}`))
	f.Add(byte(2), []byte(`{"format": 99}`))
	f.Fuzz(func(t *testing.T, kind byte, body []byte) {
		fresh := kinds[int(kind)%len(kinds)]
		first := fresh()
		if _, err := parseSealed(body, first); err == nil {
			t.Fatal("read without its checksum")
		}
		if _, err := parseSealed(store.Seal(bytes.Clone(body)), first); err != nil {
			plainError(t, err)
			return
		}
		text, err := sealedText(first, nil)
		if err != nil {
			return // such as a year above 9999
		}
		again := fresh()
		if _, err := parseSealed(text, again); err != nil {
			t.Fatalf("read again: %v\n%s", err, text)
		}
		if second, err := sealedText(again, nil); err != nil || !bytes.Equal(text, second) {
			t.Errorf("written again: %v\n%s\nwas\n%s", err, second, text)
		}
		checkTexts(t, reflect.ValueOf(again))
	})
}

// checkTexts finds control characters in any text of a value.
func checkTexts(t *testing.T, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.String:
		if strings.ContainsFunc(v.String(), func(r rune) bool { return plain.Steers(r) && r != '\n' && r != '\t' }) {
			t.Errorf("control characters in %q", v.String())
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			checkTexts(t, v.Elem())
		}
	case reflect.Slice, reflect.Array:
		if v.Type().Elem().Kind() == reflect.Uint8 {
			return // kept as it stood, written as JSON
		}
		for i := range v.Len() {
			checkTexts(t, v.Index(i))
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			checkTexts(t, v.MapIndex(k))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				checkTexts(t, v.Field(i))
			}
		}
	}
}

// Every text of what is sealed is cleaned, whatever field it stands in, and what a caller handed in stays as it was.
func TestEveryTextIsCleaned(t *testing.T) {
	t.Parallel()
	for _, v := range []sealed{&SyncRecord{}, &BenchCard{}, &checksFile{}, &unfinishedFile{}} {
		fillTexts(reflect.ValueOf(v).Elem())
		given, _ := json.Marshal(v)
		handed := reflect.New(reflect.TypeOf(v).Elem())
		handed.Elem().Set(reflect.ValueOf(v).Elem())
		handed.Interface().(sealed).clean()
		checkTexts(t, handed)
		if after, _ := json.Marshal(v); !bytes.Equal(given, after) {
			t.Errorf("%T: the caller's own was changed:\n%s", v, after)
		}
	}
}

// fillTexts puts a text that steers a terminal into every field, and one entry into every list.
func fillTexts(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString("a\x1b[2J")
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fillTexts(v.Elem())
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fillTexts(v.Index(0))
	case reflect.Struct:
		for _, field := range v.Fields() {
			if field.CanSet() {
				fillTexts(field)
			}
		}
	}
}
