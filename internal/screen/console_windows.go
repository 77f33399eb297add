package screen

import (
	"errors"

	"golang.org/x/sys/windows"
)

// canDraw says why the console can't show the picture: those before Windows 10 show the sequences that
// draw it as letters. The console's mode is left as it was.
func canDraw() error {
	name, _ := windows.UTF16PtrFromString("CONOUT$")
	out, err := windows.CreateFile(name, windows.GENERIC_READ|windows.GENERIC_WRITE, windows.FILE_SHARE_WRITE, nil,
		windows.OPEN_EXISTING, 0, 0)
	if err != nil {
		return err
	}
	defer windows.CloseHandle(out)
	var was, is uint32
	if err := windows.GetConsoleMode(out, &was); err != nil {
		return err
	}
	defer windows.SetConsoleMode(out, was)
	windows.SetConsoleMode(out, was|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) // an old one refuses, or forgets it
	if err := windows.GetConsoleMode(out, &is); err != nil {
		return err
	}
	if is&windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING == 0 {
		return errors.New("this console is too old: Windows 10 or later has one that can")
	}
	return nil
}
