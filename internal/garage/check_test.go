package garage

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"evendraw/internal/store"
)

// fullGarage makes a garage with one file of every kind, all of one bike and one board.
func fullGarage(t *testing.T) *Garage {
	t.Helper()
	g, _ := leftBehind(t)
	board := DefaultBoard("s1")
	must(t, g.SaveZero(&board, someZero(1)))
	_, err := g.SaveSync("Invented Four", someRecord())
	must(t, err)
	s := someSheet()
	_, err = g.SaveBench("Invented Four", &s)
	must(t, err)
	_, err = g.SaveChecks("Invented Four", "0.1.0", []Tick{{ID: CheckVents, Answer: TickDone}})
	must(t, err)
	must(t, g.SetLastBike("Invented Four"))
	return g
}

// Row 23 of the fault table: what is damaged is named and set aside, not deleted; the
// rest loads.
func TestDamagedIsSetAside(t *testing.T) {
	t.Parallel()
	g := fullGarage(t)
	if r := g.Inspect(); r.Files != 7 || r.Damaged != nil || r.Aside != nil {
		t.Fatalf("%+v", r)
	}
	kept, _ := contents(t, g)
	spoilt := map[string]string{}
	for path, text := range kept {
		if CanSetAside(&Error{Path: path}) {
			spoilt[filepath.Base(path)] = text[:40] + "X" + text[41:]
			must(t, os.WriteFile(path, []byte(spoilt[filepath.Base(path)]), 0o666))
		}
	}
	good, err := g.SaveSync("Invented Four", someRecord())
	must(t, err)
	r := g.Inspect()
	if len(spoilt) != 4 || len(r.Damaged) != 4 || r.Files != 8 {
		t.Fatalf("%d spoilt, %+v", len(spoilt), r)
	}
	for _, e := range r.Damaged {
		to, err := g.SetAside(e)
		must(t, err)
		if readText(t, to) != spoilt[filepath.Base(e.Path)] || filepath.Base(filepath.Dir(to)) != store.AsideFolder {
			t.Errorf("%s is not what it was", to)
		}
	}
	if r := g.Inspect(); r.Files != 4 || r.Damaged != nil || len(r.Aside) != 4 {
		t.Errorf("afterwards %+v", r)
	}
	if g.SyncsAside("Invented Four") != 1 || g.SyncsAside("Invented Twin") != 0 || g.SyncsAside("none") != 0 {
		t.Errorf("records set aside: %d", g.SyncsAside("Invented Four"))
	}
	if heads, damaged := g.ListSyncs("Invented Four"); len(heads) != 1 || heads[0].Path != good || damaged != nil {
		t.Errorf("listed %v, %v", heads, damaged)
	}
}

// A card, a newer program's file, a folder, and what can't be read stay; two of a name don't
// overwrite each other.
func TestWhatIsNotSetAside(t *testing.T) {
	t.Parallel()
	g := fullGarage(t)
	p, err := g.BikePaths("Invented Four")
	must(t, err)
	must(t, os.WriteFile(p.Card, []byte("format = 1\nname = \"x\"\ncylinders = 9\n"), 0o666))
	newer := filepath.Join(p.Syncs, "n.sync")
	must(t, os.WriteFile(newer, store.Seal([]byte(`{"format": 2}`)), 0o666))
	must(t, os.Mkdir(filepath.Join(p.Syncs, "dir.sync"), 0o777))
	r := g.Inspect()
	if len(r.Damaged) != 3 {
		t.Fatalf("%v", r.Damaged)
	}
	for _, e := range append(r.Damaged,
		&Error{Path: newer, Err: &os.PathError{Op: "open", Path: newer, Err: syscall.EACCES}}) {
		if _, err := g.SetAside(e); err == nil {
			t.Errorf("%v was set aside", e)
		}
	}
	bad := filepath.Join(p.Syncs, "b.level")
	for range 3 {
		must(t, os.WriteFile(bad, []byte("x"), 0o666))
		_, err := g.SetAside(&Error{Path: bad})
		must(t, err)
	}
	if r := g.Inspect(); len(r.Aside) != 3 {
		t.Errorf("%v", r.Aside)
	}
}

