package capture

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// A test starts this program again with the variable set, to write a capture until it is
// killed.
const childVariable = "EVENDRAW_TEST_CAPTURE"

func TestMain(m *testing.M) {
	path := os.Getenv(childVariable)
	if path == "" {
		os.Exit(m.Run())
	}
	c, err := Create(path, Head{{"board", "T1"}})
	if err != nil {
		panic(err)
	}
	for {
		if _, err := c.Write(bytes.Repeat([]byte{'x'}, 240)); err != nil { // as 1000 frames a second come
			panic(err)
		}
		n, _ := c.Sum()
		fmt.Println(time.Now().UnixNano(), n)
		time.Sleep(10 * time.Millisecond)
	}
}

// A program is killed while it writes a capture: of what it had taken, less than a second
// is lost.
func TestKilledCaptureLosesLessThanASecond(t *testing.T) {
	worst := time.Duration(0)
	const kills = 10
	var mu sync.Mutex
	var group sync.WaitGroup
	for n := range kills {
		path := filepath.Join(t.TempDir(), fmt.Sprint(n))
		group.Go(func() {
			lost := killWriter(t, path)
			mu.Lock()
			defer mu.Unlock()
			worst = max(worst, lost)
		})
	}
	group.Wait()
	t.Logf("count: %d kills of a recording program, at most %v of the bytes lost", kills, worst.Round(time.Millisecond))
	if worst > time.Second {
		t.Errorf("%v lost", worst)
	}
}

// killWriter kills a program that writes a capture and returns how long before that the
// first byte came which is lost.
func killWriter(t *testing.T, path string) time.Duration {
	self, err := os.Executable()
	if err != nil {
		t.Error(err)
		return 0
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childVariable+"="+path)
	out, err := cmd.StdoutPipe()
	if err != nil || cmd.Start() != nil {
		t.Error("no child")
		return 0
	}
	var came, bytes []int64
	lines := bufio.NewScanner(out)
	stop := time.Now().Add(700*time.Millisecond + rand.N(600*time.Millisecond))
	for lines.Scan() {
		at, n, _ := strings.Cut(lines.Text(), " ")
		a, errA := strconv.ParseInt(at, 10, 64)
		b, errB := strconv.ParseInt(n, 10, 64)
		if errA != nil || errB != nil {
			break
		}
		came, bytes = append(came, a), append(bytes, b)
		if time.Now().After(stop) {
			cmd.Process.Kill()
			stop = stop.Add(time.Hour)
		}
	}
	cmd.Wait()
	f, err := os.Open(path)
	if err != nil || len(came) == 0 {
		t.Errorf("%v, %d lines", err, len(came))
		return 0
	}
	defer f.Close()
	if in, err := Open(f); err != nil || in.Head.Get("board") != "T1" {
		t.Errorf("what is left can't be read: %v", err)
	}
	info, _ := f.Stat()
	for i, n := range bytes {
		if n > info.Size() {
			return time.Duration(came[len(came)-1] - came[i])
		}
	}
	return 0
}

// slowDisk takes its time, or fails.
type slowDisk struct {
	mu     sync.Mutex
	data   bytes.Buffer
	wait   time.Duration
	failAt int
	err    error
	calls  int
	syncs  int
}

func (d *slowDisk) Write(p []byte) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.calls++; d.failAt > 0 && d.calls > d.failAt {
		return 0, d.err
	}
	if d.calls > 1 { // the head goes through
		time.Sleep(d.wait)
	}
	return d.data.Write(p)
}

func (d *slowDisk) Sync() error { d.syncs++; return nil }
func (d *slowDisk) Close() error {
	return nil
}

// A disk that stands still holds nobody up, and its bytes are all there in the end.
func TestSlowDiskHoldsNobodyUp(t *testing.T) {
	d := &slowDisk{wait: 600 * time.Millisecond}
	c, err := newFile(d, Head{{"board", "T1"}})
	if err != nil {
		t.Fatal(err)
	}
	var all bytes.Buffer
	worst := time.Duration(0)
	for n := range 60 {
		p := []byte(fmt.Sprintf("piece %d\x00", n))
		all.Write(p)
		begin := time.Now()
		if _, err := c.Write(p); err != nil {
			t.Fatal(err)
		}
		worst = max(worst, time.Since(begin))
		time.Sleep(5 * time.Millisecond)
	}
	n, sum := c.Sum()
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	got := d.data.Bytes()
	want := sha256.Sum256(got)
	if !bytes.HasSuffix(got, all.Bytes()) || n != int64(len(got)) || sum != hex.EncodeToString(want[:]) {
		t.Errorf("%d bytes are there, %d were taken", len(got), n)
	}
	if worst > d.wait/2 {
		t.Errorf("a Write took %v", worst)
	}
	if d.syncs == 0 {
		t.Error("never synced")
	}
	if _, err := c.Write([]byte("x")); err == nil || c.Close() == nil {
		t.Error("a closed file takes more")
	}
}

