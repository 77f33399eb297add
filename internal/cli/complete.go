package cli

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/benchwords"
	"evendraw/internal/board"
	"evendraw/internal/engine"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
	"evendraw/internal/settings"
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
		shell.Long = map[string]string{
			"bash": "What is printed belongs into a folder of the package bash-completion, which must be installed: " +
				"without it, a Tab prints an error and completes nothing. The next shell has it.",
			"zsh": "What is printed belongs into a folder where zsh looks for completions. They must be turned on in " +
				"~/.zshrc, by: autoload -U compinit; compinit",
		}[shell.Name()]
		if shell.Long == "" {
			shell.Long = "What is printed belongs into a file that " + shell.Name() + " reads when it starts."
		}
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

// orCaptures offers captures and tables while nothing that is offered begins as what is typed.
func orCaptures(offered completer) completer {
	return func(cmd *cobra.Command, args []string, typed string) ([]cobra.Completion, cobra.ShellCompDirective) {
		all, directive := offered(cmd, args, typed)
		begins := func(c cobra.Completion) bool { return strings.HasPrefix(c, typed) }
		if !slices.ContainsFunc(all, begins) {
			return captureEndings, cobra.ShellCompDirectiveFilterFileExt
		}
		return all, directive
	}
}

// offered has what list gives offered for an argument or a flag, and no files.
func offered(list func() []cobra.Completion) completer {
	return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
		return list(), cobra.ShellCompDirectiveNoFileComp
	}
}

// known has what list gives offered in the settings of such a need; nothing where there are none.
func (p *program) known(need settings.Need, list func(set *settings.Settings) []cobra.Completion) completer {
	return offered(func() []cobra.Completion {
		set, err := settings.Resolve(&p.world, p.version, p.choice, need, func(string) {})
		if err != nil {
			return nil
		}
		return list(set)
	})
}

func kindNames() (all []cobra.Completion) {
	for _, k := range sensor.Catalogue() {
		all = append(all, cobra.CompletionWithDesc(k.Name, k.Parts))
	}
	return all
}

func practiceNames() (all []cobra.Completion) {
	for _, s := range engine.Scenarios() {
		all = append(all, cobra.CompletionWithDesc(s.Name, s.Story))
	}
	return all
}

func boardNames(set *settings.Settings) []cobra.Completion {
	found, _ := set.Garage.ListBoards()
	return settings.BoardSerials(found)
}

func recordNumbers(set *settings.Settings) (all []cobra.Completion) {
	records, _ := set.Garage.ListSyncs(set.Bike.Name)
	for i := range records {
		number, at := records[i].Filed()
		all = append(all, cobra.CompletionWithDesc(number.String(), plain.Minute(at)))
	}
	return all
}

func bikeNames(set *settings.Settings) (all []cobra.Completion) {
	found, _ := set.Garage.ListBikes()
	for _, b := range found {
		all = append(all, plain.Text(b.Name))
	}
	return all
}

func checkNames(set *settings.Settings) (all []cobra.Completion) {
	for _, c := range garage.PreStartChecks(&set.Bike.Bank) {
		words, _ := benchwords.CheckWords(c)
		all = append(all, cobra.CompletionWithDesc(c.ID, words))
	}
	return all
}

// completePorts offers the serial ports on which a board may be, without opening any, and files.
func completePorts(*cobra.Command, []string, string) (all []cobra.Completion, _ cobra.ShellCompDirective) {
	ports, _ := board.List()
	for _, p := range ports {
		all = append(all, cobra.CompletionWithDesc(p.Path, plain.Text(p.Maker+" "+p.Product)))
	}
	return all, cobra.ShellCompDirectiveDefault
}

// fixed offers words.
func fixed(words ...string) completer {
	return cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)
}

// complete has the flags and the arguments of all verbs completed: flags by their names, arguments by the verbs' paths.
func (p *program) complete(root *cobra.Command) {
	records := p.known(settings.AnyBike, recordNumbers)
	bikes, boards := p.known(settings.NoBike, bikeNames), p.known(settings.NoBike, boardNames)
	checks, kinds, practice := p.known(settings.TheBike, checkNames), offered(kindNames), offered(practiceNames)
	flags := map[string]completer{"port": completePorts, "practice": practice, "bike": bikes, "sensor": kinds,
		"unit": fixed(strings.Split(pressure.UnitNames(), ", ")...), "board": boards, "from": completeCaptures,
		"format": fixed("csv", "jsonl"), "screws": fixed("fuel", "air"), "pilot-screws": fixed("fuel", "air"),
		"at": fixed(view.StepIDs()...), "done": checks, "not-needed": checks, "left-open": checks, "undo": checks}
	arguments := map[string]completer{"live": practice, "analyse": completeCaptures, "replay": completeCaptures,
		"export": orCaptures(records), "sheet": records, "compare": records,
		"history show": records, "history correct": records, "bike show": bikes, "bike edit": bikes,
		"board show": boards, "board kind": kinds, "board check": completePorts}
	everyVerb(root, func(verb *cobra.Command) {
		for flag, by := range flags {
			if verb.Flags().Lookup(flag) == nil && verb.PersistentFlags().Lookup(flag) == nil {
				continue
			}
			if err := verb.RegisterFlagCompletionFunc(flag, by); err != nil {
				panic("cli: internal error: " + err.Error())
			}
		}
		_, path, _ := strings.Cut(verb.CommandPath(), " ")
		if by := arguments[path]; by != nil {
			verb.ValidArgsFunction = by
		}
	})
}
