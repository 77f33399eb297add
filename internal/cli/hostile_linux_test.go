package cli

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

const (
	hostileSize = 1 << 20  // the largest hostile file
	mostMemory  = 64 << 10 // peak, kB
	mostTime    = 1.0      // of the processor, s
	mostWork    = 768      // MB taken in the course of a run; chosen: two thirds of a second's worth
)

// hostileFiles are captures and tables made to do harm, none above 1 MB.
func hostileFiles() map[string][]byte {
	head := func(lines ...string) []byte {
		return []byte("# evendraw capture 1\n# ambient_kpa: 100\n# ambient_from: zero\n# " +
			strings.Join(lines, "\n# ") + "\n#\n")
	}
	rec := fakeboard.Steady("S1", 4, 3000)
	body := rec.Bytes()
	random := rand.New(rand.NewPCG(24, 24))
	files := map[string][]byte{
		"zeros":         make([]byte, hostileSize),
		"ones":          append([]byte{0}, bytes.Repeat([]byte{0xFF}, hostileSize-1)...),
		"noise":         append([]byte{0}, fakeboard.Junk(random, hostileSize-1)...),
		"noise, joined": append(bytes.Clone(body), fakeboard.Junk(random, hostileSize-len(body))...),
		"endless line":  append([]byte("t_us,v0\n"), bytes.Repeat([]byte{'1'}, hostileSize-8)...),
		"endless head":  append([]byte("# evendraw capture 1\n# a: "), bytes.Repeat([]byte{'b'}, hostileSize-26)...),
		"many heads": append([]byte("# evendraw capture 1\n"),
			bytes.Repeat([]byte("# a: b\n"), (hostileSize-21)/7)...),
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
	for i, bank := range []string{`{"Cylinders":1000000000}`, `{"Cylinders":-1}`,
		`{"Cylinders":4,"Channels":[2147483648,1,2,3]}`,
		`{"Cylinders":4,"Channels":[-1,-1,-1,-1]}`, `{"Cylinders":9223372036854775807}`, `{"Cylinders":1e400}`,
		`{"FiringAngles":[NaN]}`, `null`, `[]`, `"../../x"`} {
		files[fmt.Sprint("bank ", i)] = append(head("bank: "+bank), body...)
	}
	for i, line := range []string{"offsets_kpa: [1e308,1,1,1]", "offsets_kpa: [1e999]", "reference: 1000000000",
		"reference: -1", "aim_kpa: 1e308",
		"supply_mv: -1", "supply_mv: 9223372036854775807", "ambient_kpa: NaN", "bike: ../../../../etc/passwd",
		"sensors: [\"../x\"]"} {
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

// bomb is half a gigabyte of zeros after a head, packed in pieces that follow each other.
func bomb(head []byte) []byte {
	piece := packed(make([]byte, 16<<20))
	return append(packed(head), bytes.Repeat(piece, hostileSize/2/len(piece))...)
}

func packed(b []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	z.Write(b)
	z.Close()
	return out.Bytes()
}

// hostileRun is what a run on a hostile file has used.
type hostileRun struct {
	Status  int
	PeakKB  int     // of the memory of a process that did nothing else
	Seconds float64 // of the processor
	AllocMB float64 // in all; not with which speed
}

// hostileEnv has the test program run the program's arguments, and tell what that took.
const hostileEnv = "EVENDRAW_TEST_HOSTILE"

// init takes the test program's place before any test runs.
func init() {
	to := os.Getenv(hostileEnv)
	if to == "" {
		return
	}
	os.Unsetenv(hostileEnv)
	var h hostileRun
	h.Status = Run(context.Background(), version, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	h.Seconds = time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	h.AllocMB = float64(m.TotalAlloc) / (1 << 20)
	status, _ := os.ReadFile("/proc/self/status")
	_, after, _ := strings.Cut(string(status), "VmHWM:") // ru_maxrss counts the parent's
	fmt.Sscan(after, &h.PeakKB)
	text, _ := json.Marshal(h)
	if os.WriteFile(to, text, 0o644) != nil {
		os.Exit(99)
	}
	os.Exit(h.Status)
}

// runHostile runs the program on a file in a process of its own.
func runHostile(t *testing.T, dir string, args ...string) (h hostileRun, out string) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	report := filepath.Join(dir, "report")
	os.Remove(report)
	ctx, stop := context.WithTimeout(t.Context(), effort.Hang)
	defer stop()
	cmd := exec.CommandContext(ctx, self, args...)
	cmd.Env = append(os.Environ(), hostileEnv+"="+report, "EVENDRAW_GARAGE="+filepath.Join(dir, "garage"))
	said, _ := cmd.CombinedOutput()
	text, err := os.ReadFile(report)
	if err != nil || json.Unmarshal(text, &h) != nil {
		t.Fatalf("%q: no report: %v %s", args, err, tail(string(said)))
	}
	return h, string(said)
}

// plainHostile are the files that a plain run looks at: one of each kind; the others are near kin.
var plainHostile = []string{"bomb", "many heads", "table of big", "printed", "bank 2", "head 6"}

// eachHostileFile runs the verbs that read files on the hostile ones.
func eachHostileFile(t *testing.T, each func(t *testing.T, what string, h hostileRun, out string)) {
	dir := t.TempDir()
	files := hostileFiles()
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if !effort.Whole() && !slices.Contains(plainHostile, name) {
			continue
		}
		if len(files[name]) > hostileSize {
			t.Errorf("%s has %d bytes", name, len(files[name]))
		}
		path := write(t, filepath.Join(dir, "hostile"), string(files[name]))
		for _, args := range [][]string{{"analyse", path}, {"board", "check", "--strict", path}} {
			what := args[0] + ", " + name
			t.Run(what, func(t *testing.T) {
				h, out := runHostile(t, dir, args...)
				each(t, what, h, out)
			})
		}
	}
}

// Row 24: no file of at most 1 MB takes more than 64 MB, or very much work, kills the
// program, or gets a control byte through.
func TestHostileCaptures(t *testing.T) {
	t.Parallel()
	runs, memory, work := 0, 0, 0.0
	eachHostileFile(t, func(t *testing.T, _ string, h hostileRun, out string) {
		if h.PeakKB > mostMemory || h.AllocMB > mostWork || h.Status < 0 || h.Status == 2 ||
			strings.Contains(out, "goroutine") || controlBytes(out) != nil {
			t.Errorf("%+v: %q", h, tail(out))
		}
		runs, memory, work = runs+1, max(memory, h.PeakKB), max(work, h.AllocMB)
	})
	t.Logf("count: %d runs on hostile files, at most %d MB in use", runs, memory>>10)
	t.Logf("%.0f MB taken in all, at most", work)
}

// None takes a second of the processor.
func TestQuietHostileCaptures(t *testing.T) {
	t.Parallel()
	effort.Quiet(t, func(t *testing.T) []effort.Figure {
		longest, of := 0.0, ""
		eachHostileFile(t, func(_ *testing.T, what string, h hostileRun, _ string) {
			if h.Seconds > longest {
				longest, of = h.Seconds, what
			}
		})
		return []effort.Figure{{Name: "processor time of " + of, Got: longest, Limit: mostTime, Unit: "s"}}
	})
}
