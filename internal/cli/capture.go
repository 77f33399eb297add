package cli

import (
	"github.com/spf13/cobra"

	"evendraw/internal/job"
)

func newCaptureCommand(p *program) *cobra.Command {
	o := &job.RecordOptions{}
	cmd := &cobra.Command{
		Use: "capture [FILE]", Aliases: []string{"record"},
		Short: "Keep the board's bytes in a capture",
		Long: `Keep the untouched bytes of the board under a small text head: for a look later,
for another eye, or for a bug report. Without FILE it goes to the bike's
captures, a practice engine's to the garage's (evendraw paths). Ends after --for,
or with Ctrl-C (exit status 130; the capture is whole).`,
		Example: `  evendraw capture --for 60s
  evendraw capture --practice practice.cap --for 20s`,
		Args: cobra.MaximumNArgs(1),
		PreRunE: func(cmd *cobra.Command, args []string) error {
			o.File = argument(args, 0)
			return checkFor(cmd, o.Limit)
		},
		RunE: doing(p, o, &o.Practice, job.Record),
	}
	portFlags(cmd.Flags(), &o.Port)
	practiceFlag(cmd.Flags(), &o.Practice)
	cmd.Flags().DurationVar(&o.Limit, "for", 0, "stop after that much of the board's time")
	return cmd
}
