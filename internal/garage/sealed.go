package garage

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"evendraw/internal/plain"
	"fmt"
	"io/fs"
	"path/filepath"
	"reflect"
	"strings"
	"time"
)

// A sealed file is JSON and a last line of sumWord and the checksum of all before
// the line, in small hexadecimal. Sync records, bench sheets and ticked checks are
// sealed; each is a file of its own that is never rewritten.
const (
	sumWord   = "sha256 "
	sumLength = len(sumWord) + 2*sha256.Size + 1
)

// sealedTime is the layout of the time at the start of a sealed file's name: the
// names sort by time.
const sealedTime = "20060102T150405.000Z"

// nameTries is how many names are tried for a file. Chosen: two of the same
// millisecond meet once in 65536.
const nameTries = 20

// sealed is what stands in a sealed file.
type sealed interface {
	format() int
	// clean takes what steers a terminal out of all texts, but line ends and tabs: somebody
	// else may have made the file.
	clean()
}

// saveSealed writes a sealed text to a new file in dir.
func (g *Garage) saveSealed(dir, ending string, at time.Time, text []byte) (path string, err error) {
	if err := makeDirs(g.files, dir); err != nil {
		return "", notSaved(dir, err)
	}
	for range nameTries {
		path = filepath.Join(dir, at.UTC().Format(sealedTime)+"-"+randomHex(2)+ending)
		if err = createNew(g.files, path, text); !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	switch {
	case errors.Is(err, errUnsynced):
		return path, notSaved(path, err)
	case err != nil:
		return "", &Error{Path: path, Problem: "was not saved", Err: err}
	}
	return path, nil
}

// sealedText returns the content of a sealed file. Keys that an earlier reading did not
// know come last, as they were.
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
	text := seal(append(body, '\n'))
	if len(text) > maxFile {
		return nil, fmt.Errorf("it would be %d bytes, %d are possible", len(text), maxFile)
	}
	return text, nil
}

// seal returns a body with the line of its checksum.
func seal(body []byte) []byte { return append(body, sumLine(body)...) }

func sumLine(body []byte) string { return fmt.Sprintf("%s%x\n", sumWord, sha256.Sum256(body)) }

// unseal returns the body of a sealed file; its Errors have no path.
func unseal(text []byte) ([]byte, error) {
	if n := len(text) - sumLength; n >= 0 && string(text[n:]) == sumLine(text[:n]) {
		return text[:n], nil
	}
	return nil, errSeal
}

// errSeal marks a file that was changed or cut short.
var errSeal = &Error{Problem: "is damaged: its checksum, the last line, does not fit"}

// parseSealed reads a sealed file of a format up to newest into v; its Errors have
// no path.
func parseSealed(text []byte, newest int, v sealed) (body []byte, err error) {
	if body, err = unseal(text); err != nil {
		return nil, err
	}
	err = json.Unmarshal(body, v)
	var head struct {
		Format int `json:"format"`
	}
	if head.Format = v.format(); err != nil && json.Unmarshal(body, &head) != nil {
		head.Format = newest // nothing is known of it
	}
	switch {
	case head.Format > newest:
		return nil, &Error{Field: "format", Newer: true,
			Problem: fmt.Sprintf("%d is newer than this program, which reads up to %d: a newer evendraw reads it", head.Format, newest)}
	case err != nil:
		return nil, notJSON(body, err)
	case head.Format < 1:
		return nil, &Error{Field: "format", Problem: fmt.Sprintf("%d is none", head.Format)}
	}
	v.clean()
	return body, nil
}

// loadSealed reads a sealed file into v.
func loadSealed(path string, newest int, v sealed) (body []byte, err error) {
	text, err := readFile(path)
	if err == nil {
		body, err = parseSealed(text, newest, v)
	}
	if err != nil {
		return nil, asError(path, err)
	}
	return body, nil
}

// notJSON returns the Error of a body that the checksum fits and that still
// makes no sense, with the line.
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

// cleanAll cleans texts where they stand.
func cleanAll(texts ...*string) {
	for _, s := range texts {
		*s = plain.Lines(*s)
	}
}
