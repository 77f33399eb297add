// Package rules holds tests only: which package may import which, one package
// comment each, and the size of files and functions.
package rules
