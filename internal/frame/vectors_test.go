package frame

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// vector is one file of firmware-protocol/vectors.
type vector struct {
	name string
	head map[string]string
	body []byte
}

func (v vector) intact() bool { return v.head["outcome"] == "intact" }

func (v vector) num(t *testing.T, key string) uint64 {
	t.Helper()
	n, err := strconv.ParseUint(v.head[key], 10, 64)
	if err != nil {
		t.Fatalf("%s: key %s: %v", v.name, key, err)
	}
	return n
}

func readVectors(t *testing.T) []vector {
	t.Helper()
	files, err := filepath.Glob("../../firmware-protocol/vectors/*.vec")
	if err != nil || len(files) < 40 {
		t.Fatalf("found %d vectors, %v", len(files), err)
	}
	var all []vector
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		head, body, _ := strings.Cut(string(text), "\n\n")
		v := vector{name: filepath.Base(f), head: map[string]string{}}
		for line := range strings.Lines(head) {
			k, value, _ := strings.Cut(strings.TrimSpace(line), ": ")
			v.head[k] = value
		}
		if o := v.head["outcome"]; o != "intact" && o != "refused" {
			t.Fatalf("%s: outcome %q", v.name, o)
		}
		if v.body, err = hex.DecodeString(strings.Join(strings.Fields(body), "")); err != nil {
			t.Fatalf("%s: %v", v.name, err)
		}
		all = append(all, v)
	}
	return all
}

// TestVectors runs every vector through this package. The COBS bodies of
// figures 2 and 3 are those of Cheshire and Baker's paper, as quoted by an open
// COBS library's tests; the CRC check value is the CRC catalogue's.
func TestVectors(t *testing.T) {
	t.Parallel()
	kinds := map[string]func(*testing.T, vector){
		"crc": checkCRC, "seed": checkSeed, "cobs": checkCOBS,
		"data": checkData, "announcement": checkAnnouncement, "stream": checkStream,
	}
	for _, v := range readVectors(t) {
		t.Run(strings.TrimSuffix(v.name, ".vec"), func(t *testing.T) {
			check, ok := kinds[v.head["kind"]]
			if !ok {
				t.Fatalf("kind %q", v.head["kind"])
			}
			check(t, v)
		})
	}
}

func checkCRC(t *testing.T, v vector) {
	if got := fmt.Sprintf("%04X", CRC(announcementSeed, v.body)); got != v.head["value"] {
		t.Errorf("CRC %s, want %s", got, v.head["value"])
	}
}

func checkSeed(t *testing.T, v vector) {
	if got := Layout(int(v.num(t, "channels"))); got != string(v.body) {
		t.Errorf("layout %q, want %q", got, v.body)
	}
	if got := fmt.Sprintf("%04X", Seed(string(v.body))); got != v.head["value"] {
		t.Errorf("seed %s, want %s", got, v.head["value"])
	}
}

func checkCOBS(t *testing.T, v vector) {
	plain, err := hex.DecodeString(v.head["plain"])
	if err != nil {
		t.Fatal(err)
	}
	if got := appendCOBS(nil, plain); !bytes.Equal(got, v.body) {
		t.Errorf("encoded % X\nwant % X", got, v.body)
	}
	got, ok := decodeCOBS(make([]byte, len(v.body)), v.body)
	if !ok || !bytes.Equal(got, plain) {
		t.Errorf("decoded % X, %v\nwant % X", got, ok, plain)
	}
}

func checkData(t *testing.T, v vector) {
	n := int(v.num(t, "channels"))
	a := testBoard(n)
	a.Bits = int(v.num(t, "bits"))
	var d Decoder
	d.Feed(AppendAnnouncement(nil, a))
	d.Next()
	d.Feed(v.body)
	f, ok := d.Next()
	if ok != v.intact() {
		t.Fatalf("read %v, want %s", ok, v.head["outcome"])
	}
	if !ok {
		if d.Stats().Damaged == 0 {
			t.Error("damage is not counted")
		}
		return
	}
	want := Frame{Counter: uint32(v.num(t, "counter")), Tick: uint32(v.num(t, "tick")),
		Overflow: uint16(v.num(t, "overflow")), N: n}
	for i, s := range strings.Fields(v.head["counts"]) {
		c, _ := strconv.Atoi(s)
		want.Counts[i] = uint16(c)
	}
	if *f != want {
		t.Errorf("read %+v\nwant %+v", *f, want)
	}
	if got := AppendData(nil, Seed(a.Layout), &want); !bytes.Equal(got, v.body) {
		t.Errorf("made % X\nwant % X", got, v.body)
	}
}

func checkAnnouncement(t *testing.T, v vector) {
	var d Decoder
	d.Feed(v.body)
	d.Next()
	a := d.Board()
	if (a != nil) != v.intact() {
		t.Fatalf("read %+v, want %s", a, v.head["outcome"])
	}
	if a == nil {
		return
	}
	got := map[string]string{
		"protocol": strconv.Itoa(a.Protocol), "model": a.Model, "serial": a.Serial, "boot": a.Boot,
		"program":  a.Program,
		"channels": strconv.Itoa(len(a.Channels)), "bits": strconv.Itoa(a.Bits), "rate": strconv.Itoa(a.Rate),
	}
	for k, g := range got {
		if want, ok := v.head[k]; ok && g != want {
			t.Errorf("%s %s, want %s", k, g, want)
		}
	}
	if (d.Failure() == nil) != (v.head["readable"] == "yes") {
		t.Errorf("failure %v, readable: %s", d.Failure(), v.head["readable"])
	}
	if v.name == "announcement-worked.vec" && !bytes.Equal(AppendAnnouncement(nil, a), v.body) {
		t.Errorf("made % X", AppendAnnouncement(nil, a))
	}
}

func checkStream(t *testing.T, v vector) {
	frames, stats := readAll(bytes.NewReader(v.body))
	got := []uint64{uint64(len(frames)), stats.Lost, stats.Damaged, stats.Duplicates, stats.Restarts, stats.Overflows}
	var want []uint64
	for _, k := range []string{"frames", "lost", "damaged", "duplicates", "restarts", "overflows"} {
		want = append(want, v.num(t, k))
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("frames, lost, damaged, duplicates, restarts, overflows: %v, want %v", got, want)
	}
	for i := 1; i < len(frames); i++ {
		if frames[i].Segment == frames[i-1].Segment && int32(frames[i].Tick-frames[i-1].Tick) <= 0 {
			t.Errorf("tick runs backwards at frame %d", i)
		}
	}
}
