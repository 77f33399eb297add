package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func newPathsCommand(r *rig) *cobra.Command {
	return &cobra.Command{
		Use:   "paths",
		Short: "Show where everything is kept",
		Args:  usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := r.open(); err != nil {
				return err
			}
			p := r.garage.Paths()
			fmt.Fprintf(cmd.OutOrStdout(), "garage  %s\nbikes   %s\nboards  %s\n", printable(p.Dir), printable(p.Bikes), printable(p.Boards))
			return nil
		},
	}
}
