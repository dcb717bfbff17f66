package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"skinstock/cmd/skinstock/internal/console"
	"skinstock/cmd/skinstock/internal/wholefile"
	"skinstock/mesh/finding"
	"skinstock/report"
)

// deliver prints the summary, writes the JSON, and ends with the exit code the findings call for.
func (a *app) deliver(ctx context.Context, doc *report.Document, p *partFlags, inputs []string) error {
	if p.json != "-" {
		if err := doc.WriteText(safeWriter{a.con.Out}); err != nil {
			return badOutput(err)
		}
	}
	if p.json != "" {
		if err := a.writeTo(ctx, p.json, p.force, inputs, doc.WriteJSON); err != nil {
			return err
		}
	}
	return failOn(p.failOn, doc.Findings)
}

// writeTo writes a whole file, or to standard output for -.
func (a *app) writeTo(ctx context.Context, path string, force bool, inputs []string, fill func(io.Writer) error) error {
	return outputError(files{out: a.con.Out, force: force, inputs: inputs}.write(ctx, path, fill))
}

// outputError gives a failed write its exit code and, where --force helps, says so.
func outputError(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, wholefile.ErrExists):
		return hinted(badOutput(err), "name another file, or replace it with --force")
	}
	return badOutput(err)
}

// checkJSON refuses before any work a JSON file that cannot be written after it.
func (p *partFlags) checkJSON(inputs ...string) error {
	if p.json == "" || p.json == "-" {
		return nil
	}
	return outputError(wholefile.Check(p.json, wholefile.Options{Replace: p.force, Inputs: inputs}))
}

// checkFailOn refuses a wrong --fail-on before any work is done.
func checkFailOn(name string) error {
	if name == "never" {
		return nil
	}
	if _, err := finding.ParseSeverity(name); err != nil {
		return badFlag("fail-on", fmt.Errorf("%w, or never", err))
	}
	return nil
}

func failOn(name string, fs []report.Finding) error {
	limit, err := finding.ParseSeverity(name)
	if err != nil {
		return nil // never
	}
	for _, f := range fs {
		if f.Severity >= limit {
			return errFindings
		}
	}
	return nil
}

// safeWriter makes names from files fit for a terminal.
type safeWriter struct{ w io.Writer }

func (s safeWriter) Write(p []byte) (int, error) {
	_, err := io.WriteString(s.w, console.Safe(string(p)))
	return len(p), err
}
