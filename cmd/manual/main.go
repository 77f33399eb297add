// Command manual writes the manual pages of evendraw, one a verb, into a folder. Their date is that
// of SOURCE_DATE_EPOCH, without it they have none: the same program has the same pages.
//
//	go run ./cmd/manual VERSION FOLDER
package main

import (
	"log"
	"os"

	"evendraw/internal/cli"
	"evendraw/internal/manual"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 3 {
		log.Fatal("usage: manual VERSION FOLDER")
	}
	at, err := manual.Date(os.Getenv("SOURCE_DATE_EPOCH"))
	if err == nil {
		err = manual.Write(cli.NewRoot(os.Args[1]), os.Args[2], at)
	}
	if err != nil {
		log.Fatal("the manual pages were not written: ", err)
	}
}
