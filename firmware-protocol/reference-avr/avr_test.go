// Package avr_test builds the reference board's program and runs it on a
// simulated chip, whose bytes the decoder of evendraw/internal/frame reads.
package avr_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// need skips the test, or fails it if all tests are asked for, when something
// to build or to simulate with is missing.
func need(t *testing.T) {
	t.Helper()
	missing := ""
	for _, tool := range []string{"make", "cc", "avr-gcc", "avr-size"} {
		if _, err := exec.LookPath(tool); err != nil {
			missing = tool
		}
	}
	for _, header := range []string{"/usr/include/simavr/sim_avr.h", "/usr/include/libelf.h"} {
		if _, err := os.Stat(header); err != nil {
			missing = header
		}
	}
	if missing != "" {
		effort.Missing(t, "no simulated board: no "+missing+
			" (Debian packages gcc-avr avr-libc libsimavr-dev libelf-dev make gcc)")
	}
}

// built are the directories of what was made, by make's arguments.
var built struct {
	sync.Mutex
	in   string
	dirs map[string]string
}

// TestMain removes what was built.
func TestMain(m *testing.M) {
	status := m.Run()
	if built.in != "" {
		os.RemoveAll(built.in)
	}
	os.Exit(status)
}

// build runs make with its output in a directory of its own, which it returns, once for the same arguments in
// the same order. Nobody writes there.
func build(t *testing.T, args ...string) string {
	t.Helper()
	need(t)
	for _, pattern := range []string{"*/*.c", "*/*.h", "*/*.ino", "../../hardware-notes/*/*.ino", "Makefile",
		"../vectors/*"} {
		names, _ := filepath.Glob(pattern)
		for _, name := range names { // go test's cache takes note of them
			if _, err := os.Stat(name); err != nil {
				t.Fatal(err)
			}
		}
	}
	built.Lock()
	defer built.Unlock()
	key := strings.Join(args, " ")
	if dir := built.dirs[key]; dir != "" {
		return dir
	}
	if built.in == "" {
		in, err := os.MkdirTemp("", "evendraw-avr")
		if err != nil {
			t.Fatal(err)
		}
		built.in, built.dirs = in, map[string]string{}
	}
	dir := filepath.Join(built.in, strconv.Itoa(len(built.dirs)))
	out, err := exec.Command("make", append([]string{"-C", ".", "OUT=" + dir}, args...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("make %s: %v\n%s", key, err, out)
	}
	t.Logf("%s", out)
	built.dirs[key] = dir
	return dir
}

// simulate runs a built board and returns the bytes it sent.
func simulate(t *testing.T, dir string, args ...string) []byte {
	t.Helper()
	return simulateProgram(t, dir, "board.elf", args...)
}

// simulateProgram does so with another program.
func simulateProgram(t *testing.T, dir, program string, args ...string) []byte {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), effort.Hang)
	defer cancel()
	args = append([]string{"--stdout", "--stats"}, append(args, dir+"/"+program)...)
	cmd := exec.CommandContext(ctx, dir+"/simboard", args...)
	var stats bytes.Buffer
	cmd.Stderr = &stats
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("simboard %s: %v\n%s", strings.Join(args, " "), err, &stats)
	}
	t.Logf("%s", &stats)
	return out
}

// write makes a file and returns its name.
func write(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "waveform")
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// run is what a decoder made of a board's bytes.
type run struct {
	frames []frame.Frame
	boards []*frame.Announcement // one each time it changes
	stats  frame.Stats
}

func decode(raw []byte) (r run) {
	var d frame.Decoder
	take := func() {
		for f, ok := d.Next(); ok; f, ok = d.Next() {
			r.frames = append(r.frames, *f)
		}
		b := d.Board()
		if n := len(r.boards); b != nil && (n == 0 || *identity(r.boards[n-1]) != *identity(b)) {
			r.boards = append(r.boards, b)
		}
	}
	for len(raw) > 0 {
		n := min(len(raw), 64)
		d.Feed(raw[:n])
		take()
		raw = raw[n:]
	}
	d.Finish()
	take()
	r.stats = d.Stats()
	return r
}

func identity(a *frame.Announcement) *[2]string { return &[2]string{a.Serial, a.Boot} }

// wantSound fails the test unless all that the board sent arrived and was good.
func wantSound(t *testing.T, r run) {
	t.Helper()
	s := r.stats
	if len(r.frames) == 0 || s.Lost+s.Damaged+s.Duplicates+s.Restarts+s.Unannounced+s.Unreadable != 0 {
		t.Fatalf("%d frames, %+v", len(r.frames), s)
	}
}