// A record holds the checksum of as much of its capture as there was; it may grow, and be
// compressed, but not change.
func TestCapturesAreChecked(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	dir, err := g.MakeCaptures("x")
	must(t, err)
	text := []byte("# evendraw capture 1\n#\n\x00abc\x00 and so on")
	sum := sha256.Sum256(text[:25])
	rec := someRecord()
	rec.Capture, rec.CaptureBytes, rec.CaptureSHA256 = "../up/c.cap", 25, hex.EncodeToString(sum[:])
	path, err := g.SaveSync("x", rec)
	must(t, err)
	if got, err := LoadSync(path); err != nil || got.Capture != "c.cap" {
		t.Errorf("capture is %q, %v", got.Capture, err)
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(text)
	z.Close()
	for _, c := range []struct {
		name, want string
		data       []byte
	}{
		{"", "missing", nil}, {"c.cap", "", text[:25]}, {"c.cap", "", text}, {"c.cap", "cut short: 24 of 25",
			text[:24]},
		{"c.cap", "has changed", bytes.ToUpper(text)}, {"c.cap.gz", "", packed.Bytes()}, {"c.cap.gz", "cut short",
			packed.Bytes()[:30]},
		{"c.cap.gz", "invalid header", text},
	} {
		t.Run(c.name+" "+c.want, func(t *testing.T) {
			os.RemoveAll(dir)
			must(t, os.Mkdir(dir, 0o777))
			if c.name != "" {
				must(t, os.WriteFile(filepath.Join(dir, c.name), c.data, 0o666))
			}
			r := g.Inspect()
			switch {
			case c.want == "missing":
				if len(r.Missing) != 1 || r.Damaged != nil {
					t.Errorf("missing: %+v", r)
				}
			case c.want == "" && (r.Damaged != nil || r.Files != 2):
				t.Errorf("%s %q: %+v", c.name, c.data, r)
			case c.want != "" && (len(r.Damaged) != 1 || !strings.Contains(r.Damaged[0].Error(), c.want)):
				t.Errorf("%s: %+v, want %q", c.name, r, c.want)
			}
		})
	}
}

// Compressed captures that no record names are read as well, in a bike's folder and in the garage's own.
func TestPackedCapturesAreChecked(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	ofBike, err := g.MakeCaptures("x")
	must(t, err)
	own := filepath.Join(g.dir, capturesFolder)
	must(t, os.Mkdir(own, 0o777))
	var packed, bomb bytes.Buffer
	for to, text := range map[*bytes.Buffer][]byte{&packed: []byte("# a capture"), &bomb: make([]byte, 4<<20)} {
		z := gzip.NewWriter(to)
		z.Write(text)
		must(t, z.Close())
	}
	for _, dir := range []string{ofBike, own} {
		for want, data := range map[string][]byte{"": packed.Bytes(), "cut short": packed.Bytes()[:packed.Len()-9],
			"swells": bomb.Bytes(), "invalid header": []byte("no compressed capture")} {
			path := filepath.Join(dir, "c.cap.gz")
			must(t, os.WriteFile(path, data, 0o666))
			r := g.Inspect()
			if want == "" && (r.Damaged != nil || r.Files != 1) ||
				want != "" && (len(r.Damaged) != 1 || !strings.Contains(r.Damaged[0].Error(), want)) {
				t.Errorf("%s, %q: %+v", dir, want, r)
			}
			must(t, os.Remove(path))
		}
	}
}

// Who saves a record with a capture among the bike's need not know its checksum.
func TestCaptureIsSummedOnSaving(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	dir, err := g.MakeCaptures("x")
	must(t, err)
	text := []byte("# evendraw capture 1\n#\n\x00abc\x00")
	path := filepath.Join(dir, "c.cap")
	must(t, os.WriteFile(path, text, 0o666))
	for name, want := range map[string]int64{"c.cap": int64(len(text)), "elsewhere.cap": 0, "": 0} {
		t.Run(strconv.Quote(name), func(t *testing.T) {
			rec := someRecord()
			rec.Capture = name
			saved, err := g.SaveSync("x", rec)
			must(t, err)
			got, err := LoadSync(saved)
			must(t, err)
			if got.CaptureBytes != want || (got.CaptureSHA256 != "") != (want > 0) || rec.CaptureSHA256 != "" {
				t.Errorf("%d bytes, checksum %q", got.CaptureBytes, got.CaptureSHA256)
			}
		})
	}
	must(t, os.WriteFile(path, append(text, "more"...), 0o666))
	if r := g.Inspect(); r.Damaged != nil {
		t.Errorf("a capture that grew: %v", r.Damaged)
	}
	must(t, os.WriteFile(path, bytes.ToUpper(text), 0o666))
	if r := g.Inspect(); len(r.Damaged) != 1 {
		t.Errorf("a capture that changed: %v", r.Damaged)
	}
}
