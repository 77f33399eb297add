package desk

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"evendraw/internal/capture"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/tell"
)

// CheckGarage reads every file and sets aside what is damaged, unless it is only to look.
func CheckGarage(g *garage.Garage, lookOnly, asJSON bool, out, errOut io.Writer) error {
	rep := g.Inspect()
	damaged := []tell.DamagedFile{}
	for _, e := range rep.Damaged {
		d := tell.DamagedFile{File: e.Path, Problem: e.Error(), Newer: e.Newer, NoRight: e.Denied()}
		if !lookOnly && garage.CanSetAside(e) {
			to, err := g.SetAside(e)
			if err != nil {
				hint.Report(errOut, err)
			} else {
				d.Aside = &to
			}
		}
		damaged = append(damaged, d)
	}
	if err := tell.Inspection(out, &rep, damaged, asJSON); err != nil {
		return err
	}
	for _, e := range rep.Damaged {
		if e.Denied() { // whose hint says how it is to be read again
			hint.ReportAll(errOut, []*garage.Error{e})
			break
		}
	}
	return garage.UnreadOf(rep.Damaged)
}

// CompressCaptures compresses what is old enough. One that can't be is told, and the others go on.
func CompressCaptures(ctx context.Context, g *garage.Garage, older time.Duration, out, errOut io.Writer) error {
	packed, before, after := 0, int64(0), int64(0)
	var last error
	err := filepath.WalkDir(g.Paths().Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || filepath.Ext(path) != capture.Ending ||
			filepath.Base(filepath.Dir(path)) != "captures" {
			return nil // what can't be read holds no captures to compress
		}
		info, err := d.Info()
		if err != nil || time.Since(info.ModTime()) < older {
			return nil
		}
		name, was, is, err := capture.Pack(ctx, path)
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if err != nil {
			hint.Report(errOut, err)
			last = err
			return nil
		}
		os.Chtimes(name, info.ModTime(), info.ModTime()) // only for the eye
		packed, before, after = packed+1, before+was, after+is
		fmt.Fprintf(out, "%s  %.1f MB → %.1f MB\n", name, float64(was)/1e6, float64(is)/1e6)
		return nil
	})
	fmt.Fprintf(out, "captures compressed: %d, %.1f MB → %.1f MB\n", packed, float64(before)/1e6, float64(after)/1e6)
	if err == nil {
		err = last
	}
	return err
}
