// Package screen draws a view: on a canvas of cells, which tests look at, and on a terminal. The files terminal*.go
// alone know the terminal library.
//
// In: a view.View, which is only read. Out: a Canvas whose cells have a rune and a role. Begin reading at
// Draw (draw.go): it lays out head, body and foot from top to bottom; foot.go, lanes.go, pages.go and big.go draw what
// the body holds, wrap.go breaks lines. Terminal (terminal.go) puts a Canvas on the terminal, of which it
// changes only the cells that differ, and hands on keys and changes of size.
package screen
