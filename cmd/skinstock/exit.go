package main

import (
	"context"
	"errors"
)

// Exit codes: the public table in the help text and the README.
const (
	exitDone        = 0
	exitFinding     = 1
	exitUsage       = 2
	exitInput       = 3
	exitOutput      = 4
	exitInterrupted = 130
)

// exitTable is the table as the help text shows it.
const exitTable = `Exit codes:
  0    done
  1    done, but a finding reached --fail-on (default: error)
  2    wrong usage
  3    input not usable
  4    output could not be written
  130  interrupted`

// failure is an error with the exit code it ends the run with, and perhaps a hint.
type failure struct {
	code int
	err  error
	hint string
}

func (f *failure) Error() string { return f.err.Error() }
func (f *failure) Unwrap() error { return f.err }

func usage(err error) error            { return &failure{code: exitUsage, err: err} }
func badInput(err error) error         { return &failure{code: exitInput, err: err} }
func hinted(err error, h string) error { return &failure{code: codeOf(err), err: err, hint: h} }

func badOutput(err error) error {
	if err == nil {
		return nil
	}
	return &failure{code: exitOutput, err: err}
}

// flagError is a value that a flag cannot take, nor the key of a job file that is named alike.
type flagError struct {
	flag string
	err  error
}

func (e *flagError) Error() string { return "--" + e.flag + ": " + e.err.Error() }
func (e *flagError) Unwrap() error { return e.err }

func badFlag(flag string, err error) error { return usage(&flagError{flag, err}) }

// errFindings ends a run that did its work but found what --fail-on names.
var errFindings = errors.New("findings")

// errTold ends a run whose trouble was told part by part.
var errTold = errors.New("parts failed")

// codeOf is the one place that turns an error into an exit code.
func codeOf(err error) int {
	var f *failure
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &f):
		return f.code
	case errors.Is(err, errFindings):
		return exitFinding
	}
	return exitUsage // what cobra itself returns: unknown commands and flags
}
