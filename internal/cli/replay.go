package cli

import (
	"github.com/spf13/cobra"

	"evendraw/internal/job"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
)

func newReplayCommand(p *program) *cobra.Command {
	o := screen.Options{}
	cmd := &cobra.Command{
		Use:   "replay FILE",
		Short: "Show a capture on the screen at real speed",
		Long: `Show a capture on the screen as it was seen live, at real speed, with the
settings in its head. Nothing is saved.`,
		Example: `  evendraw replay morning.cap
  evendraw capture --practice --for 60s try.cap && evendraw replay try.cap`,
		Args: cobra.ExactArgs(1),
		RunE: p.with(settings.MayNamed, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			return job.Replay(cmd.Context(), set, o, args[0], streams(cmd))
		}),
	}
	screenFlags(cmd.Flags(), &o)
	return cmd
}
