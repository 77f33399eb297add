package bootloader

import (
	"bytes"
	"strings"
	"testing"
)

// The format's own example: two data records and an end, from the specification's rules: the bytes of a record add up
// to 0 modulo 256.
func TestReadHex(t *testing.T) {
	m, err := ReadHex(strings.NewReader(":04000000112233445200\n"))
	if err == nil {
		t.Errorf("a record that is too long was read: %v", m)
	}
	m, err = ReadHex(strings.NewReader(":0400000011223344" + "52\r\n:020000021000EC\r\n:01000000AA55\n:00000001FF\n"))
	if err == nil || !strings.Contains(err.Error(), "line 3: address 0x10000") {
		t.Errorf("%v, %v", m, err)
	}
	m, err = ReadHex(strings.NewReader(":0400000011223344" + "52\r\n:020000020100FB\r\n:01000000AA55\n:00000001FF\n"))
	if err != nil {
		t.Fatal(err)
	}
	if p := m.Page(0); !bytes.HasPrefix(p[:], []byte{0x11, 0x22, 0x33, 0x44, 0xFF}) || m.Page(32)[0] != 0xAA ||
		len(m.Pages()) != 2 || m.Bytes() != 256 {
		t.Errorf("%v", m)
	}
}

func TestReadHexRefuses(t *testing.T) {
	const first, end = ":0100000011EE\n", ":00000001FF\n"
	for text, want := range map[string]string{
		first:                          "no end record: cut off after line 1",
		"":                             "cut off",
		end:                            "nothing at address 0",
		":0100010011ED\n" + end:        "nothing at address 0",
		first + "x" + end:              `line 2: no record: it begins with 'x'`,
		first + ":01\n" + end:          "line 2: a record of 1 bytes",
		first + ":01000000zz\n" + end:  "line 2: no record: encoding/hex",
		first + ":0100000011EF\n":      "line 2: wrong sum: off by 0x01",
		first + first + end:            "line 2: address 0x0 is given twice",
		first + end + first:            "line 3: after the end record",
		first + ":01780000117" + "6\n": "line 2: address 0x7800",
		first + ":0000000 6FA\n":       "line 2: no record",
		first + ":00000006FA\n":        "line 2: a record of type 6",
		first + ":0100000410EB\n":      "line 2: an address base of 1 bytes",
	} {
		if m, err := ReadHex(strings.NewReader(text)); err == nil || m != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// The program that is brought along says what it is, and ends far below the boot loader.
func TestProgram(t *testing.T) {
	var flash []byte
	m := Program()
	for _, n := range m.Pages() {
		p := m.Page(n)
		flash = append(flash, p[:]...)
	}
	for _, text := range []string{ProgramModel, ProgramVersion} {
		if !bytes.Contains(flash, []byte("\x00"+text+"\x00")) && !bytes.Contains(flash, []byte(text+"\x00")) {
			t.Errorf("%q is not in the program", text)
		}
	}
	if m.Bytes() > Room/2 {
		t.Errorf("%d bytes", m.Bytes())
	}
}

func TestOlder(t *testing.T) {
	for version, want := range map[string]bool{"0.9.0": true, "0.10": true, "1": true, ProgramVersion: false,
		"1.0.1": false, "10.0.0": false, "mine": false, "": false, "0.9-mine": false} {
		if Older(version) != want {
			t.Errorf("%q: %v", version, !want)
		}
	}
}

func FuzzReadHex(f *testing.F) {
	f.Add([]byte(":0100000011EE\n:00000001FF\n"))
	f.Add(boardHex)
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := ReadHex(bytes.NewReader(text))
		if (m == nil) != (err != nil) {
			t.Fatalf("%v, %v", m, err)
		}
		if m == nil {
			return
		}
		for _, n := range m.Pages() {
			if n < 0 || (n+1)*PageSize > Room {
				t.Fatalf("page %d", n)
			}
		}
	})
}
