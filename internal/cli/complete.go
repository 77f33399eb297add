package cli

import (
	"github.com/spf13/cobra"

	"evendraw/internal/board"
	"evendraw/internal/engine"
	"evendraw/internal/job"
	"evendraw/internal/plain"
	"evendraw/internal/view"
)

// completer is what cobra asks for completions of an argument or a flag.
type completer = cobra.CompletionFunc

// completeCaptures offers captures and tables.
func completeCaptures(_ *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return []cobra.Completion{"cap", "csv"}, cobra.ShellCompDirectiveFilterFileExt
}

// completePorts offers the serial ports on which a board may be, without opening any.
func completePorts(*cobra.Command, []string, string) (all []cobra.Completion, _ cobra.ShellCompDirective) {
	ports, _ := board.List()
	for _, p := range ports {
		all = append(all, cobra.CompletionWithDesc(p.Path, plain.Text(p.Maker+" "+p.Product)))
	}
	return all, cobra.ShellCompDirectiveDefault
}

// completePractice offers the practice bikes.
func completePractice(*cobra.Command, []string, string) (all []cobra.Completion, _ cobra.ShellCompDirective) {
	for _, s := range engine.Scenarios() {
		all = append(all, cobra.CompletionWithDesc(s.Name, s.Story))
	}
	return all, cobra.ShellCompDirectiveNoFileComp
}

// completeBikes offers the names on the bike cards.
func (p *program) completeBikes(*cobra.Command, []string, string) (all []cobra.Completion, _ cobra.ShellCompDirective) {
	if set, err := job.Resolve(&p.world, p.version, p.choice, job.NoBike, nil); err == nil {
		found, _ := set.Garage.ListBikes()
		for _, b := range found {
			all = append(all, plain.Text(b.Name))
		}
	}
	return all, cobra.ShellCompDirectiveNoFileComp
}

// completeFlag has a flag completed; the flag must be there.
func completeFlag(cmd *cobra.Command, flag string, by completer) {
	if err := cmd.RegisterFlagCompletionFunc(flag, by); err != nil {
		panic("evendraw: internal error: " + err.Error())
	}
}

// completeTree has every flag of that name completed, on all verbs.
func completeTree(cmd *cobra.Command, p *program) {
	for flag, by := range map[string]completer{"port": completePorts, "practice": completePractice,
		"bike": p.completeBikes,
		"at":   cobra.FixedCompletions(view.StepIDs(), cobra.ShellCompDirectiveNoFileComp)} {
		if cmd.Flags().Lookup(flag) != nil || cmd.PersistentFlags().Lookup(flag) != nil {
			completeFlag(cmd, flag, by)
		}
	}
	for _, c := range cmd.Commands() {
		completeTree(c, p)
	}
}
