// Command wine runs tests as Windows does, under Wine.
//
//	go run ./.ci/wine FLAGS AND PACKAGES OF go test
package main

import (
	"errors"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"

	"evendraw/internal/wine"
)

func main() {
	log.SetFlags(0)
	status, err := test(os.Args[1:])
	if err != nil {
		log.Fatal(err)
	}
	os.Exit(status)
}

// test runs go test for Windows and returns its exit status.
func test(args []string) (status int, err error) {
	dir, err := os.MkdirTemp("", "evendraw-wine")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(dir)
	prefix, err := wine.Make(dir)
	if err != nil {
		return 0, err
	}
	defer prefix.Close()
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return 0, err
	}
	overlay, err := writeOverlay(strings.TrimSpace(string(root)), dir)
	if err != nil {
		return 0, err
	}
	env := append(prefix.Command("").Env, "GOOS=windows", "GOARCH="+runtime.GOARCH)
	program := filepath.Join(dir, "evendraw.exe")
	build := exec.Command("go", "build", "-overlay", overlay, "-o", program, "./cmd/evendraw")
	build.Env = env
	if out, err := build.CombinedOutput(); err != nil {
		return 0, fmt.Errorf("go build: %w: %s", err, out)
	}
	cmd := exec.Command("go", append([]string{"test", "-overlay", overlay, "-exec", wine.Loader}, args...)...)
	cmd.Env = append(env, "EVENDRAW_TEST_PROGRAM=Z:"+program)
	cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr
	err = cmd.Run()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode(), nil
	}
	if err != nil {
		return 0, fmt.Errorf("go test: %w", err)
	}
	return 0, nil
}
