package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

const (
	hostileSize = 1 << 20          // the largest hostile file
	mostMemory  = 64 << 10         // peak, kB
	mostTime    = 1 * time.Second  // of the processor
	mostWait    = 20 * time.Second // on a busy machine
)

// hostileFiles are captures and tables made to do harm, none above 1 MB.
func hostileFiles() map[string][]byte {
	head := func(lines ...string) []byte {
		return []byte("# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: zero\n# " + strings.Join(lines, "\n# ") + "\n#\n")
	}
	rec := fakeboard.Steady("S1", 4, 3000)
	body := rec.Bytes()
	random := rand.New(rand.NewPCG(24, 24))
	files := map[string][]byte{
		"zeros":          make([]byte, hostileSize),
		"ones":           append([]byte{0}, bytes.Repeat([]byte{0xFF}, hostileSize-1)...),
		"noise":          append([]byte{0}, fakeboard.Junk(random, hostileSize-1)...),
		"noise, joined":  append(bytes.Clone(body), fakeboard.Junk(random, hostileSize-len(body))...),
		"endless line":   append([]byte("t_us,v0\n"), bytes.Repeat([]byte{'1'}, hostileSize-8)...),
		"endless head":   append([]byte("# evendraw capture 1\n# a: "), bytes.Repeat([]byte{'b'}, hostileSize-26)...),
		"many heads":     append([]byte("# evendraw capture 1\n"), bytes.Repeat([]byte("# a: b\n"), (hostileSize-21)/7)...),
		"deep":           append(head("bank: "+strings.Repeat("[", 16000)), body...),
		"big gaps":       leaping(0x7FFF_FF00, 20_000),
		"small gaps":     leaping(40, 40_000),
		"late board":     lateBoard(20_000),
		"restarts":       restarting(1500),
		"printed":        bytes.Repeat([]byte("0,0\n"), hostileSize/4),
		"printed clock":  printedLeaps(),
		"table of gaps":  tableOf(func(i int) string { return fmt.Sprintf("%d,100,99", i*i*i) }),
		"table of NaN":   tableOf(func(int) string { return "1,NaN,1" }),
		"table of big":   tableOf(func(i int) string { return fmt.Sprintf("%de300,1e308,-1e308", i%10) }),
		"table of tiny":  tableOf(func(i int) string { return fmt.Sprintf("%g,1e308,-1e308", float64(i)*1e-300) }),
		"nine channels":  []byte("t_us,c0,c1,c2,c3,c4,c5,c6,c7,c8\n"),
		"many columns":   []byte("t_us" + strings.Repeat(",c0", 10_000) + "\n1\n"),
		"announcements":  bytes.Repeat(frame.AppendAnnouncement(nil, &rec.About), 3000),
		"gzip of itself": packed(packed(packed(body))),
	}
	for i, bank := range []string{`{"Cylinders":1000000000}`, `{"Cylinders":-1}`, `{"Cylinders":4,"Channels":[2147483648,1,2,3]}`,
		`{"Cylinders":4,"Channels":[-1,-1,-1,-1]}`, `{"Cylinders":9223372036854775807}`, `{"Cylinders":1e400}`, `{"FiringAngles":[NaN]}`, `null`, `[]`, `"../../x"`} {
		files[fmt.Sprint("bank ", i)] = append(head("bank: "+bank), body...)
	}
	for i, line := range []string{"offsets_kpa: [1e308,1,1,1]", "offsets_kpa: [1e999]", "reference: 1000000000", "reference: -1", "aim_kpa: 1e308",
		"supply_mv: -1", "supply_mv: 9223372036854775807", "ambient_kpa: NaN", "bike: ../../../../etc/passwd", "sensors: [\"../x\"]"} {
		files[fmt.Sprint("head ", i)] = append(head(line), body...)
	}
	files["bomb"] = bomb(head("a: b"))
	return files
}

// leaping is a stream whose counter leaps, with the tick that fits.
func leaping(step uint32, n int) []byte {
	about := fakeboard.Announcement("S1", 4)
	out, seed := frame.AppendAnnouncement(nil, about), frame.Seed(about.Layout)
	f := frame.Frame{N: 4}
	for i := range n {
		f.Counts = [frame.MaxChannels]uint16{uint16(i * 7 % 1000), uint16(i * 11 % 1000), 500, 500}
		out = frame.AppendData(out, seed, &f)
		leap := uint32(1)
		if i%8 == 7 {
			leap = step
		}
		f.Counter += leap
		f.Tick += 1000 * leap
	}
	return out
}

