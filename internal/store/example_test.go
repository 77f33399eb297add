package store_test

import (
	"fmt"
	"os"
	"path/filepath"

	"evendraw/internal/store"
)

// A file is changed from what it holds; whoever else does so at the same time waits.
func ExampleStore_Edit() {
	dir, err := os.MkdirTemp("", "store")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "new", "file")
	for range 2 {
		err = store.New().Edit(path, func(old []byte) ([]byte, error) { return append(old, "a line\n"...), nil })
	}
	text, _ := store.Read(path)
	fmt.Printf("%s%v\n", text, err)
	// Output:
	// a line
	// a line
	// <nil>
}
