package batch

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"skinstock/cmd/skinstock/internal/memory"
	"skinstock/report"
)

// fake is an order that writes its output and does what the test asks besides.
type fake struct {
	part  Part
	bytes int64
	do    func(ctx context.Context, p Part, workers int) error
}

func (f *fake) RecipeSHA256() string   { return "recipe" }
func (f *fake) More() []string         { return nil }
func (f *fake) Need(int64) memory.Need { return memory.Need{Facets: 1, Bytes: f.bytes} }
func (f *fake) text() func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, f.part.Name); return err }
}

func (f *fake) Do(ctx context.Context, to *Outlet, workers int) (*report.Document, error) {
	if err := f.do(ctx, f.part, workers); err != nil {
		return nil, err
	}
	if err := to.Write(ctx, f.part.Output, f.text()); err != nil {
		return nil, err
	}
	return &report.Document{Input: report.Input{SHA256: "x"}}, nil
}

// told keeps what a run tells.
type told struct {
	mu    sync.Mutex
	parts []string
}

func (r *told) Start(int, int64) {}
func (r *told) Finished(rec *Record, _ int64, _ bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.parts = append(r.parts, rec.Part+":"+rec.Outcome)
}

var errFault = errors.New("fault")

// config is a run over n parts that each need so many bytes of so much memory.
func config(t *testing.T, n, workers int, bytes, limit int64, do func(ctx context.Context, p Part, workers int) error) Config {
	t.Helper()
	dir := t.TempDir()
	for i := range n {
		require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("p%02d", i)), []byte("x"), 0o666))
	}
	j, err := ParseJobs("jobs", []byte("version: 1\ndefaults: {thumbnail: false, json: ''}\nparts: ['p*']\n"))
	require.NoError(t, err)
	return Config{
		Jobs: j, Dir: dir, Out: filepath.Join(dir, "out"), Shard: Whole, Workers: workers, MaxMemory: limit, Reporter: &told{},
		CodeOf:  func(error) int { return 3 },
		Prepare: func(p Part) (Order, error) { return &fake{p, bytes, do}, nil },
	}
}

// Parts start while the disk takes those before them, but never is a result
// recorded whose file is not in place, and the disk is not left far behind.
func TestResultsFollowTheirFiles(t *testing.T) {
	const workers = 2
	var begun atomic.Int64
	var cfg Config
	cfg = config(t, 40, workers, 1, 0, func(context.Context, Part, int) error {
		n := begun.Add(1)
		results, err := os.ReadFile(filepath.Join(cfg.Out, resultsName))
		if err != nil {
			return err
		}
		recorded := map[string]*Record{}
		if err := readRecords(bytes.NewReader(results), recorded); err != nil {
			return err
		}
		for _, rec := range recorded {
			for _, f := range rec.Files {
				if st, err := os.Stat(filepath.Join(cfg.Out, f.Path)); err != nil || st.Size() != f.Bytes {
					return fmt.Errorf("%s is recorded but not there", f.Path)
				}
			}
		}
		if int(n) > len(recorded)+workers+behind*workers {
			return fmt.Errorf("%d parts begun, %d recorded", n, len(recorded))
		}
		return nil
	})
	s, err := Run(t.Context(), cfg)
	require.NoError(t, err)
	for _, rec := range s.Records {
		require.Equal(t, Done, rec.Outcome, rec.Error)
		require.Len(t, rec.Files, 1)
	}
}

// No more parts run at once than there is memory for, and the cores that this
// leaves idle go to those that run; yet all that there is room for do run.
func TestMemoryBoundsWhatRunsAtOnce(t *testing.T) {
	const limit = 1 << 40 // never met
	for _, c := range []struct{ bytes, most, cores int64 }{{limit / 2, 2, 2}, {limit / 3, 3, 1}, {limit / 100, 4, 1}, {limit, 1, 4}} {
		var running, most atomic.Int64
		full := make(chan struct{})
		cfg := config(t, 8, 4, c.bytes, limit, func(ctx context.Context, p Part, workers int) error {
			if n := running.Add(1); n > most.Load() {
				most.Store(n)
				if n == c.most {
					close(full)
				}
			}
			<-full // all wait for as many as may run at once
			running.Add(-1)
			if p.Name < "p02" && int64(workers) != c.cores {
				return fmt.Errorf("%d workers, want %d", workers, c.cores)
			}
			return nil
		})
		s, err := Run(t.Context(), cfg)
		require.NoError(t, err)
		require.Zero(t, s.Worst, "%+v", s.Records[0])
		require.Equal(t, c.most, most.Load())
	}
}

