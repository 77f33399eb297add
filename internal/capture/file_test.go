package capture

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"evendraw/internal/effort"
)

// A test starts this program again with the variable set, to write a capture until it is
// killed.
const childVariable = "EVENDRAW_TEST_CAPTURE"

// piece is what the other program writes each time: as much as 1000 frames a second are.
var piece = bytes.Repeat([]byte("\x00frame of a board..."), 12)

func TestMain(m *testing.M) {
	path := os.Getenv(childVariable)
	if path == "" {
		os.Exit(m.Run())
	}
	head := Head{{"board", "T1"}}
	c, err := Create(path, head)
	if err != nil {
		panic(err)
	}
	var start bytes.Buffer
	WriteHead(&start, head)
	for n := start.Len() + len(piece); ; n += len(piece) {
		if _, err := c.Write(piece); err != nil {
			panic(err)
		}
		fmt.Println(time.Now().UnixNano(), n)
		time.Sleep(10 * time.Millisecond)
	}
}

// A program is killed while it writes a capture, at any place: what is left opens, and holds
// nothing but bytes that it had taken, the first ones. How much is lost depends on the machine: see
// TestQuietKilledCapture, and in virtual time TestCaptureIsWrittenInTime.
func TestKilledCaptureIsReadable(t *testing.T) {
	t.Parallel()
	kills := effort.Of(3, 10)
	worst := killWriters(t, kills)
	t.Logf("count: %d kills of a recording program, at most %v of the bytes lost", kills, worst.Round(time.Millisecond))
}

// Of what a killed program had taken, less than a second is lost.
func TestQuietKilledCapture(t *testing.T) {
	t.Parallel()
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		return []effort.Figure{effort.Millis("worst loss of 10 killed recordings", killWriters(t, 10), time.Second)}
	})
}

// killWriters kills so many programs that write captures, all at a time, and returns the most
// that one lost.
func killWriters(t *testing.T, kills int) (worst time.Duration) {
	t.Helper()
	dir := t.TempDir()
	lost := make([]time.Duration, kills)
	var group sync.WaitGroup
	for n := range kills {
		group.Go(func() {
			path := filepath.Join(dir, fmt.Sprint(n))
			var err error
			if lost[n], err = killWriter(path, 20+7*n); err != nil {
				t.Errorf("kill %d: %v", n, err)
			}
		})
	}
	group.Wait()
	return slices.Max(lost)
}

// killWriter starts a program that writes a capture, and kills it when some of its bytes are in the
// file and it has then taken some pieces more. It returns how much is lost, as the time from the first
// lost byte to the program's last report.
func killWriter(path string, more int) (time.Duration, error) {
	self, err := os.Executable()
	if err != nil {
		return 0, err
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childVariable+"="+path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		return 0, err
	}
	if err := cmd.Start(); err != nil {
		return 0, err
	}
	hung := time.AfterFunc(effort.Hang, func() { cmd.Process.Kill() })
	var came, taken []int64
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		var at, n int64
		if _, err := fmt.Sscan(lines.Text(), &at, &n); err != nil {
			break // a word that was cut off
		}
		came, taken = append(came, at), append(taken, n)
		if info, err := os.Stat(path); more > 0 && (len(came) > 1 && err == nil && info.Size() >= taken[1]) {
			if more--; more == 0 {
				cmd.Process.Kill()
			}
		}
	}
	cmd.Wait()
	if !hung.Stop() {
		return 0, errors.New("the other program's bytes do not come into the file")
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, err
	}
	if err := checkKilled(text, taken[len(taken)-1]); err != nil {
		return 0, err
	}
	for i, n := range taken {
		if n > int64(len(text)) {
			return time.Duration(came[len(came)-1] - came[i]), nil
		}
	}
	return 0, nil
}

