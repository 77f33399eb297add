package cli

import "os"

// buildArgs are those of the go command: with EVENDRAW_TEST_RACE=1 the program
// looks for races and ends with an error if there are any.
func buildArgs() []string {
	if os.Getenv("EVENDRAW_TEST_RACE") == "1" {
		return []string{"build", "-race"}
	}
	return []string{"build"}
}
