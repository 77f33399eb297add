package cli

// helpText is what --help says of a verb: how it is used comes first, by examples.
const helpText = `{{.Short}}.
{{if .HasExample}}
Examples:
{{.Example}}
{{end}}{{if .Long}}
{{trimTrailingWhitespaces .Long}}
{{end}}
{{.UsageString}}`

// usageText is the rest: verbs and flags.
const usageText = `Usage:
{{if .Runnable}}  {{.UseLine}}
{{end}}{{if .HasAvailableSubCommands}}  {{.CommandPath}} VERB
{{end}}{{if .HasAvailableSubCommands}}
Verbs:
{{range .Commands}}{{if .IsAvailableCommand}}  {{rpad .Name .NamePadding}} {{.Short}}
{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}
Flags:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}
{{end}}{{if .HasAvailableInheritedFlags}}
Flags of every verb:
{{.InheritedFlags.FlagUsages | trimTrailingWhitespaces}}
{{end}}{{if .HasAvailableSubCommands}}
{{.CommandPath}} VERB --help says more.
{{end}}`
