package batch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"

	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/report"

	"skinstock/cmd/skinstock/internal/wholefile"
)

// Config is what a run is told.
type Config struct {
	Jobs  *Jobs
	Dir   string // names of parts are relative to it
	Out   string // output folder
	Shard Shard
	Mode  Mode

	Workers   int   // cores to use
	MaxMemory int64 // bytes to keep within; 0 for no limit
	Version   string

	ReportFiles []string // names of the files of a report folder

	// Prepare reads a part's settings. A *SettingError refuses the whole run
	// before it starts; another error fails the part alone.
	Prepare func(Part) (Order, error)

	// CodeOf returns the exit code of an error of Prepare or of an order.
	CodeOf func(error) int

	Reporter Reporter
}

// Order is a part made ready to be done.
type Order interface {
	// RecipeSHA256 is the digest of the recipe, and More those of the other
	// files that the result depends on.
	RecipeSHA256() string
	More() []string
	// Need returns what a part with so many facets takes.
	Need(facets int64) memory.Need
	// Do does the part with so many workers and writes its files. A document
	// comes back whenever the part was done, also with the error that findings call for.
	Do(ctx context.Context, to *Outlet, workers int) (*report.Document, error)
}

// SettingError is a setting that cannot hold.
type SettingError struct {
	Key string // as the job file names it
	Err error
}

func (e *SettingError) Error() string { return e.Key + ": " + e.Err.Error() }

// Unwrap returns the cause.
func (e *SettingError) Unwrap() error { return e.Err }

// Reporter is told how a run goes. It is called from one goroutine at a time.
type Reporter interface {
	// Start tells how many parts there are and their weight, which goes with the time they take.
	Start(parts int, weight int64)
	// Finished tells the result of a part; reused ones were done by an earlier run.
	Finished(r *Record, weight int64, reused bool)
}

// Summary is how a run ended.
type Summary struct {
	Parts, Reused int
	Records       []*Record // in the order of the list; of the share alone
	Worst         int       // exit code
}

// task is a part on its way.
type task struct {
	n      int // in the share
	part   Part
	order  Order
	err    error // of Prepare
	need   memory.Need
	rec    *Record // of an earlier run
	again  bool    // met the memory limit beside others
	alone  bool    // for which it is tried once more by itself
	out    *Outlet // of a part that was begun
	result *Record
	reused bool
	lost   error // the result could not be recorded
}

// Run does the parts of a share and, where the share is everything, writes the
// summary and the index. When ctx ends it returns its error; the parts that
// were finished are recorded.
func Run(ctx context.Context, c Config) (*Summary, error) {
	all, err := c.Jobs.Expand(c.Dir, c.Out)
	if err != nil {
		return nil, err
	}
	tasks, err := c.tasks(Share(all, c.Shard))
	if err != nil {
		return nil, err
	}
	folder, err := Open(c.Out, c.Shard, c.Mode)
	if err != nil {
		return nil, err
	}
	defer folder.Close()
	if c.Mode == Resume {
		earlier, err := folder.records()
		if err != nil {
			return nil, err
		}
		for _, t := range tasks {
			t.rec = earlier[idOf(t.part)]
		}
	}
	if c.Mode == Force { // what earlier runs said is void
		if err := folder.forget(); err != nil {
			return nil, err
		}
	}
	results, err := openAppender(folder.root, folder.resultsPath())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(c.Out, folder.resultsPath()), err)
	}
	defer results.close()
	r := &runner{Config: c, folder: folder, results: results}
	if err := r.schedule(ctx, tasks); err != nil {
		return nil, err
	}
	s := &Summary{Parts: len(tasks)}
	for _, t := range tasks {
		s.Records = append(s.Records, t.result)
		s.Worst = max(s.Worst, t.result.ExitCode)
		if t.reused {
			s.Reused++
		}
	}
	if r.lost != nil {
		s.Worst = max(s.Worst, exitOutput)
		return s, r.lost
	}
	if c.Shard.whole() {
		return s, folder.finish(ctx, s.Records)
	}
	return s, nil
}

// exitOutput and exitInput are the codes of the command for outputs and inputs at fault.
const (
	exitInput  = 3
	exitOutput = 4
)

// tasks prepares the parts. Settings that cannot hold come back as one *Error.
func (c *Config) tasks(parts []Part) ([]*task, error) {
	var problems []Problem
	tasks := make([]*task, len(parts))
	told := map[int]bool{} // entries: a pattern's parts share their settings
	for i, p := range parts {
		t := &task{n: i, part: p}
		tasks[i] = t
		t.order, t.err = c.Prepare(p)
		var se *SettingError
		if errors.As(t.err, &se) {
			if !told[p.Entry] && len(problems) < 20 {
				problems = append(problems, Problem{Line: c.Jobs.LineOf(p.Entry, se.Key), Path: se.Key, Message: se.Err.Error()})
			}
			told[p.Entry] = true
			continue
		}
		if t.err == nil {
			t.need = t.order.Need(facetsOf(p))
		}
	}
	if len(problems) > 0 {
		return nil, &Error{File: c.Jobs.Name(), Problems: problems}
	}
	return tasks, nil
}

