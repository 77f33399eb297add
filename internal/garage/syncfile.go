package garage

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
)

// syncFormat is the format number of the records that this program writes.
const syncFormat = 1

// A record ends with a line of this and the checksum of all before the line,
// in small hexadecimal.
const (
	sumWord   = "sha256 "
	sumLength = len(sumWord) + 2*sha256.Size + 1
)

// syncTime is the layout of the time at the start of a record's file name: the
// names sort by time.
const syncTime = "20060102T150405.000Z"

// nameTries is how many names are tried for a record. Chosen: two records of
// the same millisecond meet once in 65536.
const nameTries = 20

// SaveSync writes a record to a file of its own among the bike's and returns
// its path. Format, Bike and, when it is zero, Time are filled in; control
// characters in texts become spaces. No record is ever overwritten.
func (g *Garage) SaveSync(bike string, rec *SyncRecord) (path string, err error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return "", err
	}
	r := *rec
	r.Format = syncFormat
	r.Bike, _ = cleanName(bike)
	if b, err := readBike(p.Card); err == nil {
		r.Bike = b.Name
	}
	if r.Time.IsZero() {
		r.Time = g.now()
	}
	r.Time = r.Time.UTC()
	r.clean()
	text, err := syncText(&r)
	if err != nil {
		return "", notSaved(p.Syncs, err)
	}
	if err := makeDirs(g.files, p.Syncs); err != nil {
		return "", notSaved(p.Syncs, err)
	}
	for range nameTries {
		path = filepath.Join(p.Syncs, r.Time.Format(syncTime)+"-"+randomHex(2)+syncEnding)
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

// syncText returns the content of a record's file.
func syncText(r *SyncRecord) ([]byte, error) {
	body, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return nil, err
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

// LoadSync reads the record in a file. An Error says what is wrong with it: it
// was changed or cut short, or a newer program wrote it.
func LoadSync(path string) (SyncRecord, error) {
	text, err := readFile(path)
	if err != nil {
		return SyncRecord{}, err
	}
	r, err := parseSync(text)
	if err != nil {
		return SyncRecord{}, asError(path, err)
	}
	return r, nil
}

// parseSync reads a record; its Errors have no path.
func parseSync(text []byte) (SyncRecord, error) {
	body, sum := text, ""
	if n := len(text) - sumLength; n >= 0 {
		body, sum = text[:n], string(text[n:])
	}
	if sum != sumLine(body) {
		return SyncRecord{}, &Error{Problem: "is damaged: its checksum, the last line, does not fit"}
	}
	var r SyncRecord
	var head struct {
		Format int `json:"format"`
	}
	err := json.Unmarshal(body, &r)
	if head.Format = r.Format; err != nil && json.Unmarshal(body, &head) != nil {
		head.Format = syncFormat // nothing is known of it
	}
	switch {
	case head.Format > syncFormat:
		return SyncRecord{}, &Error{Field: "format",
			Problem: fmt.Sprintf("%d is newer than this program, which reads up to %d: a newer evendraw reads it", head.Format, syncFormat)}
	case err != nil:
		return SyncRecord{}, notJSON(body, err)
	case head.Format < 1:
		return SyncRecord{}, &Error{Field: "format", Problem: fmt.Sprintf("%d is none", head.Format)}
	}
	r.Time = r.Time.UTC()
	r.clean()
	return r, nil
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

// ListSyncs returns the records of a bike, the newest last, and apart the errors
// of files that are damaged. Those are left where they are.
func (g *Garage) ListSyncs(bike string) (records []StoredSync, damaged []*Error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return nil, []*Error{asError("", err)}
	}
	return listSyncs(p.Syncs)
}

func listSyncs(dir string) (records []StoredSync, damaged []*Error) {
	paths, err := filesIn(dir, syncEnding)
	if err != nil {
		damaged = append(damaged, asError(dir, err))
	}
	for _, path := range paths {
		r, err := LoadSync(path)
		switch {
		case errors.Is(err, fs.ErrNotExist): // removed meanwhile
		case err != nil:
			damaged = append(damaged, asError(path, err))
		default:
			records = append(records, StoredSync{path, r})
		}
	}
	return records, damaged
}

// Check reads all cards and records of the garage and returns how many files
// it read, and the errors of those that are damaged. Captures have no checksum
// and are not read.
func (g *Garage) Check() (checked int, damaged []*Error) {
	bikes, wrong := g.ListBikes()
	checked, damaged = len(bikes)+len(wrong), wrong
	folders, _ := g.bikeFolders() // ListBikes has told of an error
	for _, folder := range folders {
		records, wrong := listSyncs(g.bikePaths(folder).Syncs)
		checked, damaged = checked+len(records)+len(wrong), append(damaged, wrong...)
	}
	boards, wrong := g.ListBoards()
	checked, damaged = checked+len(boards)+len(wrong), append(damaged, wrong...)
	name, err := g.LastBike()
	if name != "" || err != nil {
		checked++
	}
	if err != nil {
		damaged = append(damaged, asError(g.Paths().Last, err))
	}
	return checked, damaged
}

// clean turns the control characters in all texts of r into spaces, so that
// none reaches a terminal from a file that somebody else made.
func (r *SyncRecord) clean() {
	r.Sensors, r.Steps = slices.Clone(r.Sensors), slices.Clone(r.Steps)
	r.Before, r.After = r.Before.cleaned(), r.After.cleaned()
	for _, s := range []*string{&r.Program, &r.Bike, &r.Board.Serial, &r.Board.Model, &r.Board.Program,
		&r.Unit, &r.Verdict, &r.Note, &r.Capture} {
		*s = clean(*s)
	}
	for i := range r.Sensors {
		r.Sensors[i] = clean(r.Sensors[i])
	}
	for i := range r.Steps {
		s := &r.Steps[i]
		s.Screw, s.Direction = clean(s.Screw), clean(s.Direction)
	}
}

func (r *RecordReading) cleaned() *RecordReading {
	if r == nil {
		return nil
	}
	c := *r
	c.Cylinders = slices.Clone(r.Cylinders)
	for i := range c.Cylinders {
		c.Cylinders[i].State = clean(c.Cylinders[i].State)
	}
	return &c
}

// clean returns a text with spaces for control characters but line ends and
// tabs.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if isControl(r) && r != '\n' && r != '\t' {
			return ' '
		}
		return r
	}, s)
}
