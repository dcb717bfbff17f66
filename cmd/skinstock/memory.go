package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"skinstock/cmd/skinstock/internal/memory"
)

// watched is a run that ends when the memory in use reaches the limit.
type watched struct {
	ctx  context.Context
	stop func()
}

// setMemory settles how much memory the run may take, what was asked for or
// four fifths of what is free, and has it watched.
func (a *app) setMemory(cmd *cobra.Command) error {
	if a.memoryFlag == "" {
		a.maxMemory = memory.Available(os.DirFS("/"))
	} else {
		n, err := memory.Parse(a.memoryFlag)
		if err != nil {
			return badFlag("max-memory", err)
		}
		a.maxMemory = n
	}
	if a.maxMemory == 0 || cmd.Name() == "batch" { // which watches its parts one by one
		return nil
	}
	ctx, cancel := context.WithCancelCause(cmd.Context())
	stop := memory.Watch(ctx, a.maxMemory, func(e *memory.OverError) { cancel(e) })
	a.watched = &watched{ctx, func() { stop(); cancel(nil) }}
	cmd.SetContext(ctx)
	return nil
}

// endWatch ends the watch and returns the error of the run, which is about the
// memory where that ended it.
func (a *app) endWatch(err error) error {
	if a.watched == nil {
		return err
	}
	cause := context.Cause(a.watched.ctx)
	a.watched.stop()
	if over := (*memory.OverError)(nil); err != nil && errors.As(cause, &over) {
		return badInput(over)
	}
	return err
}

// fits refuses a part that would take more memory than the run may use.
func (a *app) fits(o *order, f *os.File, size int64) error {
	if a.maxMemory == 0 || size <= 0 {
		return nil
	}
	facets, err := memory.Facets(f, size)
	need := memory.Of(facets, o.wish())
	if err != nil { // the reader will tell
		return nil
	}
	if need.Bytes <= a.maxMemory {
		if !o.wish().Quick { // which is over before it pays
			memory.LargePages(need.Bytes)
		}
		return nil
	}
	return badInput(fmt.Errorf("%s: %w", o.name, &memory.OverError{NeedBytes: need.Bytes, LimitBytes: a.maxMemory}))
}
