// Command skinstock adds to a metal part what the polishing bath will take.
package main

import (
	"context"
	"errors"
	"os"
	"os/signal"
	"syscall"

	"skinstock/cmd/skinstock/internal/console"
)

func main() { os.Exit(run(os.Args[1:], console.Std())) }

// run does one command and returns the exit code. The first interrupt stops
// the work at its next step, the second one stops the process at once.
func run(args []string, con *console.Console) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	root := newRoot(con)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if ctx.Err() != nil && err != nil {
		con.Error("interrupted: nothing was left half written")
		return exitInterrupted
	}
	if err == nil || errors.Is(err, syscall.EPIPE) {
		return exitDone
	}
	if !errors.Is(err, errFindings) {
		con.Error("%v", err)
		var f *failure
		if errors.As(err, &f) && f.hint != "" {
			con.Hint("%s", f.hint)
		}
	}
	return codeOf(err)
}