// checkKilled checks the file of a killed program that had taken so many bytes by its last report.
func checkKilled(text []byte, taken int64) error {
	in, err := Open(bytes.NewReader(text))
	if err != nil {
		return err
	}
	if in.Head.Get("board") != "T1" {
		return fmt.Errorf("the head is %q", in.Head)
	}
	if int64(len(text)) > taken+int64(len(piece)) { // one more it may have taken without a word
		return fmt.Errorf("%d bytes of %d taken", len(text), taken)
	}
	got, err := io.ReadAll(in.Bytes)
	if want := bytes.Repeat(piece, len(got)/len(piece)+1)[:len(got)]; err != nil || !bytes.Equal(got, want) {
		return fmt.Errorf("%v, other bytes", err)
	}
	return nil
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
	t.Parallel()
	dir := t.TempDir()
	path := filepath.Join(dir, "c.cap")
	text := append([]byte("# evendraw capture 1\n# board: T1\n#\n"), bytes.Repeat([]byte("\x00frame"), 1000)...)
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	packed, before, after, err := Pack(t.Context(), path)
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
	if got, err := io.ReadAll(in.Bytes); err != nil || !bytes.HasSuffix(text, got) || len(got) != 6000 ||
		in.CutShort() != 5 {
		t.Errorf("%d bytes, %d cut, %v", len(got), in.CutShort(), err)
	}
	// A file that is in the way is left alone, and so is the capture.
	text = append(text, "more"...)
	os.WriteFile(path, text, 0o644)
	if _, _, _, err := Pack(t.Context(), path); !errors.Is(err, os.ErrExist) {
		t.Errorf("got %v", err)
	}
	if got, err := os.ReadFile(path); err != nil || !bytes.Equal(got, text) {
		t.Errorf("the capture has changed: %v", err)
	}
}

// hostile are compressed files made to do harm, or damaged.
func hostile(t *testing.T, bombSize int) map[string][]byte {
	t.Helper()
	head := []byte("# evendraw capture 1\n#\n")
	good := packedBytes(t, append(bytes.Clone(head), []byte("\x00abc\x00def\x00 with some more of it")...))
	spoilt := bytes.Clone(good)
	spoilt[len(spoilt)-6] ^= 1
	return map[string][]byte{
		"bomb": packedBytes(t, append(bytes.Clone(head), make([]byte, bombSize)...)),
		"cut":  good[:len(good)-5], "cut early": good[:12], "checksum": spoilt, "start only": gzipStart,
		"in itself": packedBytes(t, good),
		"rubbish":   append(bytes.Clone(good[:10]), bytes.Repeat([]byte{0xFF}, 100)...),
	}
}

// unpack reads a compressed capture to its end, and returns how many bytes came out of it.
func unpack(data []byte) (int64, error) {
	in, err := Open(bytes.NewReader(data))
	if err != nil {
		return 0, err
	}
	return io.Copy(io.Discard, in.Bytes)
}

// Row 24: compressed files made to do harm, or damaged, are named, and no more comes out of
// them than a capture may hold.
func TestHostilePackedFiles(t *testing.T) {
	t.Parallel()
	bomb := effort.Of(40, 150) << 20
	for name, data := range hostile(t, bomb) {
		t.Run(name, func(t *testing.T) {
			n, err := unpack(data)
			var e *Error
			if !errors.As(err, &e) {
				t.Errorf("got %v", err)
			}
			if most := packedSlack + maxRatio*int64(len(data)); n > most || name == "bomb" && most >= int64(bomb) {
				t.Errorf("%d bytes came out of %d, at most %d may; the bomb holds %d", n, len(data), most, bomb)
			}
		})
	}
}

// They are named quickly.
func TestQuietHostilePackedFiles(t *testing.T) {
	t.Parallel()
	effort.Quiet(t, func(t *testing.T) (figures []effort.Figure) {
		for name, data := range hostile(t, 150<<20) {
			begin := time.Now()
			unpack(data)
			figures = append(figures, effort.Millis(name, time.Since(begin), time.Second))
		}
		return figures
	})
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
