package garage

import (
	"bytes"
	"encoding/json"
	"errors"
	"evendraw/internal/plain"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"time"
)

// SyncHead is what a list says of a record.
type SyncHead struct {
	Path     string
	Time     time.Time
	Verdict  string
	Corrects string
	Note     string
	// BeforeKPa and AfterKPa are the spreads, AfterUncertaintyKPa the half-width of
	// the 95 % interval of the last; NaN unknown.
	BeforeKPa, AfterKPa, AfterUncertaintyKPa NullKPa
	RPM                                      NullFloat // after; NaN unknown
}

// ListHeads returns what a list says of a bike's records, the newest last, and
// apart the errors of files that are damaged. Every file's checksum is looked
// at; only the few lines that are needed are read further, so that 10,000
// records take 0.3 s.
func (g *Garage) ListHeads(bike string) (heads []SyncHead, damaged []*Error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return nil, []*Error{asError("", err)}
	}
	return listFiles(p.Syncs, syncEnding, loadHead)
}

func loadHead(path string) (SyncHead, error) {
	text, err := readFile(path)
	if err != nil {
		return SyncHead{}, err
	}
	body, err := unseal(text)
	if err != nil {
		return SyncHead{}, asError(path, err)
	}
	if h, ok := scanHead(body); ok {
		h.Path = path
		return h, nil
	}
	r, err := parseSync(text) // not laid out as this program does
	if err != nil {
		return SyncHead{}, asError(path, err)
	}
	return r.Head(path), nil
}

// Head returns what a list says of a record.
func (r *SyncRecord) Head(path string) SyncHead {
	nan := math.NaN()
	h := SyncHead{Path: path, Time: r.Time, Verdict: r.Verdict, Corrects: r.Corrects, Note: r.Note,
		BeforeKPa: NullKPa(nan), AfterKPa: NullKPa(nan), AfterUncertaintyKPa: NullKPa(nan), RPM: NullFloat(nan)}
	if r.Before != nil {
		h.BeforeKPa = r.Before.SpreadKPa
	}
	if r.After != nil {
		h.AfterKPa, h.AfterUncertaintyKPa, h.RPM = r.After.SpreadKPa, r.After.SpreadUncertaintyKPa, r.After.RPM
	}
	return h
}

// scanHead reads the head from a body that is laid out as sealedText does it: one key a
// line, two spaces a level. No text in JSON holds a line end, so that a line's
// spaces tell its level. ok is false when the layout is another, or a value
// is not as it should be.
func scanHead(body []byte) (h SyncHead, ok bool) {
	if !bytes.HasPrefix(body, []byte("{\n  \"format\": 1,\n")) {
		return h, false
	}
	h = (&SyncRecord{}).Head("")
	s := headScan{head: &h}
	for len(body) > 0 && !s.bad {
		end := bytes.IndexByte(body, '\n')
		if end < 0 {
			return h, false
		}
		line := body[:end]
		body = body[end+1:]
		if len(line) > 3 && line[0] == ' ' && line[1] == ' ' {
			s.line(line[2:])
		}
	}
	return h, !s.bad && s.hasTime && s.hasVerdict
}

// part is the reading that lines at the second level belong to.
type part int

const (
	none part = iota
	before
	after
)

// headScan is the state of scanHead.
type headScan struct {
	head                     *SyncHead
	inside                   part
	hasTime, hasVerdict, bad bool
}

// line takes a line without the two spaces of the first level.
func (s *headScan) line(line []byte) {
	switch {
	case line[0] == '"':
		key, value := keyAndValue(line)
		s.inside = none
		s.top(key, value)
	case s.inside != none && bytes.HasPrefix(line, []byte("  \"")):
		key, value := keyAndValue(line[2:])
		s.figure(key, value)
	}
}

func keyAndValue(line []byte) (key, value []byte) {
	key, value, _ = bytes.Cut(line[1:], []byte(`": `))
	return key, bytes.TrimSuffix(value, []byte(","))
}

func (s *headScan) top(key, value []byte) {
	switch string(key) {
	case "before":
		s.inside = before
	case "after":
		s.inside = after
	case "time":
		t, err := time.Parse(`"`+time.RFC3339Nano+`"`, string(value))
		s.head.Time, s.hasTime, s.bad = t.UTC(), true, s.bad || err != nil
	case "verdict":
		s.head.Verdict, s.hasVerdict = s.text(value), true
	case "corrects":
		s.head.Corrects = baseName(s.text(value))
	case "note":
		s.head.Note = s.text(value)
	}
}

func (s *headScan) figure(key, value []byte) {
	var into *float64
	switch string(key) {
	case "spread_kpa":
		if into = (*float64)(&s.head.AfterKPa); s.inside == before {
			into = (*float64)(&s.head.BeforeKPa)
		}
	case "spread_uncertainty_kpa":
		into = (*float64)(&s.head.AfterUncertaintyKPa)
	case "rpm":
		into = (*float64)(&s.head.RPM)
	}
	if into == nil || s.inside == before && string(key) != "spread_kpa" {
		return
	}
	if string(value) == "null" {
		*into = math.NaN()
		return
	}
	v, err := strconv.ParseFloat(string(value), 64)
	*into, s.bad = v, s.bad || err != nil || math.IsNaN(v) || math.IsInf(v, 0)
}

func (s *headScan) text(value []byte) string {
	var out string
	if err := json.Unmarshal(value, &out); err != nil {
		s.bad = true
	}
	return plain.Lines(out)
}

// listFiles reads all files of a folder with that ending, as many at once as there
// are cores, and returns what they hold by name, and apart the errors of those that
// are damaged.
func listFiles[T any](dir, ending string, load func(path string) (T, error)) (list []T, damaged []*Error) {
	paths, err := filesIn(dir, ending)
	if err != nil {
		damaged = append(damaged, asError(dir, err))
	}
	type loaded struct {
		value T
		err   error
	}
	all := make([]loaded, len(paths))
	var group sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), len(paths))
	for w := range workers {
		group.Go(func() {
			for i := w; i < len(paths); i += workers {
				all[i].value, all[i].err = load(paths[i])
			}
		})
	}
	group.Wait()
	list = make([]T, 0, len(all))
	for i, l := range all {
		switch {
		case errors.Is(l.err, fs.ErrNotExist): // removed meanwhile
		case l.err != nil:
			damaged = append(damaged, asError(paths[i], l.err))
		default:
			list = append(list, l.value)
		}
	}
	if len(list) == 0 {
		list = nil
	}
	return list, damaged
}

// Corrected returns the heads without those that a later record stands for.
func Corrected(heads []SyncHead) []SyncHead {
	gone := map[string]bool{}
	for _, h := range heads {
		if h.Corrects != "" {
			gone[h.Corrects] = true
		}
	}
	var out []SyncHead
	for _, h := range heads {
		if !gone[filepath.Base(h.Path)] {
			out = append(out, h)
		}
	}
	return out
}

// openPlain opens a regular file. A pipe or a device in its place is refused and not
// waited for.
func openPlain(path string) (*os.File, int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, 0, &Error{Path: path, Problem: "can't be read", Err: err}
	}
	if !info.Mode().IsRegular() {
		return nil, 0, &Error{Path: path, Problem: "is not a plain file"}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, &Error{Path: path, Problem: "can't be read", Err: err}
	}
	return f, info.Size(), nil
}
