package cli

import (
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/view"
)

func newUnfinishedCommand(p *program) *cobra.Command {
	var keep, discard int
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "unfinished",
		Short: "List the records of runs that were cut off; keep or discard one",
		Example: `  evendraw history unfinished
  evendraw history unfinished --keep 1`,
		Args: usageArgs(cobra.NoArgs),
		RunE: p.with(job.NoBike, func(cmd *cobra.Command, _ []string, set *job.Settings) error {
			left, damaged := set.Garage.ListUnfinished()
			for _, d := range damaged {
				job.Report(cmd.ErrOrStderr(), d)
			}
			f, out := cmd.Flags(), cmd.OutOrStdout()
			switch {
			case f.Changed("keep") && f.Changed("discard"):
				return job.Usagef("--keep and --discard don't go together")
			case f.Changed("keep"):
				return endLeft(set.Garage, left, keep, out, true)
			case f.Changed("discard"):
				return endLeft(set.Garage, left, discard, out, false)
			}
			return listLeft(left, asJSON, out)
		}),
	}
	cmd.Flags().IntVar(&keep, "keep", 0, "number of one to keep as a record")
	cmd.Flags().IntVar(&discard, "discard", 0, "number of one to take away for good")
	jsonFlag(cmd, &asJSON)
	return cmd
}

func listLeft(left []garage.LeftRecord, asJSON bool, out io.Writer) error {
	if asJSON {
		list := []garage.SyncRecord{}
		for _, l := range left {
			list = append(list, l.Record)
		}
		return json.NewEncoder(out).Encode(list)
	}
	if len(left) == 0 {
		fmt.Fprintln(out, "nothing is unfinished")
		return nil
	}
	for i := range left {
		fmt.Fprintf(out, "%3d  %s\n", i+1, view.LeftLine(&left[i].Record))
	}
	fmt.Fprintln(out, "--keep NUMBER makes a record of it, --discard NUMBER takes it away; evendraw live offers to go on")
	return nil
}

// endLeft keeps or discards one.
func endLeft(g *garage.Garage, left []garage.LeftRecord, n int, out io.Writer, keep bool) error {
	if n < 1 || n > len(left) {
		return job.Usagef("%d is none of the %d unfinished ones; evendraw history unfinished numbers them", n, len(left))
	}
	u, err := g.Resume(left[n-1].Path)
	if err != nil {
		return err
	}
	if !keep {
		if err := u.Discard(); err != nil {
			return err
		}
		fmt.Fprintln(out, "discarded "+left[n-1].Path)
		return nil
	}
	path, err := u.Keep()
	if path != "" {
		fmt.Fprintln(out, "saved "+path)
	}
	return err
}
