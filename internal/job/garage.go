package job

import (
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"evendraw/internal/capture"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
)

// CheckGarage reads every file and sets aside what is damaged, unless it is only to look.
func CheckGarage(g *garage.Garage, lookOnly, asJSON bool, out, errOut io.Writer) error {
	type line struct {
		File    string  `json:"file"`
		Problem string  `json:"problem"`
		Newer   bool    `json:"newer"`
		Aside   *string `json:"set_aside"`
	}
	rep := g.Inspect()
	damaged := []line{}
	for _, e := range rep.Damaged {
		l := line{File: e.Path, Problem: strings.TrimPrefix(e.Error(), "garage: "), Newer: e.Newer}
		if !lookOnly && garage.CanSetAside(e) {
			to, err := g.SetAside(e)
			if err != nil {
				Report(errOut, err)
			} else {
				l.Aside = &to
			}
		}
		damaged = append(damaged, l)
	}
	if asJSON {
		err := json.NewEncoder(out).Encode(map[string]any{"files": rep.Files, "damaged": damaged, "missing_captures": append([]string{}, rep.Missing...),
			"set_aside_earlier": append([]string{}, rep.Aside...)})
		if err != nil {
			return err
		}
	} else {
		for _, l := range damaged {
			fmt.Fprintln(out, plain.Text(l.Problem))
			if l.Aside != nil {
				fmt.Fprintln(out, "  set aside: "+plain.Text(*l.Aside))
			}
		}
		for _, m := range rep.Missing {
			fmt.Fprintf(out, "%s: a record names this capture, which is not among the bike's\n", plain.Text(m))
		}
		for _, a := range rep.Aside {
			fmt.Fprintf(out, "%s: was set aside earlier\n", plain.Text(a))
		}
		fmt.Fprintf(out, "%d files read, %d damaged\n", rep.Files, len(damaged))
	}
	if len(damaged) > 0 {
		return Damaged(len(damaged))
	}
	return nil
}

// CompressCaptures compresses what is old enough. One that can't be is told, and the others
// go on.
func CompressCaptures(g *garage.Garage, older time.Duration, out, errOut io.Writer) error {
	packed, before, after := 0, int64(0), int64(0)
	var last error
	err := filepath.WalkDir(g.Paths().Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || filepath.Ext(path) != CaptureEnding || filepath.Base(filepath.Dir(path)) != "captures" {
			return nil // what can't be read holds no captures to compress
		}
		info, err := d.Info()
		if err != nil || time.Since(info.ModTime()) < older {
			return nil
		}
		name, was, is, err := capture.Pack(path)
		if err != nil {
			Report(errOut, err)
			last = err
			return nil
		}
		os.Chtimes(name, info.ModTime(), info.ModTime()) // only for the eye
		packed, before, after = packed+1, before+was, after+is
		fmt.Fprintf(out, "%s  %.1f MB → %.1f MB\n", name, float64(was)/1e6, float64(is)/1e6)
		return nil
	})
	fmt.Fprintf(out, "%d captures compressed, %.1f MB → %.1f MB\n", packed, float64(before)/1e6, float64(after)/1e6)
	if err == nil {
		err = last
	}
	return err
}
