// Package desk is what is done with no engine running: bench cards filled in, a bike's card in the user's editor,
// records found by name, compared and put on a page, captures and tables analysed, captures written as tables.
//
// In: the settings in force (settings.Settings) and what the command line names. Out: text, JSON and tables by package
// tell; cards and records by package garage.
//
// Begin with Analyse, and with RecordNamed.
package desk
