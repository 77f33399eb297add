package store

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxFolderRunes is the part of a name that its folder shows. Chosen: a file name has at most 255 bytes.
const maxFolderRunes = 40

// FolderName returns a folder for what has that name. A short name of plain letters, digits,
// spaces, - and _ is its own folder. Any other loses what a file system could take amiss, and has
// part of its checksum put after it, so that different names have different folders.
func FolderName(name string) string {
	var shown strings.Builder
	runes := 0
	for _, r := range name {
		if runes++; runes > maxFolderRunes {
			break
		}
		if r != ' ' && r != '_' && !unicode.In(r, unicode.Letter, unicode.Digit, unicode.Mark) {
			r = '-'
		}
		shown.WriteRune(r)
	}
	folder := strings.Trim(shown.String(), "- ")
	if folder == name && isASCII(name) && !IsReserved(name) {
		return folder
	}
	sum := sha256.Sum256([]byte(name))
	return folder + "+" + hex.EncodeToString(sum[:4])
}

func isASCII(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return r >= utf8.RuneSelf }) < 0
}

// IsReserved reports whether Windows keeps a name for a device.
func IsReserved(name string) bool {
	name = strings.ToUpper(name)
	switch name {
	case "CON", "PRN", "AUX", "NUL":
		return true
	}
	isPort := strings.HasPrefix(name, "COM") || strings.HasPrefix(name, "LPT")
	return len(name) == 4 && isPort && name[3] >= '0' && name[3] <= '9'
}

// BaseName returns a file's name without folders, of whatever platform; "" when there is none.
func BaseName(path string) string {
	if path == "" {
		return ""
	}
	name := filepath.Base(path)
	if name == "." || name == ".." || os.IsPathSeparator(name[0]) {
		return ""
	}
	return name
}

// isTemp reports whether a file name is one of ours that is in use only while something is saved.
func isTemp(name string) bool {
	return strings.HasPrefix(name, ".") && (strings.HasSuffix(name, tempEnding) || strings.HasSuffix(name, lockEnding))
}
