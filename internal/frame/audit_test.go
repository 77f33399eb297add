package frame

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"strings"
	"testing"
)

func auditOf(p []byte) *Audit {
	var a Audit
	a.Push(p)
	a.Finish()
	return &a
}

// TestAuditVectors holds the vectors, made by other code, against the audit: the
// intact ones have nothing to find, the refused ones have.
func TestAuditVectors(t *testing.T) {
	t.Parallel()
	expected := map[string]Rule{ // faults of the line that some streams show on purpose
		"stream-lost.vec": RuleCounter, "stream-doubled.vec": RuleCounter, "stream-swapped.vec": RuleCounter,
		"stream-restart-unannounced.vec": RuleBoot, "stream-noise.vec": RuleCRC,
	}
	n := 0
	for _, v := range readVectors(t) {
		if kind := v.head["kind"]; kind != "stream" && kind != "announcement" {
			continue
		}
		n++
		t.Run(strings.TrimSuffix(v.name, ".vec"), func(t *testing.T) {
			found := auditOf(v.body).Findings()
			want, faulty := expected[v.name]
			if !v.intact() {
				faulty = true
			}
			if got := len(found) > 0; got != faulty && v.name != "announcement-newer.vec" &&
				v.name != "announcement-other-layout.vec" {
				t.Errorf("found %+v", found)
			}
			if want != "" && (len(found) == 0 || found[0].Rule != want) {
				t.Errorf("found %+v, wanted %s", found, want)
			}
		})
	}
	if n < 15 {
		t.Errorf("only %d vectors looked at", n)
	}
}

// boardStream is what a board sends that gets everything right, but for what the two functions
// do to a payload before its CRC, and to the CRC.
func boardStream(frames int, alter func(i int, f *Frame), crc func(p []byte, sound uint16) uint16) []byte {
	a := testBoard(4)
	out := AppendAnnouncement(nil, a)
	for i := range frames {
		f := Frame{Counter: uint32(i), Tick: uint32(i) * 1000, N: 4, Counts: [MaxChannels]uint16{400, 0, 1023, 401}}
		if alter != nil {
			alter(i, &f)
		}
		p := append([]byte{typeData}, make([]byte, dataHead-1)...)
		binary.LittleEndian.PutUint32(p[1:], f.Counter)
		binary.LittleEndian.PutUint32(p[5:], f.Tick)
		binary.LittleEndian.PutUint16(p[9:], f.Overflow)
		for _, c := range f.Counts[:f.N] {
			p = binary.LittleEndian.AppendUint16(p, c)
		}
		sound := CRC(Seed(a.Layout), p)
		if crc != nil {
			sound = crc(p, sound)
		}
		p = binary.LittleEndian.AppendUint16(p, sound)
		out = append(appendCOBS(append(out, 0), p), 0)
		if i%1000 == 999 {
			out = AppendAnnouncement(out, a)
		}
	}
	return out
}

