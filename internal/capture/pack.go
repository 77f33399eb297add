package capture

import (
	"bufio"
	"compress/flate"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"evendraw/internal/store"
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

// Unpack returns what was compressed in r. Errors of damage, and of what swells without end, are of type *Error.
func Unpack(r io.Reader) (io.Reader, error) {
	counted := &byteCounter{r: bufio.NewReader(r)}
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
// removes the old one only when every byte is there again, and the new one's name lasts. It returns
// the new file's path and the sizes before and after. Killed at any point, or stopped by ctx, it
// leaves the capture; a Pack after that ends the work. A packed file that is there already and holds
// something else is os.ErrExist.
func Pack(ctx context.Context, path string) (packed string, before, after int64, err error) {
	return pack(ctx, store.New(), path)
}

func pack(ctx context.Context, disk *store.Store, path string) (packed string, before, after int64, err error) {
	packed = path + PackedEnding
	sum, before, err := sumOf(ctx, path)
	if err != nil {
		return "", 0, 0, err
	}
	isSame := func(file string) (err error) {
		after, err = samePacked(ctx, file, sum, before)
		return err
	}
	switch err = isSame(packed); {
	case err == nil: // an earlier Pack was ended before it took the capture away
		return packed, before, after, disk.Remove(path)
	case errors.Is(err, errOther):
		return "", 0, 0, &os.PathError{Op: "compress to", Path: packed, Err: os.ErrExist}
	case !errors.Is(err, os.ErrNotExist) && !errors.As(packedError(err), new(*Error)):
		return "", 0, 0, err // it may be whole, and can't be read
	}
	store.Sweep(filepath.Dir(path), time.Now())
	if err = disk.Make(packed, func(to io.Writer) error { return packTo(ctx, path, to) }, isSame); err != nil {
		return "", 0, 0, err
	}
	return packed, before, after, disk.Remove(path)
}

// until reads from r until ctx ends.
type until struct {
	ctx context.Context
	r   io.Reader
}

// Read reads, or returns why ctx has ended.
func (u *until) Read(p []byte) (int, error) {
	if u.ctx.Err() != nil {
		return 0, context.Cause(u.ctx)
	}
	return u.r.Read(p)
}

// sumOf returns the checksum and the size of a file.
func sumOf(ctx context.Context, path string) (sum [sha256.Size]byte, size int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return sum, 0, err
	}
	defer f.Close()
	h := sha256.New()
	size, err = io.Copy(h, &until{ctx, f})
	return [sha256.Size]byte(h.Sum(nil)), size, err
}

// packTo compresses a file.
func packTo(ctx context.Context, path string, to io.Writer) error {
	from, err := os.Open(path)
	if err != nil {
		return err
	}
	defer from.Close()
	z := gzip.NewWriter(to)
	if _, err := io.Copy(z, &until{ctx, from}); err != nil {
		return err
	}
	return z.Close()
}

// errOther marks a compressed file that is whole, and of something else.
var errOther = errors.New("does not hold what was put in")

// samePacked returns the size of a compressed file, and an error unless it holds the bytes of that
// checksum and size.
func samePacked(ctx context.Context, packed string, sum [sha256.Size]byte, size int64) (int64, error) {
	f, err := os.Open(packed)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	z, err := gzip.NewReader(bufio.NewReader(&until{ctx, f}))
	if err != nil {
		return 0, err
	}
	h := sha256.New()
	n, err := io.Copy(h, z)
	if err != nil {
		return 0, err
	}
	if n != size || [sha256.Size]byte(h.Sum(nil)) != sum {
		return 0, fmt.Errorf("%s %w; the capture stays as it was", packed, errOther)
	}
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}
