// Package console speaks to the person at the terminal: results on standard
// output, everything else on standard error.
package console

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// Console is the set of streams of one run. Tests put buffers in their place.
type Console struct {
	In       io.Reader
	Out, Err io.Writer
	OutTTY   bool // standard output is a terminal
	ErrTTY   bool // standard error is a terminal
	Quiet    bool // no warnings, hints or progress
	Color    bool // colour on standard output
}

// Std returns the process's streams. Colour follows the terminal, NO_COLOR and TERM.
func Std() *Console {
	out, err := term.IsTerminal(int(os.Stdout.Fd())), term.IsTerminal(int(os.Stderr.Fd()))
	return &Console{
		In: os.Stdin, Out: os.Stdout, Err: os.Stderr, OutTTY: out, ErrTTY: err,
		Color: out && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb",
	}
}

// Error prints what ended the run.
func (c *Console) Error(format string, a ...any) { c.line("error", format, a...) }

// Hint prints what would help.
func (c *Console) Hint(format string, a ...any) {
	if !c.Quiet {
		c.line("hint", format, a...)
	}
}

// Note tells what was settled without being asked.
func (c *Console) Note(format string, a ...any) {
	if !c.Quiet {
		c.line("note", format, a...)
	}
}

func (c *Console) line(kind, format string, a ...any) {
	fmt.Fprintf(c.Err, "skinstock: %s: %s\n", kind, Safe(fmt.Sprintf(format, a...)))
}

// Progress returns a function that shows how far a named stage is, and one that
// ends and erases the display. Both do nothing unless standard error is a terminal.
func (c *Console) Progress() (show func(stage string, share float64), done func()) {
	if c.Quiet || !c.ErrTTY {
		return func(string, float64) {}, func() {}
	}
	bar := progressbar.NewOptions(1000,
		progressbar.OptionSetWriter(c.Err), progressbar.OptionThrottle(100*time.Millisecond),
		progressbar.OptionClearOnFinish(), progressbar.OptionSetWidth(24), progressbar.OptionSetPredictTime(false),
		progressbar.OptionSetElapsedTime(false))
	show = func(stage string, share float64) {
		bar.Describe(fmt.Sprintf("%-12s", stage))
		_ = bar.Set(int(share * 999))
	}
	return show, func() { _ = bar.Finish() }
}
