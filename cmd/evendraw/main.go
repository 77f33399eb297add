// Command evendraw helps to bring a bank of motorcycle carburettors in tune: it
// reads a board with a pressure sensor per cylinder, and says which screw to
// turn, which way, and when to stop.
package main

import "evendraw/internal/cli"

// version of the program; a release stamps it.
var version = "0.1.0"

func main() { cli.Main(version) }