// What a disk refuses is told once, and nothing is written after it; memory stays flat.
func TestFailingDiskIsTold(t *testing.T) {
	d := &slowDisk{failAt: 1, err: syscall.ENOSPC}
	c, err := newFile(d, nil)
	if err != nil {
		t.Fatal(err)
	}
	deadline := time.Now().Add(10 * time.Second)
	for err == nil && time.Now().Before(deadline) {
		_, err = c.Write([]byte("x"))
		time.Sleep(10 * time.Millisecond)
	}
	if !errors.Is(err, syscall.ENOSPC) || !errors.Is(c.Close(), syscall.ENOSPC) {
		t.Errorf("got %v", err)
	}
	still := &slowDisk{wait: time.Second}
	if c, err = newFile(still, nil); err != nil {
		t.Fatal(err)
	}
	taken := 0
	for err == nil && taken < 4*maxWaiting {
		var n int
		n, err = c.Write(make([]byte, 64<<10))
		taken += n
	}
	if !errors.Is(err, errTooSlow) || taken > 2*maxWaiting+64<<10 {
		t.Errorf("%d bytes, %v", taken, err)
	}
	c.Close()
	if _, err := Create(filepath.Join(t.TempDir(), "none", "c"), nil); err == nil {
		t.Error("a capture in no folder")
	}
	path := filepath.Join(t.TempDir(), "c")
	os.WriteFile(path, []byte("mine"), 0o644)
	if _, err := Create(path, nil); !errors.Is(err, os.ErrExist) {
		t.Errorf("overwritten: %v", err)
	}
}

func packedBytes(t *testing.T, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write(data)
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestPack(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "c.cap")
	text := append([]byte("# evendraw capture 1\n# board: T1\n#\n"), bytes.Repeat([]byte("\x00frame"), 1000)...)
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	packed, before, after, err := Pack(path)
	if err != nil || packed != path+PackedEnding || before != int64(len(text)) || after >= before {
		t.Fatalf("%s, %d to %d, %v", packed, before, after, err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the old one: %v", err)
	}
	f, err := os.Open(packed)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in, err := Open(f)
	if err != nil || in.Head.Get("board") != "T1" {
		t.Fatalf("%+v, %v", in, err)
	}
	if got, err := io.ReadAll(in.Bytes); err != nil || !bytes.HasSuffix(text, got) || len(got) != 6000 || in.CutShort() != 5 {
		t.Errorf("%d bytes, %d cut, %v", len(got), in.CutShort(), err)
	}
	// A file that is in the way is left alone, and so is the capture.
	os.WriteFile(path, text, 0o644)
	if _, _, _, err := Pack(path); !errors.Is(err, os.ErrExist) {
		t.Errorf("got %v", err)
	}
	if got, err := os.ReadFile(path); err != nil || !bytes.Equal(got, text) {
		t.Errorf("the capture has changed: %v", err)
	}
}

// Row 24: compressed files made to do harm, or damaged, are named, quickly.
func TestHostilePackedFiles(t *testing.T) {
	head := []byte("# evendraw capture 1\n#\n")
	bomb := packedBytes(t, append(bytes.Clone(head), make([]byte, 150<<20)...))
	if len(bomb) > 1<<20 {
		t.Fatalf("the bomb has %d bytes", len(bomb))
	}
	good := packedBytes(t, append(bytes.Clone(head), []byte("\x00abc\x00def\x00 with some more of it")...))
	spoilt := bytes.Clone(good)
	spoilt[len(spoilt)-6] ^= 1
	for name, data := range map[string][]byte{
		"bomb": bomb, "cut": good[:len(good)-5], "cut early": good[:12], "checksum": spoilt, "start only": gzipStart, "in itself": packedBytes(t, good),
		"rubbish": append(bytes.Clone(good[:10]), bytes.Repeat([]byte{0xFF}, 100)...),
	} {
		best := time.Hour
		for range 3 { // other work on the machine is not meant
			begin := time.Now()
			in, err := Open(bytes.NewReader(data))
			if err == nil {
				_, err = io.Copy(io.Discard, in.Bytes)
			}
			var e *Error
			if !errors.As(err, &e) {
				t.Errorf("%s: got %v", name, err)
			}
			best = min(best, time.Since(begin))
		}
		if best > time.Second {
			t.Errorf("%s: took %v", name, best)
		}
	}
}

// BenchmarkFileWrite is what a capture costs the reading of a board: 1000 frames of 24 bytes a
// second come in such pieces.
func BenchmarkFileWrite(b *testing.B) {
	c, err := Create(filepath.Join(b.TempDir(), "c"), nil)
	if err != nil {
		b.Fatal(err)
	}
	defer c.Close()
	piece := make([]byte, 480)
	b.SetBytes(int64(len(piece)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.Write(piece); err == errTooSlow { // faster than any disk
			time.Sleep(writeEvery)
			c.mu.Lock()
			c.err = nil
			c.mu.Unlock()
		}
	}
}
