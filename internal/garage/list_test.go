package garage

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/store"
)

func TestRecordsStandApartFromDamage(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path, err := g.SaveSync("x", someRecord())
	must(t, err)
	bad, err := g.SaveSync("x", someRecord())
	must(t, err)
	must(t, os.WriteFile(bad, []byte(strings.Replace(readText(t, bad), "0.25", "0.26", 1)), 0o666))
	records, damaged := g.ListSyncs("x")
	if len(records) != 1 || records[0].Path != path || len(damaged) != 1 || damaged[0].Path != bad {
		t.Errorf("%+v, %v", records, damaged)
	}
	if r := records[0].Kept; r.Before.SpreadKPa != 3.5 || r.After.SpreadKPa != 0.25 ||
		math.Abs(float64(r.After.RPM)-1003.7) > 1e-9 {
		t.Errorf("got %+v", r)
	}
}

// manyRecords makes a garage with n records of one bike, without syncing, which takes long.
func manyRecords(t testing.TB, n int) *Garage {
	t.Helper()
	g := openTest(t)
	b := DefaultBike("x", 4)
	must(t, g.NewBike(&b))
	p, err := g.BikePaths("x")
	must(t, err)
	must(t, os.MkdirAll(p.Syncs, 0o777))
	r := someRecord()
	r.Format, r.Bike = 1, "x"
	for len(r.Steps) < 9 {
		r.Steps = append(r.Steps, r.Steps[0])
	}
	r.clean()
	text, err := syncText(r)
	must(t, err)
	first := r.Time.Format(time.RFC3339Nano)
	for i := range n {
		r.Time = r.Time.Add(time.Minute)
		body := bytes.Replace(text[:len(text)-store.SealLength], []byte(first), []byte(r.Time.Format(time.RFC3339Nano)),
			1)
		name := r.Time.Format(store.TimeLayout) + fmt.Sprintf("-%04x", i) + recordEnding
		must(t, os.WriteFile(filepath.Join(p.Syncs, name), store.Seal(body), 0o666))
	}
	return g
}

// TestTenThousandRecords lists them, all and in full; a plain run has fewer, as making so many
// files takes long.
func TestTenThousandRecords(t *testing.T) {
	t.Parallel()
	n := effort.Of(300, 10_000)
	g := manyRecords(t, n)
	begin := time.Now()
	records, damaged := g.ListSyncs("x")
	took := time.Since(begin)
	if len(records) != n || damaged != nil {
		t.Fatalf("%d, %v", len(records), damaged)
	}
	for i := range records {
		if i > 0 && !records[i].Kept.Time.After(records[i-1].Kept.Time) {
			t.Fatalf("record %d is of %v, the one before of %v", i, records[i].Kept.Time, records[i-1].Kept.Time)
		}
	}
	begin = time.Now()
	openAgain(t, g)
	t.Logf("count: %d records listed in %v; what live does at its start: %v", n, took, time.Since(begin))
}

// openAgain does what live does at its start.
func openAgain(t *testing.T, g *Garage) {
	t.Helper()
	again, err := Open(g.dir)
	must(t, err)
	_, err = again.LoadBike("x")
	must(t, err)
	if left, damaged := again.ListUnfinished(); left != nil || damaged != nil {
		t.Fatalf("%v, %v", left, damaged)
	}
}

// The list of 2,000 records, and what live does at its start, on a machine with two cores
// that does nothing else.
func TestQuietTwoThousandRecords(t *testing.T) {
	const n = 2_000
	var g *Garage
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		if g == nil {
			g = manyRecords(t, n)
		}
		begin, cpu := time.Now(), cpuTime()
		records, _ := g.ListSyncs("x")
		took, used := time.Since(begin), cpuTime()-cpu
		if len(records) != n {
			t.Fatalf("%d records", len(records))
		}
		cpu = cpuTime()
		openAgain(t, g)
		return []effort.Figure{effort.Millis("a list of 2000 records, processor", used, 800*time.Millisecond),
			effort.Millis("and from begin to end", took, 2*time.Second),
			effort.Millis("start of live, processor", cpuTime()-cpu, 30*time.Millisecond)}
	})
}

func BenchmarkListSyncs(b *testing.B) {
	g := manyRecords(b, 2000)
	for b.Loop() {
		g.ListSyncs("x")
	}
}
