// Command skinstock adds to a metal part what the polishing bath will take.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"syscall"
	"time"

	"skinstock/cmd/skinstock/internal/console"
	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/cmd/skinstock/internal/wholefile"
)

func main() {
	if os.Getenv("GOGC") == "" {
		memory.Collect()
	}
	os.Exit(process(os.Args[1:], console.Std()))
}

// process is the whole process: a run that ends within a second of an interrupt.
func process(args []string, con *console.Console) int {
	keep := &wholefile.Keeper{}
	ctx, stop := signal.NotifyContext(wholefile.With(context.Background(), keep), os.Interrupt, syscall.SIGTERM)
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, args, con) }()
	select {
	case code := <-ended:
		return code
	case <-ctx.Done():
		stop() // a second signal stops the process at once
	}
	select {
	case code := <-ended:
		return code
	case <-time.After(grace):
		keep.Abandon()
		fmt.Fprintln(con.Err, "skinstock: error: "+interrupted)
		return exitInterrupted
	}
}

// grace is how long a run may take to come to its next step after an
// interrupt; then what it has not finished writing is removed and it ends.
const grace = 700 * time.Millisecond

const interrupted = "interrupted: nothing was left half written"

// run does one command, until the context ends, and returns the exit code.
func run(ctx context.Context, args []string, con *console.Console) int {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0)) // which --workers changes
	a, root := newRoot(con)
	root.SetArgs(args)
	err := a.endWatch(root.ExecuteContext(ctx))
	if ctx.Err() != nil && err != nil {
		con.Error(interrupted)
		return exitInterrupted
	}
	if err == nil || errors.Is(err, syscall.EPIPE) {
		return exitDone
	}
	if !errors.Is(err, errFindings) && !errors.Is(err, errTold) {
		con.Error("%v", err)
		var f *failure
		if errors.As(err, &f) && f.hint != "" {
			con.Hint("%s", f.hint)
		}
	}
	return codeOf(err)
}