// facetsOf estimates the size of a part; 0 when it cannot be opened, which the
// part's own turn will tell.
func facetsOf(p Part) int64 {
	if p.Bytes == 0 { // nor is a pipe opened, which would wait for its writer
		return 0
	}
	f, err := os.Open(p.Path)
	if err != nil {
		return 0
	}
	defer f.Close()
	n, err := memory.Facets(f, p.Bytes)
	if err != nil {
		return 0
	}
	return n
}

// runner does the tasks of a run.
type runner struct {
	Config
	folder  *Folder
	results *appender
	lost    error // a result could not be recorded
}

// do does one part, whatever happens on the way, but for what waits for the disk.
func (r *runner) do(ctx context.Context, t *task, workers int) {
	rec := newRecord(t.part)
	t.result, t.reused, t.out = rec, false, nil
	defer func() {
		if p := recover(); p != nil {
			r.fail(rec, fmt.Errorf("fault of the program, please report it: %v\n%s", p, debug.Stack()))
			rec.ExitCode = exitInput
		}
		rec.Outcome = outcomeOf(rec.ExitCode)
		if t.out != nil && !rec.finished() {
			t.out.drop()
			t.out = nil
		}
	}()
	if t.err != nil {
		r.fail(rec, t.err)
		return
	}
	if t.rec != nil && t.rec.finished() && r.stillHolds(t) {
		*rec, t.reused = *t.rec, true
		return
	}
	if r.MaxMemory > 0 && t.need.Bytes > r.MaxMemory && !t.alone {
		r.fail(rec, &memory.OverError{NeedBytes: t.need.Bytes, LimitBytes: r.MaxMemory})
		rec.ExitCode = exitInput
		return
	}
	if st, err := os.Stat(t.part.Path); err != nil || !st.Mode().IsRegular() {
		if err == nil {
			err = errors.New("not a regular file")
		}
		r.fail(rec, wholefile.Plain(err))
		rec.ExitCode = exitInput
		return
	}
	var err error
	if t.out, err = r.folder.outlet(t.part, r.ReportFiles); err != nil {
		if errors.Is(err, syscall.ENAMETOOLONG) {
			err = fmt.Errorf("%w; name its outputs with output: and json: in a job file", err)
		}
		r.fail(rec, err)
		rec.ExitCode = exitOutput
		return
	}
	doc, err := t.order.Do(ctx, t.out, workers)
	if over := (*memory.OverError)(nil); errors.As(context.Cause(ctx), &over) && err != nil {
		r.fail(rec, over)
		rec.ExitCode = exitInput
		return
	}
	if doc != nil {
		rec.Figures = FiguresOf(doc)
		rec.Key = Key(t.part, doc.Input.SHA256, t.order.RecipeSHA256(), r.Version, t.order.More()...)
	}
	if err != nil {
		r.fail(rec, err)
		if doc != nil && rec.ExitCode < 2 {
			rec.Error = "" // the findings say it
		}
	}
}

// settle gives the files of a part their names and then records its result, also
// when the run was interrupted meanwhile; both last before it returns. A part
// that an interrupt stopped has no result.
func (r *runner) settle(ctx context.Context, t *task) error {
	if t.out != nil {
		err := t.out.place(context.WithoutCancel(ctx))
		if err != nil {
			*t.result = *newRecord(t.part)
			r.fail(t.result, err)
			t.result.ExitCode, t.result.Outcome = exitOutput, Failed
		}
		t.result.Files, t.out = t.out.files, nil
	}
	if ctx.Err() != nil && !t.result.finished() || t.reused {
		return nil
	}
	return r.record(t)
}

// fail enters what went wrong, with the part's name in front.
func (r *runner) fail(rec *Record, err error) {
	rec.Error, rec.ExitCode = err.Error(), r.CodeOf(err)
	if name := rec.name() + ": "; !strings.HasPrefix(rec.Error, name) {
		rec.Error = name + rec.Error
	}
}

// stillHolds tells whether what an earlier run made of a part is what this run
// would make: the same content, the same settings, the files still there.
func (r *runner) stillHolds(t *task) bool {
	sum, err := fileDigest(t.part.Path)
	if err != nil {
		return false
	}
	return Key(t.part, sum, t.order.RecipeSHA256(), r.Version, t.order.More()...) == t.rec.Key && r.folder.intact(t.rec)
}

// record adds the result to the results. A result that cannot be added is no
// result: the part counts as failed and will be done again.
func (r *runner) record(t *task) error {
	line, err := jsonLine(t.result)
	if err == nil {
		err = r.results.add(line)
	}
	if err == nil {
		return nil
	}
	err = fmt.Errorf("%s: the result could not be recorded: %w", r.folder.resultsPath(), wholefile.Plain(err))
	if t.result.ExitCode < exitOutput {
		r.fail(t.result, err)
		t.result.ExitCode, t.result.Outcome = exitOutput, Failed
	}
	return err
}
