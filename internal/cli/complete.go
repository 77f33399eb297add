package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/benchwords"
	"evendraw/internal/board"
	"evendraw/internal/engine"
	"evendraw/internal/garage"
	"evendraw/internal/job"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/view"
)

// ownCompletionWords puts the help of completion, which the library wrote, in this program's words.
func ownCompletionWords(root *cobra.Command) {
	own, _, err := root.Find([]string{"completion"})
	if err != nil {
		panic("cli: internal error: " + err.Error())
	}
	own.Short, own.Long = "Print what makes a shell complete verbs, bikes, records, ports and kinds of sensors", ""
	own.Args, own.RunE = usageArgs(cobra.NoArgs), func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	for _, shell := range own.Commands() {
		shell.Short = "Print it for " + shell.Name()
		shell.Long = "What is printed belongs into a file that " + shell.Name() + " reads when it starts."
		shell.Example = map[string]string{
			"bash": "  mkdir -p ~/.local/share/bash-completion/completions\n" +
				"  evendraw completion bash > ~/.local/share/bash-completion/completions/evendraw",
			"zsh": `  evendraw completion zsh > "${fpath[1]}/_evendraw"`,
			"fish": "  mkdir -p ~/.config/fish/completions\n" +
				"  evendraw completion fish > ~/.config/fish/completions/evendraw.fish",
			"powershell": "  evendraw completion powershell >> $PROFILE",
		}[shell.Name()]
	}
}

// completer is what cobra asks for completions of an argument or a flag.
type completer = cobra.CompletionFunc

// captureEndings are those of the names of captures and tables.
var captureEndings = []string{"cap", "gz", "csv"}

// completeCaptures offers captures and tables.
func completeCaptures(_ *cobra.Command, args []string, _ string) ([]cobra.Completion, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	return captureEndings, cobra.ShellCompDirectiveFilterFileExt
}

// completeRecordsAnd offers the numbers of the bike's records; while none begins as what is typed, files with the
// endings.
func (p *program) completeRecordsAnd(endings ...string) completer {
	return func(_ *cobra.Command, args []string, typed string) (all []cobra.Completion, _ cobra.ShellCompDirective) {
		if set, err := job.Resolve(&p.world, p.version, p.choice, job.AnyBike, func(string) {}); err == nil {
			heads, _ := set.Garage.ListHeads(set.Bike.Name)
			for i := range heads {
				all = append(all, cobra.CompletionWithDesc(heads[i].Number.String(), plain.Minute(heads[i].Time)))
			}
		}
		begins := func(c cobra.Completion) bool { return strings.HasPrefix(c, typed) }
		if len(endings) > 0 && !slices.ContainsFunc(all, begins) {
			return endings, cobra.ShellCompDirectiveFilterFileExt
		}
		return all, cobra.ShellCompDirectiveNoFileComp
	}
}

// completeKinds offers the kinds of sensors.
func completeKinds(*cobra.Command, []string, string) (all []cobra.Completion, _ cobra.ShellCompDirective) {
	for _, k := range sensor.Catalogue() {
		all = append(all, cobra.CompletionWithDesc(k.Name, k.Parts))
	}
	return all, cobra.ShellCompDirectiveNoFileComp
}

// completeUnits offers the units of pressure.
func completeUnits(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
	return strings.Split(pressure.UnitNames(), ", "), cobra.ShellCompDirectiveNoFileComp
}

// completeBoards offers the serial numbers of the board cards.
func (p *program) completeBoards(*cobra.Command, []string, string) (all []cobra.Completion,
	_ cobra.ShellCompDirective) {
	if set, err := job.Resolve(&p.world, p.version, p.choice, job.NoBike, nil); err == nil {
		found, _ := set.Garage.ListBoards()
		for _, b := range found {
			all = append(all, plain.Text(b.Serial))
		}
	}
	return all, cobra.ShellCompDirectiveNoFileComp
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
func (p *program) completeBikes(*cobra.Command, []string, string) (all []cobra.Completion,
	_ cobra.ShellCompDirective) {
	if set, err := job.Resolve(&p.world, p.version, p.choice, job.NoBike, nil); err == nil {
		found, _ := set.Garage.ListBikes()
		for _, b := range found {
			all = append(all, plain.Text(b.Name))
		}
	}
	return all, cobra.ShellCompDirectiveNoFileComp
}

// completeChecks offers the checks before the start.
func (p *program) completeChecks(*cobra.Command, []string, string) (all []cobra.Completion,
	_ cobra.ShellCompDirective) {
	if set, err := job.Resolve(&p.world, p.version, p.choice, job.TheBike, func(string) {}); err == nil {
		for _, c := range garage.PreStartChecks(&set.Bike.Bank) {
			words, _ := benchwords.CheckWords(c)
			all = append(all, cobra.CompletionWithDesc(c.ID, words))
		}
	}
	return all, cobra.ShellCompDirectiveNoFileComp
}

// fixed offers words.
func fixed(words ...string) completer {
	return cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)
}

// completeFlag has a flag completed; the flag must be there.
func completeFlag(cmd *cobra.Command, flag string, by completer) {
	if err := cmd.RegisterFlagCompletionFunc(flag, by); err != nil {
		panic("evendraw: internal error: " + err.Error())
	}
}

// completions are what completes flags, by their names on all verbs, and the arguments of verbs, by their paths.
func (p *program) completions() (flags, arguments map[string]completer) {
	records := p.completeRecordsAnd()
	return map[string]completer{"port": completePorts, "practice": completePractice, "bike": p.completeBikes,
			"sensor": completeKinds, "unit": completeUnits, "board": p.completeBoards, "from": completeCaptures,
			"format": fixed("csv", "jsonl"), "screws": fixed("fuel", "air"), "pilot-screws": fixed("fuel", "air"),
			"at": fixed(view.StepIDs()...), "done": p.completeChecks, "not-needed": p.completeChecks,
			"left-open": p.completeChecks, "undo": p.completeChecks},
		map[string]completer{"live": completePractice, "analyse": completeCaptures, "replay": completeCaptures,
			"export": p.completeRecordsAnd(captureEndings...), "sheet": records, "compare": records,
			"history show": records, "history correct": records, "bike show": p.completeBikes,
			"bike edit": p.completeBikes, "board show": p.completeBoards, "board kind": completeKinds,
			"board check": completePorts}
}

// completeTree has the flags and the arguments of all verbs completed.
func completeTree(cmd *cobra.Command, p *program) {
	flags, arguments := p.completions()
	for flag, by := range flags {
		if cmd.Flags().Lookup(flag) != nil || cmd.PersistentFlags().Lookup(flag) != nil {
			completeFlag(cmd, flag, by)
		}
	}
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	if by := arguments[path]; by != nil {
		cmd.ValidArgsFunction = by
	}
	for _, c := range cmd.Commands() {
		completeTree(c, p)
	}
}
