package main

import (
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/capture"
	"evendraw/internal/garage"
	"evendraw/internal/tell"
)

func newGarageCommand(r *rig) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "garage",
		Short: "Check every file that is kept, and compress old captures",
		Example: `  evendraw garage check
  evendraw garage compress --older 90`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newGarageCheckCommand(r), newGarageCompressCommand(r))
	return cmd
}

func newGarageCheckCommand(r *rig) *cobra.Command {
	var asJSON, lookOnly bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Read every file, name what is damaged, and set it aside",
		Long: `Read every card, record, bench sheet and capture of the garage, and look at their
checksums. A damaged record or sheet is moved into a folder "damaged" beside it:
nothing is deleted, and the rest loads. Cards and captures stay where they are.
Exit status 6 when something was damaged.`,
		Args: usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := r.open(); err != nil {
				return err
			}
			return checkGarage(r.garage, lookOnly, asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().BoolVar(&lookOnly, "look-only", false, "move nothing")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// errDamaged is why a check fails.
type errDamaged struct{ n int }

func (e errDamaged) Error() string {
	if e.n == 1 {
		return "one file is damaged"
	}
	return fmt.Sprintf("%d files are damaged", e.n)
}

func checkGarage(g *garage.Garage, lookOnly, asJSON bool, out, errOut io.Writer) error {
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
				report(errOut, err)
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
			fmt.Fprintln(out, tell.Plain(l.Problem))
			if l.Aside != nil {
				fmt.Fprintln(out, "  set aside: "+tell.Plain(*l.Aside))
			}
		}
		for _, m := range rep.Missing {
			fmt.Fprintf(out, "%s: a record names this capture, which is not among the bike's\n", tell.Plain(m))
		}
		for _, a := range rep.Aside {
			fmt.Fprintf(out, "%s: was set aside earlier\n", tell.Plain(a))
		}
		fmt.Fprintf(out, "%d files read, %d damaged\n", rep.Files, len(damaged))
	}
	if len(damaged) > 0 {
		return errDamaged{len(damaged)}
	}
	return nil
}

// packAfterDays is how old a capture is to be before it is compressed. Chosen: by then
// nobody replays it.
const packAfterDays = 30

func newGarageCompressCommand(r *rig) *cobra.Command {
	var days float64
	cmd := &cobra.Command{
		Use:   "compress",
		Short: "Compress old captures; replay and analyse read them as before",
		Args:  usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !(days >= 0) {
				return usagef("--older %g is no number of days", days)
			}
			if err := r.open(); err != nil {
				return err
			}
			return compressCaptures(r.garage, time.Duration(days*24*float64(time.Hour)), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	cmd.Flags().Float64Var(&days, "older", packAfterDays, "only captures that nothing was added to for that many days")
	return cmd
}

// compressCaptures compresses what is old enough. One that can't be is told, and the others
// go on.
func compressCaptures(g *garage.Garage, older time.Duration, out, errOut io.Writer) error {
	packed, before, after := 0, int64(0), int64(0)
	var last error
	err := filepath.WalkDir(g.Paths().Dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() || filepath.Ext(path) != captureEnding || filepath.Base(filepath.Dir(path)) != "captures" {
			return nil // what can't be read holds no captures to compress
		}
		info, err := d.Info()
		if err != nil || time.Since(info.ModTime()) < older {
			return nil
		}
		name, was, is, err := capture.Pack(path)
		if err != nil {
			report(errOut, err)
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

// captureEnding is that of the captures that are named by this program.
const captureEnding = ".cap"
