package garage

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"time"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// Levelling records, bench cards and ticked checks are JSON, sealed with a checksum; each is a file of
// its own that is never rewritten.

// sealed is what stands in a sealed file.
type sealed interface {
	format() int
	// clean takes what steers a terminal out of all texts, but line ends and tabs: somebody
	// else may have made the file.
	clean()
}

// saveSealed writes v to a new file in dir, and keys that an earlier reading did not know. A number of 0 is none.
func (g *Garage) saveSealed(dir, ending string, at time.Time, number int, v any, unknown []unknownKey) (string, error) {
	text, err := sealedText(v, unknown)
	if err != nil {
		return "", store.NotSaved(dir, err)
	}
	return g.disk.SaveNew(dir, ending, at, number, text)
}

// sealedText returns the content of a sealed file. Keys that an earlier reading did not know come last, as they were.
func sealedText(v any, unknown []unknownKey) ([]byte, error) {
	body, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return nil, err
	}
	for _, u := range unknown {
		body = append(bytes.TrimSuffix(body, []byte("\n}")), fmt.Sprintf(",\n  %q: ", u.key)...)
		var b bytes.Buffer
		if err := json.Indent(&b, u.value, "  ", "  "); err != nil {
			return nil, err
		}
		body = append(append(body, b.Bytes()...), "\n}"...)
	}
	text := store.Seal(append(body, '\n'))
	if len(text) > store.MaxFile {
		return nil, fmt.Errorf("it would be %d bytes, %d are possible", len(text), store.MaxFile)
	}
	return text, nil
}

// parseSealed reads a sealed file into v; its Errors have no path.
func parseSealed(text []byte, v sealed) (body []byte, err error) {
	if body, err = store.Unseal(text); err != nil {
		return nil, err
	}
	err = json.Unmarshal(body, v)
	var head struct {
		Format int `json:"format"`
	}
	if head.Format = v.format(); err != nil && json.Unmarshal(body, &head) != nil {
		head.Format = newestFormat // nothing is known of it
	}
	switch {
	case head.Format > newestFormat:
		return nil, &Error{Field: "format", Newer: true,
			Problem: fmt.Sprintf("%d is newer than this program, which reads up to %d: a newer evendraw reads it",
				head.Format, newestFormat)}
	case err != nil:
		return nil, notJSON(body, err)
	case head.Format < 1:
		return nil, problem("", "format", "%d is none", head.Format)
	}
	v.clean()
	return body, nil
}

// loadSealed reads a sealed file into v.
func loadSealed(path string, v sealed) (body []byte, err error) {
	text, err := store.Read(path)
	if err == nil {
		body, err = parseSealed(text, v)
	}
	if err != nil {
		return nil, store.AsError(path, err)
	}
	return body, nil
}

// notJSON returns the Error of a body that the checksum fits and that still makes no sense, with the line.
func notJSON(body []byte, err error) *Error {
	e := &Error{Problem: "makes no sense", Err: err}
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		e.Line = 1 + bytes.Count(body[:min(int(syntax.Offset), len(body))], []byte{'\n'})
	case errors.As(err, &kind):
		e.Line, e.Field = 1+bytes.Count(body[:min(int(kind.Offset), len(body))], []byte{'\n'}), kind.Field
	}
	return e
}

// unknownKey is a key of a sealed file that this program does not know.
type unknownKey struct {
	key   string
	value json.RawMessage
}

// unknownIn returns the keys of a body that v has no field for, in their order.
func unknownIn(body []byte, v any) (list []unknownKey) {
	known := map[string]bool{}
	for f := range reflect.TypeOf(v).Elem().Fields() {
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		known[strings.ToLower(name)] = true
	}
	d := json.NewDecoder(bytes.NewReader(body))
	if open, err := d.Token(); err != nil || open != json.Delim('{') {
		return nil
	}
	for d.More() {
		key, err := d.Token()
		u := unknownKey{}
		if err != nil || d.Decode(&u.value) != nil {
			return list
		}
		if u.key, _ = key.(string); !known[strings.ToLower(u.key)] {
			list = append(list, u)
		}
	}
	return list
}

// cleanTexts cleans every text of v. Lists, and what pointers lead to, are copied first: they may be a caller's.
func cleanTexts(v reflect.Value) {
	switch v.Kind() {
	case reflect.String:
		v.SetString(plain.Lines(v.String()))
	case reflect.Struct:
		for _, field := range v.Fields() {
			if field.CanSet() {
				cleanTexts(field)
			}
		}
	case reflect.Pointer:
		if !v.IsNil() {
			own := reflect.New(v.Type().Elem())
			own.Elem().Set(v.Elem())
			cleanTexts(own.Elem())
			v.Set(own)
		}
	case reflect.Slice:
		if !v.IsNil() {
			own := reflect.AppendSlice(reflect.MakeSlice(v.Type(), 0, v.Len()), v)
			for i := range own.Len() {
				cleanTexts(own.Index(i))
			}
			v.Set(own)
		}
	}
}
