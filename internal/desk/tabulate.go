package desk

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/head"
	"evendraw/internal/hint"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/settings"
)

// Tabulate writes a capture as a table: CSV with the time in microseconds since its start, and a row a frame of the
// channels' raw counts, or with kPa of the absolute pressures that the settings in its head give. Where frames are
// missing there is a gap in the times; a board that starts anew goes on one interval later, as how long it was away
// is not known.
func Tabulate(ctx context.Context, set *settings.Settings, name string, kPa bool, std settings.Streams,
	out io.Writer) error {
	in, file, err := settings.OpenInput(ctx, name, std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	if in.Table != nil {
		return hint.Usagef("%s is a table already", name)
	}
	cfg, err := set.InputConfig(in, &settings.TableOptions{}, &settings.Notes{Tell: std.Warn})
	if err != nil {
		return err
	}
	if kPa && !cfg.Zeroed {
		std.Warn("no zero pass: the sensors' own zero errors are in these pressures")
	}
	w := bufio.NewWriterSize(out, 64<<10)
	t := tabulation{frames: frame.NewReader(in.Bytes), out: w, cfg: cfg, kPa: kPa, version: set.Version,
		recorded: settings.InputTime(in, name)}
	if err := t.run(ctx); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	stats := t.frames.Stats()
	fmt.Fprintf(std.Err, "%d rows, %d frames lost, %d damaged\n", stats.Frames, stats.Lost, stats.Damaged)
	return nil
}

// tabulation is a capture that becomes a table.
type tabulation struct {
	frames *frame.Reader
	out    *bufio.Writer
	cfg    session.Config
	kPa    bool
	// version is the program's, recorded when the capture was made: for the table's head.
	version  string
	recorded time.Time

	conv *sensor.Converter
	n    int // channels in the head row
	row  []byte
}

func (t *tabulation) run(ctx context.Context) error {
	var f frame.Frame
	for {
		var err error
		f, err = t.frames.Read()
		a := t.frames.Board()
		switch {
		case ctx.Err() != nil:
			return context.Cause(ctx)
		case err == io.EOF && t.conv == nil:
			return settings.NoFrame(a, 0)
		case err == io.EOF:
			return nil
		case err != nil:
			return err
		case t.conv == nil:
			cfg := t.cfg
			if cfg.BankOf != nil {
				cfg = cfg.BankOf(a)
			}
			t.conv = sensor.NewConverter(cfg.Setup)
			t.conv.Announce(a)
			if err := t.head(f.N, cfg, a); err != nil {
				return err
			}
		case f.N != t.n:
			return errors.New("the board's channels change in the middle")
		}
		t.write(&f, t.conv.Push(&f))
	}
}

// head writes what comes before the rows: the settings that pressures were made with, or are to be made with.
func (t *tabulation) head(n int, cfg session.Config, a *frame.Announcement) error {
	t.n = n
	name := "c"
	if t.kPa {
		name = "kpa"
		cfg.Setup.Offsets, cfg.Setup.Gains = nil, nil // they are taken out
	}
	if err := capture.WriteTableHead(t.out, head.Of(&cfg, a, t.version, "", t.recorded)); err != nil {
		return err
	}
	t.out.WriteString("t_us")
	for i := range n {
		fmt.Fprintf(t.out, ",%s%d", name, i)
	}
	return t.out.WriteByte('\n')
}

func (t *tabulation) write(f *frame.Frame, s *sensor.Sample) {
	t.row = strconv.AppendInt(t.row[:0], int64(math.Round(s.Time*1e6)), 10)
	for i := range t.n {
		t.row = append(t.row, ',')
		if t.kPa {
			t.row = strconv.AppendFloat(t.row, float64(s.Absolute[i]), 'f', 4, 64)
		} else {
			t.row = strconv.AppendUint(t.row, uint64(f.Counts[i]), 10)
		}
	}
	t.out.Write(append(t.row, '\n')) // Flush tells what failed
}