// wantSteady fails the test unless there is a frame for every instant.
func wantSteady(t *testing.T, frames []frame.Frame, period uint32) {
	t.Helper()
	for i, f := range frames {
		if f.Counter != uint32(i) || f.Tick != uint32(i)*period || f.Overflow != 0 {
			t.Fatalf("frame %d: %+v", i, f)
		}
	}
}

func TestVectors(t *testing.T) {
	t.Parallel()
	build(t, "vectors-test")
}

func TestAnnouncement(t *testing.T) {
	t.Parallel()
	for lambda := range 2 {
		dir := build(t, append([]string{"all", "harness"}, []string{"LAMBDA=1"}[:lambda]...)...)
		r := decode(simulate(t, dir, "--seconds", "1.5"))
		wantSound(t, r)
		got := *r.boards[0]
		want := frame.Announcement{Protocol: 1, Model: "reference-avr", Serial: got.Serial, Boot: "0000",
			Program: "1.0.0", Layout: frame.Layout(4 +
				lambda), Bits: 10, ReferenceMV: 5000, Ratiometric: true, Rate: 1000}
		for i := range 4 + lambda {
			c := frame.Channel{Role: frame.Pressure, Unit: "kPa", DelayUs: uint32(112 * i)}
			if i == 4 {
				c.Role, c.Unit = frame.Lambda, "lambda"
			}
			want.Channels = append(want.Channels, c)
		}
		if fmt.Sprint(got) != fmt.Sprint(want) || len(r.boards) != 1 || r.stats.Announcements != 2 {
			t.Errorf("%d announcements, got\n%v want\n%v", r.stats.Announcements, got, want)
		}
		n, err := strconv.ParseUint(got.Serial, 16, 32)
		if err != nil || len(got.Serial) != 8 || n == 0 || n == math.MaxUint32 {
			t.Errorf("serial number %q", got.Serial)
		}
	}
}

func TestCounts(t *testing.T) {
	t.Parallel()
	dir := build(t, "all", "harness", "LAMBDA=1")
	eeprom := filepath.Join(t.TempDir(), "eeprom")
	for _, volts := range [][5]float64{
		{0, 0.0049, 1, 2.5, 4.9999}, {0.79, 1.84, 4.0, 0.0048, 5}, {3.3333, 2.0001, 1.2345, 4.4444, 0.1},
	} {
		text := "t_us A B C D E\n0"
		for _, v := range volts {
			text += fmt.Sprint(" ", v)
		}
		r := decode(simulate(t, dir, "--waveform", write(t, text), "--eeprom", eeprom, "--seconds", "1"))
		wantSound(t, r)
		wantSteady(t, r.frames, 1000)
		for _, f := range r.frames {
			for i, v := range volts {
				want := min(math.Floor(v*1024/5), 1023)
				if math.Abs(float64(f.Counts[i])-want) > 1 {
					t.Fatalf("frame %d channel %d at %v V: count %d, want %v", f.Counter, i, v, f.Counts[i], want)
				}
			}
		}
	}
}

// TestRate compares the number of frames with the simulated time itself.
func TestRate(t *testing.T) {
	effort.ForWhole(t, "the program's other habits")
	t.Parallel()
	dir := build(t, "all", "harness")
	eeprom := filepath.Join(t.TempDir(), "eeprom")
	simulate(t, dir, "--eeprom", eeprom, "--seconds", "1") // first start: chooses its serial number
	one := decode(simulate(t, dir, "--eeprom", eeprom, "--seconds", "1"))
	five := decode(simulate(t, dir, "--eeprom", eeprom, "--seconds", "6"))
	wantSound(t, five)
	wantSteady(t, five.frames, 1000)
	if n := len(five.frames) - len(one.frames); n < 4999 || n > 5001 {
		t.Errorf("%d frames in 5 s", n)
	}
	if one.stats.Announcements != 1 || five.stats.Announcements != 6 {
		t.Errorf("%d announcements in 1 s, %d in 6 s", one.stats.Announcements, five.stats.Announcements)
	}
}