// lateBoard is a board that always misses all but one instant of 65 536.
func lateBoard(n int) []byte {
	about := fakeboard.Announcement("S1", 4)
	out, seed := frame.AppendAnnouncement(nil, about), frame.Seed(about.Layout)
	f := frame.Frame{N: 4}
	for range n {
		out = frame.AppendData(out, seed, &f)
		f.Counter++
		f.Overflow += 0xFFFF
		f.Tick += 1000 * 0x10000
	}
	return out
}

// restarting is a board that starts anew all the time, each time as another.
func restarting(n int) (out []byte) {
	rec := fakeboard.Steady("S1", 4, 8)
	for i := range n {
		rec.About.Serial = fmt.Sprint("S", i)
		out = append(out, rec.Bytes()...)
	}
	return out
}

func printedLeaps() []byte {
	var b bytes.Buffer
	for i := range 64 {
		fmt.Fprintf(&b, "%d,1,2,3,4\n", 1000*i)
	}
	for i := 1; b.Len() < hostileSize-30; i++ {
		fmt.Fprintf(&b, "%d,1,2,3,4\n", uint32(i)*2_000_000_000)
	}
	return b.Bytes()
}

func tableOf(row func(i int) string) []byte {
	var b bytes.Buffer
	b.WriteString("t_us,kpa0,kpa1\n")
	for i := 0; b.Len() < hostileSize/4; i++ {
		b.WriteString(row(i) + "\n")
	}
	return b.Bytes()
}

// bomb is half a gigabyte of zeros after a head, packed.
func bomb(head []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	z.Write(head)
	for zeros := make([]byte, 1<<20); out.Len() < hostileSize/2; {
		z.Write(zeros)
	}
	z.Close()
	return out.Bytes()
}

func packed(b []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	z.Write(b)
	z.Close()
	return out.Bytes()
}

// Row 24: no file of at most 1 MB takes more than 64 MB or a second, kills the
// program, or gets a control byte through.
func TestHostileCaptures(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	runs, memory, longest := 0, 0, time.Duration(0)
	for name, content := range hostileFiles() {
		if len(content) > hostileSize {
			t.Errorf("%s has %d bytes", name, len(content))
		}
		path := filepath.Join(dir, "hostile")
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"analyse", path}, {"board", "check", "--strict", path}} {
			cmd := exec.Command(binary, args...)
			cmd.Env = append(os.Environ(), "EVENDRAW_GARAGE="+filepath.Join(dir, "garage"))
			out, peak := watched(t, cmd)
			used := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
			status := cmd.ProcessState.ExitCode()
			if peak > mostMemory || used > mostTime || status < 0 || status == 2 || bytes.Contains(out, []byte("goroutine")) || controlBytes(string(out)) != nil {
				t.Errorf("%s, %s: status %d, %d kB, %v: %q", args[0], name, status, peak, used, tail(string(out)))
			}
			runs, memory, longest = runs+1, max(memory, peak), max(longest, used)
			if used > mostTime/2 {
				t.Logf("%s, %s: %v", args[0], name, used)
			}
		}
	}
	t.Logf("count: %d runs on hostile files, at most %d MB and %d ms of the processor", runs, memory>>10, longest.Milliseconds())
}

// watched runs a program and returns what it said and its peak memory in kB. The
// system's own figure of that would count what this process had when it forked.
func watched(t *testing.T, cmd *exec.Cmd) (out []byte, peak int) {
	t.Helper()
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		cmd.Wait()
		close(ended)
	}()
	late := time.After(mostWait)
	for {
		if status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", cmd.Process.Pid)); err == nil && bytes.HasPrefix(status, []byte("Name:\tevendraw\n")) {
			if _, after, ok := strings.Cut(string(status), "VmHWM:"); ok {
				var now int
				fmt.Sscan(after, &now)
				peak = max(peak, now)
			}
		}
		select {
		case <-ended:
			return said.Bytes(), peak
		case <-late:
			cmd.Process.Kill()
		case <-time.After(2 * time.Millisecond):
		}
	}
}
