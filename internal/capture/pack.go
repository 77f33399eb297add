package capture

import (
	"bufio"
	"compress/flate"
	"compress/gzip"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
)

// PackedEnding ends the name of a compressed capture. Captures are compressed with gzip, as the
// standard library has it and every computer of the next decades opens it.
const PackedEnding = ".gz"

var gzipStart = []byte{0x1F, 0x8B}

// maxRatio is how many times its size a compressed file may give, beyond its first packedSlack
// bytes. Chosen: captures give 1.7 times (measured); a file that is made to fill a disk gives up
// to 1032 times.
const (
	maxRatio    = 100
	packedSlack = 1 << 20
)

// unpacker reads a compressed capture.
type unpacker struct {
	z      *gzip.Reader
	packed *byteCounter
	out    int64
}

// byteCounter counts the bytes that were read from r.
type byteCounter struct {
	r *bufio.Reader
	n int64
}

// Read reads and counts.
func (c *byteCounter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}

// ReadByte reads and counts; with it the unpacker takes no more than it needs.
func (c *byteCounter) ReadByte() (byte, error) {
	b, err := c.r.ReadByte()
	if err == nil {
		c.n++
	}
	return b, err
}

func newUnpacker(r *bufio.Reader) (*unpacker, error) {
	counted := &byteCounter{r: r}
	z, err := gzip.NewReader(counted)
	if err != nil {
		return nil, packedError(err)
	}
	return &unpacker{z: z, packed: counted}, nil
}

// Read gives what was compressed.
func (u *unpacker) Read(p []byte) (int, error) {
	n, err := u.z.Read(p)
	u.out += int64(n)
	if u.out > packedSlack+maxRatio*u.packed.n {
		return 0, wrong(0, 0, "the compressed file swells to more than %d times its size: it is no capture", maxRatio)
	}
	if err != nil && err != io.EOF {
		err = packedError(err)
	}
	return n, err
}

// packedError turns an error of damage into an *Error; other errors are the reader's own.
func packedError(err error) error {
	var corrupt flate.CorruptInputError
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF) || err == io.EOF:
		return wrong(0, 0, "the compressed file is cut short")
	case errors.Is(err, gzip.ErrChecksum), errors.Is(err, gzip.ErrHeader), errors.As(err, &corrupt):
		return wrong(0, 0, "the compressed file is damaged: %v", err)
	}
	return err
}

// Pack compresses a capture to a new file beside it, with PackedEnding, reads that back, and
// removes the old one only when every byte is there again. It returns the new file's path and the
// sizes before and after.
func Pack(path string) (packed string, before, after int64, err error) {
	packed = path + PackedEnding
	sum, before, err := packTo(path, packed)
	if err == nil {
		after, err = samePacked(packed, sum, before)
	}
	if err != nil {
		if !errors.Is(err, os.ErrExist) {
			os.Remove(packed)
		}
		return "", 0, 0, err
	}
	return packed, before, after, os.Remove(path)
}

// packTo compresses one file to a new one and returns the checksum and size of what was
// read.
func packTo(path, packed string) (sum [sha256.Size]byte, size int64, err error) {
	from, err := os.Open(path)
	if err != nil {
		return sum, 0, err
	}
	defer from.Close()
	to, err := os.OpenFile(packed, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return sum, 0, err
	}
	h, z := sha256.New(), gzip.NewWriter(to)
	size, err = io.Copy(io.MultiWriter(z, h), from)
	for _, end := range []func() error{z.Close, to.Sync, to.Close} {
		if e := end(); err == nil {
			err = e
		}
	}
	return [sha256.Size]byte(h.Sum(nil)), size, err
}

// samePacked returns the size of a compressed file, and an error unless it holds the bytes of that
// checksum and size.
func samePacked(packed string, sum [sha256.Size]byte, size int64) (int64, error) {
	f, err := os.Open(packed)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	z, err := gzip.NewReader(bufio.NewReader(f))
	if err != nil {
		return 0, err
	}
	h := sha256.New()
	if n, err := io.Copy(h, z); err != nil || n != size || [sha256.Size]byte(h.Sum(nil)) != sum {
		return 0, fmt.Errorf("capture: %s does not hold what was put in (%v); the capture stays as it was", packed, err)
	}
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}