func TestAuditSlips(t *testing.T) {
	t.Parallel()
	sound := boardStream(2500, nil, nil)
	if a := auditOf(sound); len(a.Findings()) != 0 || a.Frames() != 2500 || a.Announcements() != 3 {
		t.Fatalf("a sound stream: %d frames, %d announcements, %+v", a.Frames(), a.Announcements(), a.Findings())
	}
	for _, c := range []struct {
		name string
		in   []byte
		rule Rule
		says string
	}{
		{"one delimiter", bytes.ReplaceAll(sound, []byte{0, 0}, []byte{0}), RuleDelimiters, "one delimiter"},
		{"CRC high byte first", boardStream(3, nil, func(_ []byte, c uint16) uint16 { return bits.ReverseBytes16(c) }),
			RuleCRC, "high byte first"},
		{"CRC from FFFF", boardStream(3, nil, func(p []byte, _ uint16) uint16 { return CRC(0xFFFF, p) }), RuleCRC,
			"started from FFFF"},
		{"CRC from 0", boardStream(3, nil, func(p []byte, _ uint16) uint16 { return CRC(0, p) }), RuleCRC,
			"started from 0000"},
		{"CRC without type", boardStream(3, nil,
			func(p []byte, _ uint16) uint16 { return CRC(Seed(Layout(4)), p[1:]) }), RuleCRC, "type byte"},
		{"CRC reflected", boardStream(3, nil, func(p []byte, _ uint16) uint16 { return reflectedCRC(0xFFFF, p) }),
			RuleCRC, "reflected"},
		{"seed of three channels", boardStream(3, nil,
			func(p []byte, _ uint16) uint16 { return CRC(Seed(Layout(3)), p) }), RuleCRC, Layout(3)},
		{"damage", boardStream(3, nil, func(p []byte, c uint16) uint16 { return c ^ 0x5A5A }), RuleCRC,
			"no usual slip"},
		{"three counts", boardStream(3, func(_ int, f *Frame) { f.N = 3 }, nil), RuleLength, "layout"},
		{"count high byte first", boardStream(3, func(_ int, f *Frame) { f.Counts[0] = 0x9001 }, nil), RuleCount,
			"channel 0"},
		{"counter stands", boardStream(3, func(_ int, f *Frame) { f.Counter = 7 }, nil), RuleCounter, "twice"},
		{"counter by two", boardStream(3, func(i int, f *Frame) { f.Counter, f.Tick = uint32(2*i), uint32(2000*i) },
			nil), RuleCounter, "up by 1"},
		{"tick in ms", boardStream(3, func(i int, f *Frame) { f.Tick = uint32(i) }, nil), RuleTick,
			"tick moves by 1 µs"},
		{"overflow falls", boardStream(3, func(i int, f *Frame) { f.Overflow = uint16(9 - i) }, nil), RuleOverflow,
			"down"},
		{"rate 3 % fast", boardStream(2500, func(i int, f *Frame) { f.Tick = uint32(i * 970) }, nil), RuleRate,
			"1030.9"},
		{"announced once", append(AppendAnnouncement(nil, testBoard(4)),
			stripAnnouncements(boardStream(2500, nil, nil))...), RuleAnnounced, "no announcement for 2.0 s"},
		{"never announced", stripAnnouncements(boardStream(2500, nil, nil)), RuleAnnounced, "no intact announcement"},
		{"counter starts anew", append(boardStream(900, nil, nil), stripAnnouncements(boardStream(9, nil, nil))...),
			RuleBoot, "another boot"},
	} {
		t.Run(c.name, func(t *testing.T) {
			found := auditOf(c.in).Findings()
			if len(found) == 0 || found[0].Rule != c.rule || !strings.Contains(found[0].Problem, c.says) {
				t.Errorf("found %+v, wanted %s: %q", found, c.rule, c.says)
			}
		})
	}
}

// stripAnnouncements returns the data frames of a stream alone.
func stripAnnouncements(p []byte) (out []byte) {
	for _, block := range bytes.Split(p, []byte{0}) {
		if len(block) > 0 && len(block) < 40 {
			out = append(append(append(out, 0), block...), 0)
		}
	}
	return out
}

// TestAuditPlace checks that the byte at fault is named.
func TestAuditPlace(t *testing.T) {
	t.Parallel()
	in := boardStream(3, nil, nil)
	second := bytes.LastIndex(in[:len(in)-1], []byte{0, 0}) + 2
	in[second] = 0xF0 // the last frame's first code byte
	found := auditOf(in).Findings()
	if len(found) != 1 || found[0].Rule != RuleCOBS || found[0].At != uint64(second) || found[0].Mark != 0 ||
		found[0].Block[0] != 0xF0 {
		t.Errorf("found %+v, wanted COBS at %d", found, second)
	}
}

// TestAuditSplit checks that it does not matter how the bytes are cut.
func TestAuditSplit(t *testing.T) {
	t.Parallel()
	in := boardStream(50, func(i int, f *Frame) { f.Counter += uint32(i / 20) }, nil)
	want := auditOf(in).Findings()
	for n := 1; n < 40; n++ {
		var a Audit
		for p := in; len(p) > 0; p = p[min(n, len(p)):] {
			a.Push(p[:min(n, len(p))])
		}
		a.Finish()
		if got := a.Findings(); len(got) != len(want) || got[0].At != want[0].At || got[0].Times != want[0].Times {
			t.Fatalf("cut every %d bytes: %+v, want %+v", n, got, want)
		}
	}
}