// TestDelays feeds one steep ramp to all channels: the delay of a channel shows
// as the count it has more than channel 0.
func TestDelays(t *testing.T) {
	effort.ForWhole(t, "the program's other habits")
	t.Parallel()
	const rampUs = 2030.0 // 1024 counts; no multiple of the period
	dir := build(t, "all", "harness", "LAMBDA=1")
	wave := write(t, fmt.Sprintf("0,0,0,0,0,0\n%v,5,5,5,5,5\n", rampUs))
	r := decode(simulate(t, dir, "--waveform", wave, "--seconds", "2"))
	wantSound(t, r)
	wantSteady(t, r.frames, 1000)
	perCount := rampUs / 1024
	phase0 := (float64(r.frames[0].Counts[0]) + 0.5) * perCount
	var sum [5]float64
	n := 0
	for _, f := range r.frames {
		stray := math.Remainder((float64(f.Counts[0])+0.5)*perCount-float64(f.Tick)-phase0, rampUs)
		if math.Abs(stray) > 2*perCount {
			t.Fatalf("frame %d: channel 0 was sampled %.1f µs off its tick", f.Counter, stray)
		}
		if f.Counts[0] > 760 {
			continue // the ramp begins anew before the last channel
		}
		n++
		for i, c := range f.Counts[:f.N] {
			delay := (float64(c) - float64(f.Counts[0])) * perCount
			sum[i] += delay
			if announced := float64(r.boards[0].Channels[i].DelayUs); math.Abs(delay-announced) > 1.5*perCount {
				t.Fatalf("frame %d: channel %d was sampled %.1f µs after the tick, %v announced", f.Counter, i, delay,
					announced)
			}
		}
	}
	for i := range sum {
		mean, announced := sum[i]/float64(n), float64(r.boards[0].Channels[i].DelayUs)
		t.Logf("channel %d: %.2f µs after the tick, %v announced", i, mean, announced)
		if math.Abs(mean-announced) > 0.5 {
			t.Errorf("channel %d: %.2f µs after the tick, %v announced", i, mean, announced)
		}
	}
}

func TestRestart(t *testing.T) {
	effort.ForWhole(t, "the program's other habits")
	t.Parallel()
	dir := build(t, "all", "harness")
	eeprom := filepath.Join(t.TempDir(), "eeprom")
	r := decode(simulate(t, dir, "--eeprom", eeprom, "--seconds", "1.5", "--reset-at", "0.7", "--reset-at", "1.1"))
	s := r.stats
	if s.Lost != 0 || s.Restarts != 2 || s.Damaged > 2 || s.Overflows != 0 {
		t.Errorf("%+v", s) // each reset may cut one frame
	}
	again := decode(simulate(t, dir, "--eeprom", eeprom, "--seconds", "0.5"))
	boards := append(r.boards, again.boards...)
	for i, b := range boards {
		if b.Boot != fmt.Sprintf("%04X", i) || b.Serial != boards[0].Serial {
			t.Errorf("start %d: serial number %s, boot %s", i, b.Serial, b.Boot)
		}
	}
	if len(boards) != 4 || r.frames[len(r.frames)-1].Segment != 2 {
		t.Errorf("%d starts, last segment %d", len(boards), r.frames[len(r.frames)-1].Segment)
	}
	for i, f := range r.frames[1:] {
		if first := f.Segment != r.frames[i].Segment; first && f.Counter != 0 {
			t.Errorf("segment %d begins with frame %d", f.Segment, f.Counter)
		}
	}
}

// TestOverflow makes the board late in two ways: a line too slow for its
// frames, and a period too short for its conversions.
func TestOverflow(t *testing.T) {
	effort.ForWhole(t, "the program's other habits")
	t.Parallel()
	for _, c := range []struct {
		args         []string
		period       uint32
		least, above float64 // part of the instants that gives no frame
	}{
		{[]string{"LAMBDA=1", "BAUD=250000"}, 1000, 0.02, 0.2},
		{[]string{"RATE=2500"}, 400, 0.49, 0.51},
	} {
		dir := build(t, append(c.args, "all", "harness")...)
		r := decode(simulate(t, dir, "--seconds", "4"))
		wantSound(t, r)
		if r.frames[0].Tick != 0 {
			t.Errorf("%v: first frame %+v", c.args, r.frames[0])
		}
		for i, f := range r.frames {
			if f.Counter != uint32(i) || f.Tick != c.period*(f.Counter+uint32(f.Overflow)) {
				t.Fatalf("%v: frame %d: %+v", c.args, i, f)
			}
		}
		part := float64(r.stats.Overflows) / float64(r.stats.Overflows+r.stats.Frames)
		t.Logf("%v: %.1f %% of the instants gave no frame", c.args, 100*part)
		if part < c.least || part > c.above {
			t.Errorf("%v: %.1f %% of the instants gave no frame", c.args, 100*part)
		}
	}
}
