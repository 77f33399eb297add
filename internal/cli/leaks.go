package cli

import (
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/job"
	"evendraw/internal/tell"
)

// newLeaksCommand returns the verb that looks for an air leak.
func newLeaksCommand(p *program) *cobra.Command {
	o := &job.TuneOptions{}
	cmd := &cobra.Command{
		Use:   "leaks",
		Short: "Listen for an air leak while joints are wetted with water",
		Long: `Watch how much air each cylinder gets while you wet the joints between carburettors
and engine one after another, and say which cylinder gets less at once: water shuts a
leak for some seconds. A leak of 3 % of a cylinder's air is heard within a second. Let
the engine idle, turn nothing, wet one joint, wait three seconds, wet the next. On the
screen of live, l does the same in the step that levels the bank.

` + strings.Join(tell.AirCautions, "\n") + `

With --json each line has time_s, phase (learning, watching, less, moved, unknown),
cylinder, why, share, seconds, last_cylinder, last_seconds, ago_s, heat; the last line is
{"summary": …} with the same keys.`,
		Example: `  evendraw leaks --bike "my four"
  evendraw leaks --practice
  evendraw leaks --practice --auto --fast --for 1m`,
		PreRunE: func(cmd *cobra.Command, _ []string) error { return checkTune(cmd, o) },
		RunE:    doing(p, o, &o.Practice, job.Leaks),
	}
	tuneFlags(cmd, o)
	return cmd
}
