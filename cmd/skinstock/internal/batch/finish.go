package batch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"

	"skinstock/cmd/skinstock/internal/wholefile"
)

// finish writes the results in the order of the list, the summary and the
// index, each whole or not at all. Where the parts were done, and in which
// order, leaves no trace in them.
func (f *Folder) finish(ctx context.Context, records []*Record) error {
	for _, out := range []struct {
		name string
		fill func(io.Writer) error
	}{
		{resultsName, func(w io.Writer) error { return writeResults(w, records) }},
		{summaryName, func(w io.Writer) error { return WriteSummary(w, records) }},
		{indexName, func(w io.Writer) error { return f.writeIndex(w, records) }},
	} {
		if err := f.write(ctx, out.name, wholefile.Options{Replace: true}, out.fill); err != nil {
			return err
		}
	}
	return f.forgetShares()
}

func writeResults(w io.Writer, records []*Record) error {
	for _, r := range records {
		line, err := jsonLine(r)
		if err != nil {
			return err
		}
		if _, err := w.Write(line); err != nil {
			return err
		}
	}
	return nil
}

// forgetShares removes the results of single shares, which the results of all now hold.
func (f *Folder) forgetShares() error {
	names, err := fs.Glob(f.root.FS(), stateDir+"/results-*.jsonl")
	if err != nil {
		return err
	}
	for _, n := range names {
		if err := f.root.Remove(filepath.FromSlash(n)); err != nil {
			return wholefile.Plain(err)
		}
	}
	return nil
}

// forget removes the results that this run is to replace.
func (f *Folder) forget() error {
	if f.shard.whole() {
		if err := f.forgetShares(); err != nil {
			return err
		}
	}
	if err := f.root.Remove(f.resultsPath()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return wholefile.Plain(err)
	}
	return nil
}

// Collect brings the results of all shares together, as one run over all parts
// would have left them. Parts without a result, and those whose files are not
// as they were written, are failures that say so.
func Collect(ctx context.Context, c Config) (*Summary, error) {
	parts, err := c.Jobs.Expand(c.Dir, c.Out)
	if err != nil {
		return nil, err
	}
	folder, err := Open(c.Out, Whole, Resume)
	if err != nil {
		return nil, err
	}
	defer folder.Close()
	records, err := folder.records()
	if err != nil {
		return nil, err
	}
	s := &Summary{Parts: len(parts)}
	for _, p := range parts {
		rec := records[idOf(p)]
		missing := ""
		switch {
		case rec == nil:
			missing = "no result yet: run the batch again with --resume"
		case !folder.intact(rec):
			missing = "its files are not as they were written: run the batch again with --resume"
		}
		if missing != "" {
			rec = newRecord(p)
			rec.Outcome, rec.ExitCode = Failed, exitOutput
			rec.Error = fmt.Sprintf("%s: %s", p.Name, missing)
		}
		s.Records = append(s.Records, rec)
		s.Worst = max(s.Worst, rec.ExitCode)
	}
	return s, folder.finish(ctx, s.Records)
}
