package cli

import (
	"encoding/json"
	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/plain"
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

func newPathsCommand(p *program) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "paths",
		Short: "Show where everything is kept",
		Long: `Show where everything is kept: the garage, and the files of the bike in use. --garage
DIR, or the variable EVENDRAW_GARAGE, puts all of it elsewhere. It is all plain
files: copy the folder to keep it, or over another to put two garages together.`,
		Args: usageArgs(cobra.NoArgs),
		RunE: p.with(job.NoBike, func(cmd *cobra.Command, _ []string, set *job.Settings) error {
			name := p.choice.Bike
			if name == "" {
				name, _ = set.Garage.LastBike()
			}
			return tellPaths(set.Garage, name, asJSON, cmd.OutOrStdout())
		}),
	}
	jsonFlag(cmd, &asJSON)
	return cmd
}

func tellPaths(g *garage.Garage, name string, asJSON bool, out io.Writer) error {
	p := g.Paths()
	places := [][2]string{{"garage", p.Dir}, {"bikes", p.Bikes}, {"boards", p.Boards}}
	if name != "" {
		b, err := g.BikePaths(name)
		if err != nil {
			return err
		}
		places = append(places, [][2]string{{"card", b.Card}, {"records", b.Syncs}, {"unfinished", b.Unfinished}, {"bench", b.Bench}, {"captures", b.Captures}}...)
	}
	if asJSON {
		all := map[string]string{}
		for _, place := range places {
			all[place[0]] = place[1]
		}
		return json.NewEncoder(out).Encode(all)
	}
	for i, place := range places {
		if i == 3 {
			fmt.Fprintf(out, "of %s:\n", plain.Text(name))
		}
		fmt.Fprintf(out, "%-10s  %s\n", place[0], plain.Text(place[1]))
	}
	return nil
}