func TestOneFaultStopsNoOther(t *testing.T) {
	cfg := config(t, 5, 2, 1, 0, func(_ context.Context, p Part, _ int) error {
		switch p.Name {
		case "p01":
			return errFault
		case "p03":
			panic("index out of range")
		}
		return nil
	})
	s, err := Run(t.Context(), cfg)
	require.NoError(t, err)
	require.Equal(t, 3, s.Worst)
	for i, want := range []string{Done, Failed, Done, Failed, Done} {
		require.Equal(t, want, s.Records[i].Outcome)
	}
	require.Equal(t, "p01: fault", s.Records[1].Error)
	require.Contains(t, s.Records[3].Error, "p03: fault of the program, please report it: index out of range")
	require.FileExists(t, filepath.Join(cfg.Out, "p04-grown.stl"))
}

// A part that fills the memory beside others is stopped and done once more
// alone; one that fills it alone is refused. The others do not suffer for it.
func TestMemoryMetWhileRunning(t *testing.T) {
	base := memory.InUse()
	var tries [2]atomic.Int64
	cfg := config(t, 4, 4, 1, base+256<<20, nil)
	cfg.Prepare = func(p Part) (Order, error) {
		bytes := int64(1)
		if p.Name < "p02" {
			bytes = 1000 // the largest: these are stopped
		}
		return &fake{p, bytes, func(ctx context.Context, p Part, _ int) error {
			if p.Name >= "p02" {
				return nil
			}
			k := p.Name[2] - '0'
			if tries[k].Add(1) == 2 && k == 0 {
				return nil // alone it does with less
			}
			var hold [][]byte
			for ctx.Err() == nil && len(hold) < 32 {
				b := make([]byte, 16<<20)
				for i := 0; i < len(b); i += 4096 {
					b[i] = 1
				}
				hold = append(hold, b)
			}
			<-ctx.Done()
			return fmt.Errorf("held %d: %w", len(hold), ctx.Err())
		}}, nil
	}
	s, err := Run(t.Context(), cfg)
	require.NoError(t, err)
	require.Equal(t, Done, s.Records[2].Outcome)
	require.Equal(t, Done, s.Records[3].Outcome)
	require.Equal(t, Failed, s.Records[1].Outcome)
	require.Contains(t, s.Records[1].Error, "p01: stopped when the memory in use reached")
	require.Equal(t, 3, s.Records[1].ExitCode)
	if tries[0].Load() == 2 { // it may also have been the only one left at its first try
		require.Equal(t, Done, s.Records[0].Outcome)
	}
}

func TestPartsLargerThanMemoryAreRefused(t *testing.T) {
	cfg := config(t, 2, 2, 2000, 1<<40, func(context.Context, Part, int) error { return nil })
	cfg.MaxMemory = 1000
	s, err := Run(t.Context(), cfg)
	require.NoError(t, err)
	require.Equal(t, 3, s.Worst)
	require.Contains(t, s.Records[0].Error, "the part needs about 1.95 KiB of memory, the limit is 1000 B")
}

// When the run is interrupted, what is finished is recorded and the rest is not called a failure.
func TestInterruptedRunRecordsWhatIsFinished(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cfg := config(t, 6, 1, 1, 0, func(ctx context.Context, p Part, _ int) error {
		if p.Name == "p03" {
			cancel()
			return ctx.Err()
		}
		return nil
	})
	_, err := Run(ctx, cfg)
	require.ErrorIs(t, err, context.Canceled)
	results, err := os.ReadFile(filepath.Join(cfg.Out, resultsName))
	require.NoError(t, err)
	require.Equal(t, 3, strings.Count(string(results), `"outcome":"done"`), "%s", results)
	require.NotContains(t, string(results), "p03")
	require.NoFileExists(t, filepath.Join(cfg.Out, summaryName))
}
