package garage

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"evendraw/internal/capture"
	"evendraw/internal/store"
)

// Report is what a check of the garage found.
type Report struct {
	// Files is how many were read: cards, records, sheets, and the captures whose checksum a record holds.
	Files int
	// Damaged are the errors of files that can't be read as they should.
	Damaged []*Error
	// Unknown are cards with keys that mean nothing here.
	Unknown []UnknownKeys
	// Missing are captures that a record names and that are not there.
	Missing []string
	// Aside are the files that were set aside, by this check or an earlier one.
	Aside []string
}

// UnknownKeys are keys on a card that mean nothing here, in quotes.
type UnknownKeys struct {
	File string   `json:"file"`
	Keys []string `json:"keys"`
}

// unknown notes the keys of a card that mean nothing.
func (r *Report) unknown(path string, keys []string) {
	if len(keys) > 0 {
		r.Unknown = append(r.Unknown, UnknownKeys{path, keys})
	}
}

// Inspect reads all files of the garage: cards, and by their checksums records, bench
// sheets, ticked checks, unfinished records, and the captures that records name.
func (g *Garage) Inspect() Report {
	var r Report
	count := func(n int, damaged []*Error) {
		r.Files, r.Damaged = r.Files+n+len(damaged), append(r.Damaged, damaged...)
	}
	bikes, wrong := g.ListBikes()
	count(len(bikes), wrong)
	for i := range bikes {
		if p, err := g.BikePaths(bikes[i].Name); err == nil {
			r.unknown(p.Card, bikes[i].Unknown)
		}
	}
	all, _ := g.allPaths() // ListBikes has told of an error
	for _, p := range all {
		records, wrong := list(p.Syncs, LoadSync)
		count(len(records), wrong)
		sheets, wrong := list(p.Bench, loadBench)
		count(len(sheets), wrong)
		checks, wrong := store.List(p.Bench, []string{checksEnding}, loadChecksFile)
		count(len(checks), wrong)
		left, wrong := store.List(p.Unfinished, recordEndings, LoadSync)
		count(len(left), wrong)
		r.captures(p, records)
		for _, dir := range []string{p.Syncs, p.Bench, p.Unfinished} {
			r.Aside = append(r.Aside, asideOf(dir)...)
		}
	}
	boards, wrong := g.ListBoards()
	count(len(boards), wrong)
	for i := range boards {
		if path, err := g.BoardPath(boards[i].Serial); err == nil {
			r.unknown(path, boards[i].Unknown)
		}
	}
	r.packed(g.Paths().Captures, nil)
	switch name, err := g.LastBike(); {
	case err != nil:
		count(0, []*Error{store.AsError(g.Paths().Last, err)})
	case name != "":
		r.Files++
	}
	return r
}

func loadChecksFile(path string) (f checksFile, err error) {
	_, err = loadSealed(path, &f)
	return f, err
}

// captures looks at the captures that records hold checksums of, and by their own checksums at all others
// that are compressed.
func (r *Report) captures(p BikePaths, records []StoredSync) {
	seen := map[string]bool{}
	defer func() { r.packed(p.Captures, seen) }()
	for _, s := range records {
		if s.Kept.Capture == "" {
			continue
		}
		path := filepath.Join(p.Captures, s.Kept.Capture)
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			path += capture.PackedEnding
		}
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			r.Missing = append(r.Missing, strings.TrimSuffix(path, capture.PackedEnding))
			continue
		}
		if s.Kept.CaptureSHA256 == "" {
			continue
		}
		r.Files++
		seen[path] = true
		sum, err := sumOf(path, s.Kept.CaptureBytes)
		switch {
		case err != nil:
			r.Damaged = append(r.Damaged, store.AsError(path, err))
		case sum != s.Kept.CaptureSHA256:
			r.Damaged = append(r.Damaged, problem(path, "", "has changed since %s was saved: its checksum does not fit",
				filepath.Base(s.Path)))
		}
	}
}

// packed reads the compressed captures of a folder but for those seen.
func (r *Report) packed(dir string, seen map[string]bool) {
	paths, _ := store.Paths(dir, capture.PackedEnding) // a folder that can't be read holds none
	for _, path := range paths {
		if seen[path] {
			continue
		}
		r.Files++
		if err := unpacks(path); err != nil {
			r.Damaged = append(r.Damaged, store.AsError(path, err))
		}
	}
}

// openCapture opens a capture, be it compressed.
func openCapture(path string) (from io.Reader, file io.Closer, err error) {
	f, _, err := store.Open(path)
	if err != nil || !strings.HasSuffix(path, capture.PackedEnding) {
		return f, f, err
	}
	if from, err = capture.Unpack(f); err != nil {
		f.Close()
	}
	return from, f, captureError(path, err)
}

// captureError is the Error of a capture that can't be read, nil if err is nil.
func captureError(path string, err error) error {
	var damage *capture.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &damage):
		return problem(path, "", "%v", damage)
	}
	return store.AsError(path, err)
}

// unpacks reads a compressed file to its end, where its checksum is looked at.
func unpacks(path string) error {
	from, file, err := openCapture(path)
	if err != nil {
		return err
	}
	defer file.Close()
	_, err = io.Copy(io.Discard, from)
	return captureError(path, err)
}

// sumOf returns the checksum of the first n bytes of a capture, be it compressed.
func sumOf(path string, n int64) (string, error) {
	from, file, err := openCapture(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	sum := sha256.New()
	switch got, err := io.CopyN(sum, from, n); {
	case err == io.EOF:
		return "", problem(path, "", "is cut short: %d of %d bytes are there", got, n)
	case err != nil:
		return "", captureError(path, err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// asideOf are the files that were set aside from a folder.
func asideOf(dir string) (paths []string) {
	entries, _ := os.ReadDir(filepath.Join(dir, store.AsideFolder))
	for _, e := range entries {
		paths = append(paths, filepath.Join(dir, store.AsideFolder, e.Name()))
	}
	return paths
}

// SyncsAside is how many of a bike's levelling records were damaged and set aside.
func (g *Garage) SyncsAside(bike string) int {
	p, err := g.BikePaths(bike)
	if err != nil {
		return 0 // ListSyncs tells of it
	}
	return len(asideOf(p.Syncs))
}

// sealedEndings are those of files that only programs write.
var sealedEndings = []string{recordEnding, oldRecordEnding, benchEnding, checksEnding}

// CanSetAside reports whether an error is about a file to be set aside: a sealed one whose content is damaged. Cards,
// which people put right, a newer program's files, and what could not be read for another reason stay.
func CanSetAside(e *Error) bool {
	var path *fs.PathError
	info, err := os.Lstat(e.Path)
	return err == nil && info.Mode().IsRegular() && slices.Contains(sealedEndings, filepath.Ext(e.Path)) && !e.Newer &&
		!errors.As(e.Err, &path)
}

// SetAside moves the damaged file of an error into a folder "damaged" beside it, and returns where it is then.
func (g *Garage) SetAside(e *Error) (to string, err error) {
	if !CanSetAside(e) {
		return "", &Error{Path: e.Path, Problem: "stays where it is: it is no damaged record"}
	}
	return g.disk.SetAside(e.Path)
}
