// Package sheet makes what is printed or sent of a record: plots, and one A4 page for the bike's folder or a customer.
//
// Page writes the page as HTML and as PNG; LanesPlot, StepsPlot and TrendPlots make charts
// of a record, and of a bike's records together.
//
// In: records and sheets of package garage. Out: bytes of HTML, SVG or PNG. Begin with Page.
package sheet
