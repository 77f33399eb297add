package cli

import (
	"errors"
	"io/fs"

	"github.com/spf13/cobra"

	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

func newPathsCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "paths",
		Short: "Show where everything is kept",
		Long: `Show where everything is kept: the garage, and the files of the bike in use. --garage
DIR, or the variable EVENDRAW_GARAGE, puts all of it elsewhere. It is all plain
files: copy the folder to keep it, or over another to put two garages together.`,
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			name := p.choice.Bike
			if name == "" {
				name, _ = settings.InUse(set.Garage, false)
			} else if _, err := set.Garage.LoadBike(name); errors.Is(err, fs.ErrNotExist) {
				return settings.NoBikeNamed(set.Garage, name)
			}
			return tell.Paths(set.Garage, name, asJSON, cmd.OutOrStdout())
		}),
	}
	jsonFlag(cmd, &asJSON,
		"garage, bikes, boards, garage_captures, and of the bike card, records, unfinished, bench, captures")
	return cmd
}
